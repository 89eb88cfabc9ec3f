//! A sweep of two parameters, its points together against each by itself.

use crate::{ROUNDS, median};
use beamyield::timing::Compiled;
use beamyield::{Control, Study};
use std::time::Instant;

/// Bits of the phase shifter.
const BITS: [u32; 6] = [3, 4, 5, 6, 7, 8];
/// Standard deviations of the cables' lengths, mm.
const SPREADS: [f64; 6] = [0.05, 0.1, 0.15, 0.25, 0.35, 0.5];
const TRIALS: u64 = 10_000;

/// Runs both ways in turn and prints the ratio of their times, for each calibration and for all of them.
pub fn compare() {
    let points = points();
    println!("calibration  alone, s  together, s  ratio");
    for name in [None, Some("none"), Some("peak"), Some("fit"), Some("climb")] {
        let with_plan = |study: &Study| name.map_or(Ok(study.clone()), |name| study.with_plan(name));
        let points: Result<Vec<Study>, _> = points.iter().map(with_plan).collect();
        let compiled = Compiled::new(&points.expect("a calibration of the line"));
        let control = Control { threads: 1, ..Control::default() };
        let rounds: Vec<[f64; 2]> = (0..ROUNDS)
            .map(|_| {
                let alone = seconds(|| compiled.run_alone(control).expect("the runs end well"));
                [alone, seconds(|| compiled.run_together(control).expect("the run ends well"))]
            })
            .collect();
        let [alone, together] = [0, 1].map(|way| median(rounds.iter().map(|round| round[way])));
        let ratio = median(rounds.iter().map(|[alone, together]| alone / together));
        println!("{:11}  {alone:8.2}  {together:11.2}  {ratio:5.2}", name.unwrap_or("all"));
    }
}

/// The line at every pair of values.
fn points() -> Vec<Study> {
    let line = Study::from_text("line-64.toml", LINE).and_then(|line| line.with_units(TRIALS));
    let line = line.expect("the study is right");
    let at = |bits: u32, spread: f64| {
        line.with("shifter.bits", &bits.to_string())?.with("cable.length.sd", &format!("{spread} mm"))
    };
    let all = BITS.iter().flat_map(|bits| SPREADS.map(|spread| at(*bits, spread)));
    all.collect::<Result<_, _>>().expect("the study can have all values")
}

fn seconds(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

const LINE: &str = include_str!("../../studies/line-64.toml");
