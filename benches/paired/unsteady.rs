//! Benches that drift, stretch levels or saturate against a steady one, and the studies closest to a workshop.

use crate::{ROUNDS, median, own_speed, study};
use std::path::{Path, PathBuf};

/// What is added to the receiver of the 64-element line.
const RECEIVERS: [(&str, &str); 3] = [
    ("steady", ""),
    ("linearity", "linearity = { normal = { sd = 0.002 } }"),
    (
        "all",
        "linearity = { normal = { sd = 0.002 } }, saturation = \"12 dB\", \
         drift = { walk = \"0.05 dB\", warm_up = { normal = { sd = \"0.1 dB\" } }, warm_up_time = \"10 min\" }",
    ),
];

/// Studies that calibrate as a workshop does.
const WORKSHOPS: [&str; 4] = ["gravel-belt-16", "avalanche-ridge-12", "bird-radar-ring-20", "lock-gate-20"];

/// Trials of a run.
const TRIALS: u64 = 100_000;
const FEW_TRIALS: u64 = 4_000;

/// Prints a table for each method, then the time of a unit and plan of each workshop's study.
pub fn compare() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let studies = RECEIVERS.map(|(name, words)| written(folder.path(), name, words));
    println!("method  receiver   us/trial  to steady");
    for method in ["peak", "fit", "climb"] {
        let time = |study: &PathBuf| 1e6 / own_speed(study, &[method], TRIALS, 1);
        let rounds: Vec<Vec<f64>> = (0..ROUNDS).map(|_| studies.iter().map(time).collect()).collect();
        for (number, (name, _)) in RECEIVERS.iter().enumerate() {
            let us = median(rounds.iter().map(|round| round[number]));
            let ratio = median(rounds.iter().map(|round| round[number] / round[0]));
            println!("{method:6}  {name:9}  {us:8.2}  {ratio:9.2}");
        }
    }
    println!("\nstudy               us/(unit plan)");
    for name in WORKSHOPS {
        let path = study(name);
        let text = std::fs::read_to_string(&path).expect("the study ships");
        let plans = text.matches("[[calibration]]").count() as f64;
        let time = || 1e6 / own_speed(&path, &[], FEW_TRIALS, 1) / plans;
        println!("{name:19} {:14.1}", median((0..ROUNDS).map(|_| time())));
    }
}

/// The line with more said of its receiver.
fn written(folder: &Path, name: &str, words: &str) -> PathBuf {
    let line = std::fs::read_to_string(study("line-64")).expect("the study ships");
    let end = "resolution = \"0.01 dB\" }";
    let more =
        if words.is_empty() { end.to_owned() } else { format!("resolution = \"0.01 dB\", {words} }}") };
    assert_eq!(line.matches(end).count(), 1);
    let path = folder.join(format!("{name}.toml"));
    std::fs::write(&path, line.replace(end, &more)).expect("the temporary folder takes a file");
    path
}
