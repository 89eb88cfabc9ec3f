//! The study of 64 elements against an independent program: yields, means and percentiles of four
//! calibrations. What that program computes, in words: tests/data/w64/README.md.

use crate::inside::support;
use beamyield::engine::{CalibrationSummary, PERCENTILES};
use beamyield::model::Model;
use beamyield::stats::Estimate;
use serde_json::Value;

const STUDY: &str = include_str!("../../studies/line-64.toml");
const PEER: [(&str, &str); 4] = [
    ("none", include_str!("../data/w64/none.json")),
    ("peak", include_str!("../data/w64/peak.json")),
    ("fit", include_str!("../data/w64/fit.json")),
    ("climb", include_str!("../data/w64/climb.json")),
];

/// Combined standard errors allowed: a false alarm in 16,000 comparisons.
const STANDARD_ERRORS: f64 = 4.0;

/// Standard errors from the middle to the end of a 95 % interval.
const INTERVAL: f64 = 1.96;

/// One number by both programs, each with its standard error.
struct Comparison {
    what: String,
    ours: (f64, f64),
    theirs: (f64, f64),
}

impl Comparison {
    /// Difference in combined standard errors.
    fn distance(&self) -> f64 {
        let (a, b) = (self.ours, self.theirs);
        (a.0 - b.0).abs() / (a.1 * a.1 + b.1 * b.1).sqrt()
    }
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number of the peer")
}

fn of_interval(estimate: &Estimate) -> (f64, f64) {
    (estimate.value, (estimate.high - estimate.low) / (2.0 * INTERVAL))
}

/// All results of the peer for one calibration plan beside ours.
fn comparisons(model: &Model, ours: &CalibrationSummary, peer: &Value) -> Vec<Comparison> {
    let yield_ = ours.yield_.as_ref().expect("the study has limits");
    let mut list = vec![Comparison {
        what: format!("{} yield", ours.name),
        ours: of_interval(yield_),
        theirs: (number(&peer["yield"]), number(&peer["yield_standard_error"])),
    }];
    for figure in &ours.figures {
        let column = model.columns[figure.column];
        let beam = &model.beams[model.points[column.point].beam];
        let name = format!("{}@{}", column.figure.name(), beam.theta.to_degrees().round());
        let theirs = &peer["figures"][&name];
        list.push(Comparison {
            what: format!("{} {name} mean", ours.name),
            ours: (figure.moments.mean, figure.moments.standard_error()),
            theirs: (number(&theirs["mean"]), number(&theirs["standard_error"])),
        });
        for (p, estimate) in PERCENTILES.iter().zip(&figure.percentiles) {
            let theirs = &theirs["percentiles"][p.to_string()];
            list.push(Comparison {
                what: format!("{} {name} {p} %", ours.name),
                ours: of_interval(estimate),
                theirs: (number(&theirs[0]), number(&theirs[1])),
            });
        }
    }
    list
}

/// Runs a study and compares all four calibrations.
fn against_the_peer(study: &str) -> Vec<Comparison> {
    let model = support::model(study);
    let summary = support::run(&model);
    let mut list = Vec::new();
    for (name, peer) in PEER {
        let ours = summary.calibrations.iter().find(|ours| ours.name == name).expect("the calibration");
        list.extend(comparisons(&model, ours, &serde_json::from_str(peer).expect("JSON of the peer")));
    }
    list
}

#[test]
fn every_yield_mean_and_percentile_agrees_with_the_independent_program() {
    let list = against_the_peer(STUDY);
    // 4 calibrations of a yield and 5 figures at 3 beams, each with a mean and 5 percentiles.
    assert_eq!(list.len(), 4 * (1 + 5 * 3 * 6));
    let far = |c: &&Comparison| c.distance().is_nan() || c.distance() > STANDARD_ERRORS;
    let far: Vec<String> = list
        .iter()
        .filter(far)
        .map(|c| {
            format!("{}: {:?} against {:?}, {:.1} standard errors", c.what, c.ours, c.theirs, c.distance())
        })
        .collect();
    assert!(far.is_empty(), "{}", far.join("\n"));
    // All distances together: normal ones have a root mean square of 1.
    let farthest = list.iter().map(Comparison::distance).fold(0.0, f64::max);
    let mean_square = list.iter().map(|c| c.distance().powi(2)).sum::<f64>() / list.len() as f64;
    println!("{} comparisons, farthest {farthest:.2}, mean square {mean_square:.2}", list.len());
    assert!(mean_square < 2.0, "{mean_square}");
}

#[test]
fn a_bit_error_larger_by_a_fifteenth_breaks_the_agreement() {
    let (as_written, changed) = ("normal = { sd = \"1.5 deg\" }", "normal = { sd = \"1.6 deg\" }");
    assert_eq!(STUDY.matches(as_written).count(), 1);
    let study = STUDY.replace(as_written, changed).replace("trials = 20000", "trials = 4000");
    let list = against_the_peer(&study);
    let of_fit = |c: &&Comparison| c.what.starts_with("fit residual_phase_rms") && c.what.ends_with("mean");
    let distances: Vec<f64> = list.iter().filter(of_fit).map(Comparison::distance).collect();
    assert_eq!(distances.len(), 3);
    assert!(distances.iter().all(|distance| *distance > STANDARD_ERRORS), "{distances:?}");
}
