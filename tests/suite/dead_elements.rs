//! Dead channels beside coupling, as the program reports them.

use crate::program::Folder;

#[test]
fn a_dead_channel_alone_has_no_amplitude_error() {
    // The shifter turns only the phase: what lives has the nominal amplitude, whatever couples at -100 dB.
    let study = r#"
title = "dead beside coupling"
seed = 3
trials = 4000
frequencies = ["10 GHz"]
[array]
layout = { kind = "linear", count = 16, spacing = "0.5 wavelength" }
dead_channel = { probability = 0.01, allowed = 3 }
[[beam]]
name = "ahead"
theta = "10 deg"
[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 6
[[block]]
name = "patch"
kind = "element"
phase = { normal = { sd = "2 deg" } }
coupling = { level = "-100 dB" }
[[calibration]]
name = "none"
[[limit]]
figure = "residual_amplitude_max"
at_most = "1 dB"
"#;
    let folder = Folder::with(study);
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    let document = folder.json("run.json");
    let none = &document["calibrations"][0];
    let passed = none["limits"][0]["yield"]["passed"].as_u64().expect("a count");
    assert_eq!(passed, 4000, "a limit on amplitude fails no unit");
    let amplitude = none["figures"]
        .as_array()
        .expect("figures")
        .iter()
        .find(|of| of["figure"] == "residual_amplitude_max");
    let mean = amplitude.expect("a figure")["mean"].as_f64().expect("a mean");
    assert!(mean < 2e-4, "{mean}");
}
