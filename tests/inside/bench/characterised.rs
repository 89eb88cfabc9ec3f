//! Measured steps in place of nominal ones, against the same measurement made apart from the program.

use super::{drawn, folded, residual_rms, sinusoid};
use crate::inside::check_values::case::{Case, line, normal};
use beamyield::engine::{Unit, rebuild};
use beamyield::figure::Figure;
use beamyield::math::TAU;
use beamyield::model::Model;

const CHANNELS: usize = 6;
const BITS: usize = 5;
const STATES: usize = 1 << BITS;

fn model(characterise: &str) -> Model {
    let case = Case {
        array: line(CHANNELS),
        bits: BITS as u32,
        figures: &[Figure::ResidualPhaseRms],
        amplifier: "phase = { uniform = { half_width = \"180 deg\" } }".into(),
        blocks: format!("bit_phase_error = {}\n", normal(9.0, "deg")),
        calibration: format!("{characterise}\nalign = {{ method = \"fit\" }}\noffsets = \"phases\""),
        ..Case::default()
    };
    case.model()
}

/// Phase of every state of every channel over its code 0, rad, and the channels' insertion phases.
fn truth(model: &Model, unit: &Unit) -> (Vec<Vec<f64>>, Vec<f64>) {
    let bits: Vec<Vec<f64>> =
        (0..BITS).map(|bit| drawn(model, unit, "shifter.bit_phase_error", bit)).collect();
    let state = |channel: usize, code: usize| {
        let errors: f64 = (0..BITS).filter(|bit| code >> bit & 1 == 1).map(|bit| bits[bit][channel]).sum();
        TAU * code as f64 / STATES as f64 + errors
    };
    let states = (0..CHANNELS).map(|channel| (0..STATES).map(|code| state(channel, code)).collect());
    (states.collect(), drawn(model, unit, "amplifier.phase", 0))
}

/// Powers of two alike arms as one turns.
fn powers(angles: impl Iterator<Item = f64>) -> Vec<f64> {
    angles.map(|angle| 1.0 + angle.cos()).collect()
}

/// The measured states of a channel over its code 0, by `codes` of a reference that is assumed to turn by whole steps.
fn measured(states: &[f64], insertion: f64, reference: &[f64], of_reference: f64, codes: usize) -> Vec<f64> {
    let turned: Vec<usize> = (0..codes).map(|i| i * STATES / codes).collect();
    let believed: Vec<f64> = turned.iter().map(|code| TAU * *code as f64 / STATES as f64).collect();
    let angle = |state: &f64| {
        let apart = |code: &usize| state + insertion - reference[*code] - of_reference;
        sinusoid(&believed, &powers(turned.iter().map(apart))).0
    };
    let angles: Vec<f64> = states.iter().map(angle).collect();
    angles.iter().map(|angle| folded(angle - angles[0])).collect()
}

fn nearest(states: &[f64], wanted: f64) -> usize {
    let miss = |code: &usize| folded(states[*code] - wanted).abs();
    (0..STATES).min_by(|a, b| miss(a).total_cmp(&miss(b))).expect("states")
}

#[test]
fn measured_shifters_bring_phases_to_the_rounding_of_their_own_grid() {
    for codes in [4, 8, 32] {
        let model = model(&format!("characterise = {{ shifter = true, codes = {codes} }}"));
        let plain = self::model("");
        let (mut bench, mut best, mut nominal) = (0.0, 0.0, 0.0);
        let mut other_codes = 0;
        for trial in 0..60 {
            let unit = rebuild(&model, trial);
            let (states, phases) = truth(&model, &unit);
            let mut set = Vec::new();
            let mut ideal = Vec::new();
            for channel in 0..CHANNELS {
                let against = if channel == 0 { 1 } else { 0 };
                let known =
                    measured(&states[channel], phases[channel], &states[against], phases[against], codes);
                // The reference is at code 0 while the channel steps through all its codes.
                let apart = |state: &f64| state + phases[channel] - phases[0];
                let found = if channel == 0 {
                    0.0
                } else {
                    sinusoid(&known, &powers(states[channel].iter().map(apart))).0
                };
                assert!(
                    folded(unit.calibrations[0].tables[0].phase[channel] - found).abs() < 1e-5,
                    "{trial}, {channel}"
                );
                let code = nearest(&known, found);
                // Two states equally near the wanted phase may change places by a millionth.
                other_codes += usize::from(code as u32 != unit.calibrations[0].shifter[0][channel]);
                set.push(
                    states[channel][unit.calibrations[0].shifter[0][channel] as usize] + phases[channel],
                );
                let wanted = phases[0] - phases[channel];
                ideal.push(states[channel][nearest(&states[channel], wanted)] + phases[channel]);
            }
            let of_bench = residual_rms(&set);
            assert!((of_bench.to_degrees() - unit.calibrations[0].values[0]).abs() < 1e-3);
            bench += of_bench.powi(2);
            best += residual_rms(&ideal).powi(2);
            nominal += rebuild(&plain, trial).calibrations[0].values[0].to_radians().powi(2);
        }
        let degrees = |sum: f64| (sum / 60.0f64).sqrt().to_degrees();
        println!(
            "{codes} codes: {:.3} deg, nearest states {:.3}, unmeasured {:.3}",
            degrees(bench),
            degrees(best),
            degrees(nominal)
        );
        assert!(other_codes <= 1, "{other_codes}");
        // By all codes of the reference its own errors drop out but for their part at twice the angle.
        assert!(degrees(bench) < 0.6 * degrees(nominal));
        assert!(degrees(bench) >= degrees(best));
    }
}

#[test]
fn the_reference_s_quarter_turn_bit_stays_in_what_is_measured() {
    // By 4 codes the sum of e^{j(2t + error)} over the reference's steps t is -2j q to first order, q the error of its quarter-turn bit: a state at the
    // angle x measures -q/2 cos 2x off (own derivation). Negative control: with other bits off instead, it measures none.
    let x: Vec<f64> = (0..STATES).map(|code| TAU * code as f64 / STATES as f64).collect();
    let with = |quarter: f64, half: f64| {
        let of = |code: usize| {
            x[code] + if code & 8 != 0 { quarter } else { 0.0 } + if code & 16 != 0 { half } else { 0.0 }
        };
        (0..STATES).map(of).collect::<Vec<f64>>()
    };
    let q = 1e-3;
    let off = |reference: &[f64]| {
        let found = measured(&x, 0.3, reference, 0.0, 4);
        found.iter().zip(&x).map(|(found, x)| folded(found - x)).collect::<Vec<f64>>()
    };
    for (code, off) in off(&with(q, 0.0)).iter().enumerate() {
        let expected = -0.5 * q * ((2.0 * (x[code] + 0.3)).cos() - 0.6f64.cos());
        assert!((off - expected).abs() < 2e-6, "{code}: {off} {expected}");
    }
    assert!(off(&with(0.0, q)).iter().all(|off| off.abs() < 2e-6));
}
