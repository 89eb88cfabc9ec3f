//! Where a trial's time goes: the whole trial and each of its steps on the 64-element line, sixteen trials at once.
//!
//! `cargo bench --bench stages`. Times are of one trial, and medians.

use beamyield::Study;
use beamyield::timing::{Compiled, LANES, STEPS, StepTimes};
use std::path::Path;
use std::time::Duration;

/// Medians are over so many rounds, after one to warm up.
const ROUNDS: usize = 31;

/// Batches of a round: about a tenth of a second.
const BATCHES: u64 = 1024;

fn main() {
    println!("line-64: a trial, medians of {ROUNDS} rounds\n");
    for method in ["none", "peak", "fit", "climb"] {
        let rounds = rounds(&compiled(method));
        show(&format!("all steps, {method}"), rounds.iter().map(|times| times.iter().sum()));
        if method == "peak" {
            for (step, name) in STEPS.iter().enumerate() {
                show(&format!("{name}, {method}"), rounds.iter().map(|times| times[step]));
            }
        }
    }
}

fn compiled(calibration: &str) -> Compiled {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/line-64.toml");
    let study = Study::from_file(path).expect("the study ships");
    Compiled::new(&[study.with_plan(calibration).expect("a plan of the study")])
}

/// Time of each step, round by round.
fn rounds(compiled: &Compiled) -> Vec<StepTimes> {
    (0..=ROUNDS).map(|_| compiled.step_times(BATCHES).expect("a study")).skip(1).collect()
}

fn show(name: &str, times: impl Iterator<Item = Duration>) {
    let mut times: Vec<Duration> = times.collect();
    times.sort();
    let trial = times[times.len() / 2].as_secs_f64() / (BATCHES * LANES as u64) as f64;
    println!("{name:40} {:9.3} us {:12.0} trials/s", 1e6 * trial, 1.0 / trial);
}
