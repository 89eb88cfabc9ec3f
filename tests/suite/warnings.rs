//! Notes of a run on limits.

use crate::program::{Folder, edited};

/// A study of which nothing is warned.
const SOUND: &str = r#"
title = "Weighbridge link: 8 elements at 10 GHz"
seed = 7
trials = 300
frequencies = ["10 GHz"]

[array]
layout = { kind = "linear", count = 8, spacing = "0.5 wavelength" }
taper = { kind = "uniform" }

[[beam]]
name = "ahead"
theta = "0 deg"

[[block]]
name = "driver"
kind = "amplifier"
gain = { nominal = "20 dB", normal = { sd = "0.4 dB" } }
phase = { uniform = { half_width = "20 deg" } }

[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 5
bit_phase_error = { normal = { sd = "1 deg" } }

[[block]]
name = "attenuator"
kind = "attenuator"
bits = 5
step = "0.5 dB"

[[block]]
name = "jumper"
kind = "cable"
length = { nominal = "60 mm", normal = { sd = "0.2 mm" } }
velocity_factor = 0.7
attenuation = "2 dB/m"

[bench]
reference_plane = { after = "attenuator" }
receiver = { noise = "0.03 dB", averages = 4, resolution = "0.01 dB", noise_floor = "-55 dB" }
reconnection = { phase = { normal = { sd = "0.5 deg" } } }

[[calibration]]
name = "none"

[[calibration]]
name = "fit"
level = { toward = "weakest" }
align = { method = "fit", codes = 16 }
offsets = "phases"

[[limit]]
figure = "peak_side_lobe"
at_most = "-10 dB"
"#;

/// The forgotten sign is noted by the run as well, once what units have is known; a limit that decides is not.
#[test]
fn a_run_notes_limits_that_every_unit_keeps_by_far() {
    let run = |study: &str| {
        let folder = Folder::with(study);
        let text = folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
        let words: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
        (words, folder.json("run.json"))
    };
    let said = "Every unit keeps \"peak side lobe at most 12 dB\"";
    let (text, json) = run(&edited(SOUND, &[("at_most = \"-10 dB\"", "at_most = \"12 dB\"")]));
    assert!(text.contains(said), "{text}");
    assert!(json["notes"][0].as_str().is_some_and(|note| note.starts_with(said)), "{json}");
    assert_eq!(json["warnings"], 1);
    let (text, json) = run(SOUND);
    assert!(json.get("notes").is_none() && !text.contains("Every unit"), "{text}");
}
