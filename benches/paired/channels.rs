//! Time per trial and channel of one thread on squares of more and more channels.

use crate::{ROUNDS, median, own_speed};
use std::path::{Path, PathBuf};
use toml::Table;

/// Channels a side.
const SIDES: [u64; 4] = [8, 16, 32, 64];

/// The method, and the total number of channels built, so that each run lasts about a second.
struct Figures {
    title: &'static str,
    names: &'static [&'static str],
    channel_trials: u64,
}

const FIGURES: [Figures; 2] = [
    Figures {
        title: "channel figures",
        names: &["residual_phase_rms", "array_gain_loss"],
        channel_trials: 8_388_608,
    },
    Figures {
        title: "pattern figures too",
        names: &["residual_phase_rms", "array_gain_loss", "pointing_error", "peak_side_lobe"],
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
            1e9 / own_speed(&studies[study], &["peak"], trials, 1) / channels as f64
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

/// The 64-element line as a square, with its beams, blocks, bench and calibrations but other figures and no limits.
fn written(folder: &Path, figures: &Figures, side: u64) -> PathBuf {
    let mut study: Table = LINE.parse().expect("the study ships");
    let square = format!(
        "kind = \"rectangular\"\ncolumns = {side}\nrows = {side}\ncolumn_spacing = {SPACING}\nrow_spacing = {SPACING}"
    );
    let layout: Table = square.parse().expect("a layout");
    study["array"]["layout"] = layout.into();
    study["figures"] = figures.names.to_vec().into();
    study.remove("limit");
    let path = folder.join(format!("{side}.toml"));
    std::fs::write(&path, study.to_string()).expect("the temporary folder takes a file");
    path
}

const LINE: &str = include_str!("../../studies/line-64.toml");
const SPACING: &str = "\"0.5 wavelength\"";
