//! A receiver that warms up, wanders or stretches levels.

use super::{drawn, folded, over_units, sinusoid};
use crate::inside::check_values::case::{Case, line};
use crate::inside::check_values::row::{LimitResult, row};
use beamyield::engine::{Unit, rebuild};
use beamyield::math::TAU;
use beamyield::model::Model;

const CODES: usize = 64;
/// A reading with its setting, s.
const EACH: f64 = 2.0;

/// A pair phased by a fit while the receiver warms up by some dB with a time constant of some seconds.
fn warming(gain: f64, seconds: f64, method: &str) -> Model {
    let case = Case {
        array: line(2),
        bits: 6,
        bench: format!(
            "receiver = {{ drift = {{ warm_up = \"{gain} dB\", warm_up_time = \"{seconds} s\" }} }}\n\
             coupler = {{ phase_imbalance = {{ uniform = {{ half_width = \"180 deg\" }} }} }}\n\
             time = {{ set_up = \"7 min\", reconnection = \"20 s\", setting = \"1.5 s\", reading = \"0.5 s\" }}"
        ),
        calibration: format!("align = {{ method = \"{method}\" }}\noffsets = \"phases\""),
        ..Case::default()
    };
    case.model()
}

/// The fitted phase over the right phase, and the right phase.
fn found(model: &Model, unit: &Unit) -> (f64, f64) {
    let right = -drawn(model, unit, "bench.coupler.phase_imbalance", 0)[0];
    (folded(unit.calibrations[0].tables[0].phase[1] - right), right)
}

#[test]
fn warming_up_turns_a_fit_as_least_squares_of_the_drifted_sinusoid_has_it() {
    // Two cables are moved first, set-up does not count.
    let (gain, tau) = (0.8, 300.0);
    let model = warming(gain, tau, "fit");
    let angles: Vec<f64> = (0..CODES).map(|code| TAU * code as f64 / CODES as f64).collect();
    let (mut largest, mut apart) = (0.0f64, 0.0f64);
    for trial in 0..40 {
        let (error, right) = found(&model, &rebuild(&model, trial));
        let drifted = |first: f64| {
            let powers = angles.iter().enumerate().map(|(code, angle)| {
                let seconds = first + EACH * (code as f64 + 1.0);
                let db = gain * (1.0 - (-seconds / tau).exp());
                (1.0 + (angle - right).cos()) * 10f64.powf(db / 10.0)
            });
            folded(sinusoid(&angles, &powers.collect::<Vec<f64>>()).0 - right)
        };
        let expected = drifted(2.0 * 20.0);
        assert!((error - expected).abs() < 5e-6, "{trial}: {error} {expected}");
        largest = largest.max(expected.abs());
        // Negative control: a clock that begins after the cables are moved.
        apart = apart.max((expected - drifted(0.0)).abs());
    }
    assert!(largest > 0.01 && apart > 1e-3, "{largest} {apart}");
}

#[test]
fn a_slow_drift_turns_a_fit_by_its_closed_form() {
    // Powers (1 + cos(t - c)) (1 + s k) at t = k h, h = TAU/M: with the sum of k e^{j k x} = M/(e^{jx} - 1) = -M/2 (1 + j cot(x/2)) the angle
    // found is c + s [sin c - cot(h/2) cos c + (sin 2c - cot h cos 2c)/2], to first order in s. Own derivation.
    let (gain, tau) = (10.0, 1e6);
    let model = warming(gain, tau, "fit");
    let s = gain / tau * EACH * std::f64::consts::LN_10 / 10.0;
    let h = TAU / CODES as f64;
    let cot = |x: f64| 1.0 / x.tan();
    let mut seen = Vec::new();
    for trial in 0..40 {
        let (error, c) = found(&model, &rebuild(&model, trial));
        let turn =
            s * (c.sin() - cot(h / 2.0) * c.cos() + 0.5 * ((2.0 * c).sin() - cot(h) * (2.0 * c).cos()));
        // Single precision leaves 2e-6 rad, the second order (64 s)^2.
        assert!((error - turn).abs() < 3e-6, "{c}: {error} {turn}");
        seen.push(turn);
    }
    let most = seen.iter().fold(0.0f64, |most, turn| most.max(turn.abs()));
    assert!(most > 5e-5 && seen.iter().any(|turn| *turn > 0.0), "{most}");
}

