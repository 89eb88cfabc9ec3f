//! A8: that a run's own yields, percentiles and stopping use the intervals they should. The functions
//! themselves have their tests beside them; here the counts are from runs.
//!
//! All on one pair of channels with insertion phases of sd 2 deg: half of their difference, which is the
//! residual phase, is normal with sd sqrt(2) deg, and its rms over the pair is its size.

use super::case::each_unit;
use super::row::{LimitResult, row};
use crate::inside::support;
use beamyield::engine::Summary;
use beamyield::model::Model;
use beamyield::stats::Estimate;
use statrs::distribution::{ContinuousCDF, Normal};

/// A study of the pair; `limit` in degrees.
fn model(seed: u64, trials: &str, confidence: f64, limit: f64) -> Model {
    support::model(&format!(
        r#"
title = "pair"
seed = {seed}
trials = {trials}
confidence = {confidence}
frequencies = ["28 GHz"]
figures = ["residual_phase_rms"]
[array]
layout = {{ kind = "linear", count = 2, spacing = "0.5 wavelength" }}
[[beam]]
name = "broadside"
theta = "0 deg"
[[block]]
name = "amplifier"
kind = "amplifier"
gain = "0 dB"
phase = {{ nominal = "0 deg", normal = {{ sd = "2 deg" }} }}
[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 6
[[calibration]]
name = "none"
[[limit]]
figure = "residual_phase_rms"
at_most = "{limit:.15} deg"
"#
    ))
}

/// The limit that a share of all units meets.
fn limit_for(share: f64) -> f64 {
    let half_difference = Normal::new(0.0, 2.0f64.sqrt()).expect("a distribution");
    half_difference.inverse_cdf(0.5 + 0.5 * share)
}

fn yield_of(summary: &Summary) -> &Estimate {
    summary.calibrations[0].yield_.as_ref().expect("the study has a limit")
}

/// The figure of every unit, ascending.
fn ascending(seed: u64, trials: u64) -> Vec<f64> {
    let mut values = Vec::new();
    each_unit(&model(seed, &trials.to_string(), 0.95, 1.0), |unit| values.push(unit[0]));
    values.sort_by(f64::total_cmp);
    values
}

/// Yield of a run of `trials` of which `passed` pass: the limit is between the last that does and the next.
fn yield_with(passed: usize, trials: u64) -> Estimate {
    let values = ascending(1, trials);
    let limit = 0.5 * (values[passed - 1] + values[passed]);
    yield_of(&support::run(&model(1, &trials.to_string(), 0.95, limit))).clone()
}

#[test]
fn a8_1_and_2_exact_interval_of_a_yield() {
    // A8.1: Clopper-Pearson, 95 %. Newcombe 1998, table I (memory). A8.2: the same for yields (derived). The
    // negative control has a unit more.
    for (id, passed, trials, low, high) in [
        ("A8.1 81/263", 81, 263, "0.2527", "0.3676"),
        ("A8.1 15/148", 15, 148, "0.0578", "0.1617"),
        ("A8.2 950/1000", 950, 1000, "0.934610", "0.962665"),
        ("A8.2 900/1000", 900, 1000, "0.879712", "0.917895"),
        ("A8.2 198/200", 198, 200, "0.964345", "0.998787"),
    ] {
        let found = yield_with(passed, trials);
        assert_eq!((found.value, found.count), (passed as f64 / trials as f64, trials));
        row(id, low).is_met_by(LimitResult::exactly(found.low));
        row(id, high).is_met_by(LimitResult::exactly(found.high));
        let other = yield_with(passed + 1, trials);
        row(id, low).is_missed_by(LimitResult::exactly(other.low));
        row(id, high).is_missed_by(LimitResult::exactly(other.high));
    }
}

#[test]
fn a8_3_no_failures() {
    // A8.3: one-sided 95 % upper limit of the share that fails, 1 - 0.05^{1/n}. Hanley & Lippman-Hand 1983
    // (memory). A tail of 5 % is that of a two-sided interval of 90 %.
    for (trials, id, printed) in
        [(30, "A8.3 n=30", "0.095034"), (100, "A8.3 n=100", "0.029513"), (1000, "A8.3 n=1000", "0.0029912")]
    {
        let failing = |confidence| {
            let found = support::run(&model(1, &trials.to_string(), confidence, 90.0));
            let found = yield_of(&found);
            assert_eq!((found.value, found.high), (1.0, 1.0));
            LimitResult::exactly(1.0 - found.low)
        };
        row(id, printed).is_met_by(failing(0.90));
        row(id, printed).is_missed_by(failing(0.95));
    }
}

/// Interval of a percentile in a run.
fn percentile(seed: u64, trials: u64, place: usize) -> (f64, f64) {
    let summary = support::run(&model(seed, &trials.to_string(), 0.95, 1.0));
    let found = &summary.calibrations[0].figures[0].percentiles[place];
    (found.low, found.high)
}

#[test]
fn a8_8_order_statistics_of_a_percentile() {
    // A8.8: ranks, from 1, of the order statistics that bound a quantile at 95 %. David & Nagaraja, Order
    // Statistics (derived). Percentiles are reported in the order 1, 5, 50, 95, 99.
    for (trials, place, low, high) in [(100, 2, 40, 61), (1000, 3, 936, 964), (1000, 1, 37, 65)] {
        let values = ascending(1, trials);
        assert_eq!(percentile(1, trials, place), (values[low - 1], values[high - 1]));
        assert!(values[low - 2] < values[low - 1] && values[low - 1] < values[low], "the rank shows");
    }
}

/// Share of repetitions, each with its own seed, in which something holds.
fn share(repetitions: u64, holds: impl Fn(u64) -> bool) -> LimitResult {
    let share = (1..=repetitions).filter(|seed| holds(*seed)).count() as f64 / repetitions as f64;
    LimitResult { value: share, standard_error: (share * (1.0 - share) / repetitions as f64).sqrt() }
}

#[test]
fn a8_8_intervals_of_the_median_hold_it_as_often_as_they_should() {
    // A8.8: the interval of the median from 100 values holds it with probability 0.964800 (derived).
    let covering = |median: f64| {
        share(1000, |seed| {
            let (low, high) = percentile(seed, 100, 2);
            low <= median && median <= high
        })
    };
    row("A8.8 n=100, confidence", "0.964800").is_met_by(covering(limit_for(0.5)));
    row("A8.8 n=100, confidence", "0.964800").is_missed_by(covering(limit_for(0.55)));
}

#[test]
fn yield_intervals_hold_the_yield_as_often_as_they_say() {
    let truth = 0.95;
    let covering = |confidence| {
        share(1000, |seed| {
            let summary = support::run(&model(seed, "200", confidence, limit_for(truth)));
            let found = yield_of(&summary);
            found.low <= truth && truth <= found.high
        })
    };
    // An exact interval holds at least what it says; four standard errors.
    let (right, short) = (covering(0.95), covering(0.8));
    assert!(right.value >= 0.95 - 4.0 * (0.95f64 * 0.05 / 1000.0).sqrt(), "{right:?}");
    assert!(short.value < 0.95 - 4.0 * (0.95f64 * 0.05 / 1000.0).sqrt(), "{short:?}");
}

#[test]
fn a8_11_trials_until_the_yield_is_tight() {
    // A8.11: z^2 p (1 - p)/w^2 trials for a 95 % interval of half width w (derived). A run has an interim analysis every 1024
    // trials, so it stops at the first multiple from there on, sooner or later by the luck of its yield: the
    // middle one of 21 runs counts. One analysis before, the interval is still wider.
    for (share, half_width, trials) in [(0.90, 0.02, 865u64), (0.90, 0.01, 3458), (0.99, 0.005, 1522)] {
        let until = format!("{{ yield_half_width = {half_width}, at_most = 100000 }}");
        let stop = |seed| {
            let run = |trials: &str| support::run(&model(seed, trials, 0.95, limit_for(share)));
            let half = |summary: &Summary| 0.5 * (yield_of(summary).high - yield_of(summary).low);
            let summary = run(&until);
            assert!(half(&summary) <= half_width);
            if summary.trials > 1024 {
                assert!(half(&run(&(summary.trials - 1024).to_string())) > half_width);
            }
            summary.trials
        };
        let mut stops: Vec<u64> = (1..=21).map(stop).collect();
        stops.sort_unstable();
        assert_eq!(stops[10], trials.div_ceil(1024) * 1024, "{stops:?}");
    }
}
