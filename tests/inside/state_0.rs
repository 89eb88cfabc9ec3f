//! Channels that are read alone before anything is set: the readings include shifter and attenuator at state 0.

use crate::inside::check_values::case::{Case, normal};
use crate::inside::check_values::row::{LimitResult, row};
use crate::inside::support;
use beamyield::bench::Of;
use beamyield::engine::{Unit, rebuild};
use beamyield::figure::Figure;
use beamyield::math::PI;
use beamyield::model::Model;
use num_complex::Complex64;

/// 16 channels levelled toward the weakest by steps of 0.25 dB, the states of shifter and attenuator with gain errors of these
/// standard deviations, dB. The beam is at broadside, so the shifters stay at state 0.
fn case(shifter: f64, attenuator: f64, states: &str) -> Case {
    let errors = |sd: f64| match sd > 0.0 {
        true => format!("{states}_gain_error = {}\n", normal(sd, "dB")),
        false => String::new(),
    };
    Case {
        seed: 5,
        trials: 40_000,
        figures: &[Figure::ResidualAmplitudeRms],
        gain: normal(1.0, "dB"),
        bits: 5,
        blocks: format!(
            "{}\n[[block]]\nname = \"attenuator\"\nkind = \"attenuator\"\nbits = 6\nstep = \"0.25 dB\"\n{}",
            errors(shifter),
            errors(attenuator)
        ),
        calibration: "level = { toward = \"weakest\" }".into(),
        ..Case::default()
    }
}

fn residual(shifter: f64, attenuator: f64) -> LimitResult {
    let model = case(shifter, attenuator, "state").model();
    LimitResult::mean(&support::moments(&model, &support::run(&model), "it", Figure::ResidualAmplitudeRms, 0))
}

#[test]
fn what_levelling_leaves_is_that_of_an_independent_program() {
    // tests/data/first_principles/levelled_states.py, NumPy, 400,000 units, dB; four of its standard errors. The attenuator is read at
    // state 0 and left at another, whose error nobody read.
    for (shifter, attenuator, seen, unseen, error) in [
        (0.5, 0.0, "0.067113", "0.480622", 0.000140),
        (0.0, 0.3, "0.391360", "0.293318", 0.000119),
        (0.5, 0.3, "0.392120", "0.559094", 0.000163),
    ] {
        let found = residual(shifter, attenuator);
        row("state 0 read", seen).within(4.0 * error).is_met_by(found);
        // Negative control: readings that do not show state 0.
        row("state 0 not read", unseen).within(4.0 * error).is_missed_by(found);
    }
}

/// The draw of a source for a state and a channel, dB.
fn drawn(model: &Model, unit: &Unit, source: &str, state: usize, channel: usize) -> f64 {
    let number = model.sources.list().iter().position(|of| of.name == source).expect("a source");
    unit.deviations[number][state][channel]
}

#[test]
fn every_reading_is_of_the_states_that_are_set() {
    // Alone at state 0, alone once the attenuators are set, and in pairs whose stepped channel goes through all its states: from
    // the draws alone, so that a state that counted twice, or not at all, is seen. Powers of a pair: |a + b|^2/2, an ideal combiner.
    let mut case = case(0.5, 0.3, "state");
    case.blocks = case
        .blocks
        .replace("\n\n[[block]]", &format!("\nstate_phase_error = {}\n[[block]]", normal(4.0, "deg")));
    case.calibration =
        "level = { toward = \"weakest\" }\nrelevel = true\nalign = { method = \"fit\" }".into();
    let model = case.model();
    for trial in 0..3 {
        let unit = rebuild(&model, trial);
        let drawn = |source: &str, state: usize, channel| drawn(&model, &unit, source, state, channel);
        let alone = |channel| drawn("amplifier.gain", 0, channel);
        let read = &unit.calibrations[0].readings;
        let (first, rest) = read.split_at(16);
        let (pairs, last) = rest.split_at(rest.len() - 16);
        let mut codes = [0; 16];
        for reading in pairs {
            let Of::Pair { pair, turned: 0 } = reading.of else { panic!("a pair") };
            codes[pair.stepped] = codes[pair.stepped].max(reading.code);
        }
        assert!(codes[1..].iter().all(|code| *code == 31), "each channel is stepped through all its states");

        // What the levelling set, by the program's own rule from the readings that it took.
        let weakest = first.iter().map(|of| of.level_db).fold(f32::INFINITY, f32::min);
        let set: Vec<usize> =
            first.iter().map(|of| ((of.level_db - weakest) / 0.25).round() as usize).collect();
        assert!(set.iter().filter(|code| **code > 0).count() > 8);
        let levelled = |channel: usize| {
            alone(channel) - 0.25 * set[channel] as f64
                + drawn("attenuator.state_gain_error", set[channel], channel)
        };
        let shifter = |channel, state| {
            let gain = levelled(channel) + drawn("shifter.state_gain_error", state, channel);
            let turn = drawn("shifter.state_phase_error", state, channel) + PI / 16.0 * state as f64;
            Complex64::from_polar(10f64.powf(gain / 20.0), turn)
        };
        for (channel, reading) in first.iter().enumerate() {
            assert_eq!(reading.of, Of::Alone { channel });
            let [of_shifter, of_attenuator] =
                ["shifter.state_gain_error", "attenuator.state_gain_error"].map(|of| drawn(of, 0, channel));
            let expected = alone(channel) + of_shifter + of_attenuator;
            assert!(
                (f64::from(reading.level_db) - expected).abs() < 1e-4,
                "{trial} {channel}: {reading:?} {expected}"
            );
            assert!(of_shifter.abs() > 1e-3 && of_attenuator.abs() > 1e-3);
        }
        for reading in pairs {
            let Of::Pair { pair, .. } = reading.of else { panic!("a pair") };
            let sum = shifter(pair.reference, 0) + shifter(pair.stepped, reading.code as usize);
            let expected = sum.norm_sqr() / 2.0;
            let found = 10f64.powf(f64::from(reading.level_db) / 10.0);
            assert!((found - expected).abs() < 1e-4, "{trial}: {reading:?} {expected}");
        }
        // The beam at broadside is commanded to 0, so that the shifters are at the measured codes.
        for (channel, reading) in last.iter().enumerate() {
            let state = unit.calibrations[0].shifter[0][channel] as usize;
            let expected = 20.0 * shifter(channel, state).norm().log10();
            assert!(
                (f64::from(reading.level_db) - expected).abs() < 1e-4,
                "{trial} {channel}: {reading:?} {expected}"
            );
        }
    }
}

#[test]
fn states_without_errors_of_their_own_read_as_before() {
    // An error for each bit is none at state 0, where no bit is on.
    let model = case(0.5, 0.3, "bit").model();
    let unit = rebuild(&model, 0);
    for (channel, reading) in unit.calibrations[0].readings.iter().enumerate() {
        let expected = drawn(&model, &unit, "amplifier.gain", 0, channel);
        assert!((f64::from(reading.level_db) - expected).abs() < 1e-4, "{channel}");
    }
}
