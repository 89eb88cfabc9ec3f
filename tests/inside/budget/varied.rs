//! Causes switched off, and taken from the second sample.

use super::{cause, first_column};
use crate::inside::check_values::case::mean;
use crate::inside::folder::{SMALL, edited};
use crate::inside::support;
use beamyield::engine::{self, Control, Outcomes, rebuild};
use beamyield::model::Model;
use beamyield::model::vary::{Cause, Wish, causes, from_second_sample, join, without};
use beamyield::study::Trials;
use std::sync::atomic::AtomicBool;

/// Values of all columns and verdicts of the units of a model, as bits, for every calibration plan.
fn bits(model: &Model, trials: u64) -> Vec<u64> {
    let model = Model { trials: Trials::Fixed(trials), ..model.clone() };
    let control = Control { threads: 2, interrupt: &AtomicBool::new(false) };
    let mut bits = Vec::new();
    let watch = |outcomes: &Outcomes| {
        for of in &outcomes.calibrations {
            bits.push(of.passed());
            (0..model.columns.len())
                .for_each(|column| bits.extend(of.values(column).iter().map(|x| x.to_bits())));
        }
        Ok(())
    };
    engine::run(&model, control, watch).expect("the run ends well");
    bits
}

/// A cause switched off leaves the units of the study without its distribution, bit for bit.
#[test]
fn without_a_cause_the_units_are_those_of_a_study_without_its_distribution() {
    const UNITS: u64 = 192;
    let model = support::model(SMALL);
    let all = causes(&model);
    let with = bits(&model, UNITS);
    for (name, edits) in [
        (
            "jumper.length",
            vec![("{ nominal = \"60 mm\", triangular = { half_width = \"0.2 mm\" } }", "\"60 mm\"")],
        ),
        (
            "driver.gain",
            vec![(
                "{ nominal = \"18 dB\", truncated_normal = { sd = \"0.7 dB\", at = \"1.5 dB\" }, scope = \"chip\" }",
                "\"18 dB\"",
            )],
        ),
        ("shifter.bit_phase_error", vec![("bit_phase_error = { normal = { sd = \"1 deg\" } }\n", "")]),
        (
            "attenuator.bit_gain_error",
            vec![("bit_gain_error = { uniform = { half_width = \"0.1 dB\" } }\n", "")],
        ),
        ("bench.coupler.phase_imbalance", vec![(", normal = { sd = \"1 deg\" }", "")]),
        (
            "bench.reconnection.phase",
            vec![("reconnection = { phase = { normal = { sd = \"0.5 deg\" } } }\n", "")],
        ),
        ("bench.receiver.noise", vec![("noise = \"0.03 dB\", ", "")]),
        ("bench.receiver.resolution", vec![("resolution = \"0.01 dB\", ", "")]),
        ("bench.receiver.floor", vec![(", floor = \"-50 dB\"", "")]),
    ] {
        let off = bits(&without(&model, cause(&all, name)), UNITS);
        assert_eq!(off, bits(&support::model(&edited(SMALL, &edits)), UNITS), "{name}");
        // No reading is at the floor.
        assert_eq!(off == with, name == "bench.receiver.floor", "{name}");
    }
}

#[test]
fn drift_and_linearity_can_be_switched_off() {
    let drifting = "noise = \"0.03 dB\", linearity = { nominal = 0.02, normal = { sd = 0.01 } }, saturation = \"2 dB\", \
                    drift = { walk = \"0.5 dB\", warm_up = { nominal = \"0.3 dB\", normal = { sd = \"0.1 dB\" } }, warm_up_time = \"20 min\" }";
    let study = edited(SMALL, &[("noise = \"0.03 dB\"", drifting)]);
    let model = support::model(&study);
    let all = causes(&model);
    let with = bits(&model, 64);
    for name in ["linearity", "walk", "warm_up", "saturation"] {
        let cause = cause(&all, &format!("bench.receiver.{name}"));
        assert_eq!(cause.is_drawn(), name != "saturation", "{name}");
        assert!(bits(&without(&model, cause), 64) != with, "{name}");
        assert_eq!(bits(&from_second_sample(&model, [cause]), 64) != with, name != "saturation", "{name}");
    }
    // All four at once, and nothing of the receiver's instability is left.
    let items = vec!["bench.receiver".to_owned()];
    let joined = join(all, &[Wish { name: "receiver".into(), items }]).expect("it is there");
    let off = without(&model, cause(&joined, "receiver"));
    let receiver = "receiver = { noise = \"0.03 dB\", resolution = \"0.01 dB\", floor = \"-50 dB\" }\n";
    assert_eq!(bits(&off, 64), bits(&support::model(&edited(SMALL, &[(receiver, "")])), 64));
}

