//! Time per trial and channel of one thread on squares of more and more channels.

use crate::{ROUNDS, median, own_speed};
use std::path::{Path, PathBuf};

/// Channels a side.
const SIDES: [u64; 4] = [8, 16, 32, 64];

/// What is measured, and how many channels are built in all, so that each run lasts about a second.
struct Figures {
    title: &'static str,
    names: &'static str,
    channel_trials: u64,
}

const FIGURES: [Figures; 2] = [
    Figures {
        title: "channel figures",
        names: r#""residual_phase_rms", "array_gain_loss""#,
        channel_trials: 8_388_608,
    },
    Figures {
        title: "pattern figures too",
        names: r#""residual_phase_rms", "array_gain_loss", "pointing_error", "peak_side_lobe""#,
        channel_trials: 1_048_576,
    },
];

/// Runs all sizes in turn and prints a table for each set of figures.
pub fn curve() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for figures in &FIGURES {
        let studies = SIDES.map(|side| written(folder.path(), figures, side));
        let nanoseconds = |study: usize| {
            let channels = SIDES[study] * SIDES[study];
            let trials = figures.channel_trials / channels;
            1e9 / own_speed(&studies[study], "peak", trials, 1) / channels as f64
        };
        let rounds: Vec<Vec<f64>> =
            (0..ROUNDS).map(|_| (0..SIDES.len()).map(nanoseconds).collect()).collect();
        println!("{}, peak, 1 thread\nchannels  ns/(trial channel)  to 64 channels", figures.title);
        for (number, side) in SIDES.iter().enumerate() {
            let time = median(rounds.iter().map(|round| round[number]));
            let ratio = median(rounds.iter().map(|round| round[number] / round[0]));
            println!("{:8}  {time:18.1}  {ratio:14.2}", side * side);
        }
        println!();
    }
}

/// The blocks, beams and bench of the 64-element line on a square.
fn written(folder: &Path, figures: &Figures, side: u64) -> PathBuf {
    let path = folder.join(format!("{side}.toml"));
    let Figures { names, .. } = figures;
    let text = format!(
        r#"
title = "Square of {side} x {side}"
seed = 1
trials = 1000
frequencies = ["28 GHz"]
figures = [{names}]
bench = {{ receiver = {{ noise = "0.02 dB", resolution = "0.01 dB" }} }}
beam = [
    {{ name = "0 deg", theta = "0 deg" }},
    {{ name = "20 deg", theta = "20 deg" }},
    {{ name = "45 deg", theta = "45 deg" }},
]

[array.layout]
kind = "rectangular"
columns = {side}
rows = {side}
column_spacing = "0.5 wavelength"
row_spacing = "0.5 wavelength"

[[block]]
name = "cable"
kind = "cable"
length = {{ nominal = "150 mm", normal = {{ sd = "0.25 mm" }} }}
velocity_factor = 0.70

[[block]]
name = "trace"
kind = "trace"
length = {{ nominal = "20 mm", uniform = {{ half_width = "0.1 mm" }} }}
effective_permittivity = 2.9

[[block]]
name = "amplifier"
kind = "amplifier"
gain = {{ nominal = "20 dB", normal = {{ sd = "0.6 dB" }} }}

[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 6
bit_phase_error = {{ normal = {{ sd = "1.5 deg" }} }}
bit_gain_error = {{ normal = {{ sd = "0.1 dB" }} }}

[[block]]
name = "attenuator"
kind = "attenuator"
bits = 6
step = "0.5 dB"
bit_gain_error = {{ normal = {{ sd = "0.05 dB" }} }}
bit_phase_error = {{ normal = {{ sd = "0.5 deg" }} }}

[[calibration]]
name = "peak"
level = {{ toward = "weakest" }}
align = {{ method = "peak", pairing = "star", reference = 0 }}
offsets = "codes"
"#
    );
    std::fs::write(&path, text).expect("the temporary folder takes a file");
    path
}