/// A line levelled by steps so fine that what is left is the reading's error; target 3 dB below nominal.
fn levelled(receiver: &str) -> Model {
    let case = Case {
        array: line(8),
        gain: "{ nominal = \"0 dB\", uniform = { half_width = \"2 dB\" } }".into(),
        blocks: "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 10\nstep = \"0.01 dB\"\n".into(),
        bench: format!(
            "receiver = {{ {receiver} }}\ntime = {{ reconnection = \"45 s\", setting = \"10 s\", reading = \"5 s\" }}"
        ),
        calibration: "level = { toward = \"target\", target = \"-3 dB\" }".into(),
        ..Case::default()
    };
    case.model()
}

/// Level of a channel over the target after levelling, dB, to half a step.
fn left(model: &Model, unit: &Unit, channel: usize) -> f64 {
    let gain = drawn(model, unit, "amplifier.gain", 0)[channel];
    gain - 0.01 * f64::from(unit.calibrations[0].tables[0].attenuator[channel]) + 3.0
}

#[test]
fn a_walk_grows_with_the_root_of_time() {
    // Channel n is read a minute after the one before it: the level that is left is minus the walk, of standard deviation walk sqrt(t/h).
    // The step adds 0.01/sqrt(12) dB. Increments are independent, so the walk at two times has the covariance of the earlier.
    let model = levelled("drift = { walk = \"1.5 dB\" }");
    let of = |channel: usize, minutes: f64| {
        let squares = over_units(&model, 4000, |unit| left(&model, unit, channel).powi(2));
        let variance = 1.5f64.powi(2) * minutes / 60.0 + 1e-4 / 12.0;
        (LimitResult::root(&squares), row("walk, dB", &format!("{:.6}", variance.sqrt())).within(0.0))
    };
    let (first, first_row) = of(0, 1.0);
    let (last, last_row) = of(7, 8.0);
    first_row.is_met_by(first);
    last_row.is_met_by(last);
    first_row.is_missed_by(last);
    // As if all cables were moved before the first reading: 6.25 min.
    row("walk, dB", &format!("{:.6}", 1.5 * (6.25f64 / 60.0).sqrt())).within(0.0).is_missed_by(first);
    let products = over_units(&model, 4000, |unit| left(&model, unit, 2) * left(&model, unit, 6));
    row("covariance, dB^2", &format!("{:.6}", 1.5f64.powi(2) * 3.0 / 60.0))
        .within(0.0)
        .is_met_by(LimitResult::mean(&products));
    row("covariance, dB^2", "0").within(0.0).is_missed_by(LimitResult::mean(&products));
}

#[test]
fn stretched_levels_leave_minus_e_times_the_gain() {
    // What reads (1 + e) g is brought to T by attenuating (1 + e) g - T: T - e g is left, so channels differ by -e times what they did.
    for (linearity, e) in [("0.05", 0.05), ("-0.1", -0.1)] {
        let model = levelled(&format!("linearity = {linearity}"));
        for trial in 0..50 {
            let unit = rebuild(&model, trial);
            let gain = drawn(&model, &unit, "amplifier.gain", 0);
            for channel in 0..8 {
                let off = left(&model, &unit, channel) + e * gain[channel];
                assert!(off.abs() < 0.005 + 1e-4, "{off}");
            }
        }
    }
    // Negative control: an error as drawn, and one of none.
    let model = levelled("linearity = { nominal = 0.02, uniform = { half_width = 0.02 } }");
    let mut most = 0.0f64;
    for trial in 0..50 {
        let unit = rebuild(&model, trial);
        let e = 0.02 + drawn(&model, &unit, "bench.receiver.linearity", 0)[0];
        let gain = drawn(&model, &unit, "amplifier.gain", 0)[3];
        assert!((left(&model, &unit, 3) + e * gain).abs() < 0.005 + 1e-4);
        most = most.max(left(&model, &unit, 3).abs());
    }
    assert!(most > 0.02, "{most}");
}