fn correlation(x: &[f64], y: &[f64]) -> f64 {
    let centred = |x: &[f64]| {
        let mean = mean(x.iter().copied());
        x.iter().map(|x| x - mean).collect::<Vec<f64>>()
    };
    let (x, y) = (centred(x), centred(y));
    let product = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
    product(&x, &y) / (product(&x, &x) * product(&y, &y)).sqrt()
}

#[test]
fn everything_from_the_second_sample_is_an_independent_run() {
    const UNITS: u64 = 4096;
    let model = Model { trials: Trials::Fixed(UNITS), ..support::model(SMALL) };
    let all = causes(&model);
    let (first, second) = (first_column(&model), first_column(&from_second_sample(&model, &all)));
    // Four standard errors of a correlation of independent values, 1/sqrt(n) each.
    let bound = 4.0 / (UNITS as f64).sqrt();
    assert!(correlation(&first, &second).abs() < bound, "{}", correlation(&first, &second));
    // The distribution is the same: means within four standard errors.
    let spread = |x: &[f64]| {
        let of = mean(x.iter().copied());
        (of, mean(x.iter().map(|x| (x - of) * (x - of))) / UNITS as f64)
    };
    let ((one, error), (other, _)) = (spread(&first), spread(&second));
    assert!((one - other).abs() < 4.0 * (2.0 * error).sqrt(), "{one} {other}");
    // A cause that is left out is seen.
    let but_one: Vec<&Cause> = all.iter().filter(|cause| cause.name != "feed.length").collect();
    let leaky = first_column(&from_second_sample(&model, but_one));
    assert!(correlation(&first, &leaky) > bound, "{}", correlation(&first, &leaky));
}

#[test]
fn only_the_cause_of_the_second_sample_is_drawn_anew() {
    let model = support::model(SMALL);
    let all = causes(&model);
    let mixed = from_second_sample(&model, [cause(&all, "driver.gain")]);
    let (one, other) = (rebuild(&model, 7), rebuild(&mixed, 7));
    for (number, source) in model.sources.list().iter().enumerate() {
        let is_same = one.deviations[number] == other.deviations[number];
        assert_eq!(is_same, source.name != "driver.gain", "{}", source.name);
    }
    // Both samples are of the study's seed, and of no other's first sample.
    let next = Model { seed: model.seed, ..support::model(&edited(SMALL, &[("seed = 3", "seed = 4")])) };
    assert_ne!(rebuild(&next, 7).deviations[1], other.deviations[1]);
}

#[test]
fn correlated_parameters_are_one_cause_and_two_distributions_are_two() {
    let correlated = "length = { nominal = \"60 mm\", normal = { sd = \"0.2 mm\" }, scope = \"channel\" }\n\
                      attenuation = { nominal = \"2.6 dB/m\", normal = { sd = \"0.2 dB/m\" } }\n\
                      correlation = [{ between = [\"attenuation\", \"length\"], coefficient = 0.6 }]";
    let two_laws = "length = { nominal = \"30 mm\", normal = { sd = \"0.2 mm\" }, and = { normal = { sd = \"0.1 mm\" }, scope = \"unit\" } }";
    let study = edited(
        SMALL,
        &[
            ("length = { nominal = \"60 mm\", triangular = { half_width = \"0.2 mm\" } }", correlated),
            ("length = { nominal = \"30 mm\", normal = { sd = \"0.2 mm\" } }", two_laws),
        ],
    );
    let model = support::model(&study);
    let all = causes(&model);
    let names: Vec<&str> = all.iter().map(|of| of.name.as_str()).collect();
    assert!(names.contains(&"feed.length") && names.contains(&"feed.length, unit"), "{names:?}");
    let set = cause(&all, "jumper.attenuation with jumper.length");
    let (one, off) = (rebuild(&model, 0), rebuild(&without(&model, set), 0));
    let anew = rebuild(&from_second_sample(&model, [set]), 0);
    for (number, source) in model.sources.list().iter().enumerate() {
        let is_of_set = source.name.starts_with("jumper.");
        let is_silent = off.deviations[number].iter().flatten().all(|x| *x == 0.0);
        assert_eq!(is_silent, is_of_set, "{}", source.name);
        assert_eq!(anew.deviations[number] != one.deviations[number], is_of_set, "{}", source.name);
    }
    // Asked for by its parameter, a tolerance is both its distributions.
    let wish = |name: &str, item: &str| Wish { name: name.into(), items: vec![item.into()] };
    let joined = join(all.clone(), &[wish("feeds", "feed.length")]).expect("it is there");
    assert_eq!(cause(&joined, "feeds").holds, ["feed.length", "feed.length, unit"]);
    let refused = join(all, &[wish("a", "jumper.length"), wish("b", "jumper.attenuation")]).unwrap_err();
    assert!(
        refused.message.contains("two groups") && refused.help.contains("varies together"),
        "{refused:?}"
    );
}
