//! Where a trial's time goes: the whole trial and each of its steps on the 64-element line, sixteen trials at once.
//!
//! `cargo bench --bench stages`. Times are of one trial, and medians.

use beamyield::engine::{LANES, STEPS, step_times};
use beamyield::io::read_text;
use beamyield::model::{self, Model};
use beamyield::study;
use std::path::Path;
use std::time::Duration;

/// Medians are over so many rounds, after one to warm up.
const ROUNDS: usize = 31;

/// Batches of a round: about a tenth of a second.
const BATCHES: u64 = 1024;

fn main() {
    println!("line-64: a trial, medians of {ROUNDS} rounds\n");
    for method in ["none", "peak", "fit", "climb"] {
        let rounds = rounds(&model_of(method));
        show(&format!("all steps, {method}"), rounds.iter().map(|times| times.iter().sum()));
        if method == "peak" {
            for (step, name) in STEPS.iter().enumerate() {
                show(&format!("{name}, {method}"), rounds.iter().map(|times| times[step]));
            }
        }
    }
}

fn model_of(calibration: &str) -> Model {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/line-64.toml");
    let source = read_text(&path).expect("the study ships");
    let mut study = study::parse(&source).expect("the study is right");
    study.calibrations.retain(|of| of.name == calibration);
    model::compile(&study, &source.text)
}

/// Time of each step, round by round.
fn rounds(model: &Model) -> Vec<[Duration; STEPS.len()]> {
    (0..=ROUNDS).map(|_| step_times(model, BATCHES)).skip(1).collect()
}

fn show(name: &str, times: impl Iterator<Item = Duration>) {
    let mut times: Vec<Duration> = times.collect();
    times.sort();
    let trial = times[times.len() / 2].as_secs_f64() / (BATCHES * LANES as u64) as f64;
    println!("{name:40} {:9.3} us {:12.0} trials/s", 1e6 * trial, 1.0 / trial);
}
