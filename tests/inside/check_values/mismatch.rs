//! A6: two reflections of a connector, anywhere on the turn of their round trip.

use super::case::{Case, each_unit, line};
use super::row::{LimitResult, linear, row};
use beamyield::engine::rebuild;
use beamyield::figure::Figure;
use beamyield::math::scalar;
use beamyield::stats::Moments;
use num_complex::Complex64;

const TRIALS: u64 = 20_000;

/// Two channels with a connector each; `rest` says how its phase is drawn, if not by default.
fn connector(vswr: [f64; 2], rest: &str, figure: &'static [Figure]) -> Case {
    let blocks = format!(
        "[[block]]\nname = \"joint\"\nkind = \"connector\"\nvswr_in = {}\nvswr_out = {}\n{rest}\n",
        vswr[0], vswr[1]
    );
    Case { trials: TRIALS, array: line(2), figures: figure, blocks, ..Case::default() }
}

/// A phase that all channels share, so that the level shows the ripple itself.
const SHARED: &str =
    "phase = { nominal = \"0 deg\", uniform = { half_width = \"180 deg\" }, scope = \"unit\" }";

/// Levels of all units, dB.
fn levels(vswr: [f64; 2]) -> Vec<f64> {
    let mut all = Vec::new();
    each_unit(&connector(vswr, SHARED, &[Figure::EirpChange]).model(), |values| all.push(values[0]));
    all
}

fn moments(numbers: impl Iterator<Item = f64>) -> Moments {
    let mut moments = Moments::default();
    numbers.for_each(|number| moments.push(number));
    moments
}

#[test]
fn a6_1_mismatch_loss() {
    // -10 log10(1 - G^2), dB: any handbook (memory). Before a total reflection a wave goes back and forth in a line of any
    // length, and the mean power, 1/(1 - G^2), is what the mismatch loss takes of a matched source (own derivation).
    for (id, vswr, printed) in [
        ("A6.1 1.2", 1.2, "0.03604"),
        ("A6.1 1.5", 1.5, "0.1773"),
        ("A6.1 2", 2.0, "0.5115"),
        ("A6.1 3", 3.0, "1.249"),
    ] {
        let mean = |vswr| LimitResult::level(&moments(levels([vswr, 1e6]).iter().map(|db| linear(*db))));
        row(id, printed).is_met_by(mean(vswr));
        row(id, printed).is_missed_by(mean(1.4 * vswr));
    }
}

/// Phase between the two channels, halved, of all units, deg.
fn phases(vswr: [f64; 2]) -> Vec<f64> {
    let mut all = Vec::new();
    each_unit(&connector(vswr, "", &[Figure::ResidualPhaseRms]).model(), |values| all.push(values[0]));
    all
}

#[test]
fn a6_2_two_reflections_a_random_distance_apart() {
    // Largest gain, largest loss, largest phase, rms gain (dB), rms phase (deg) of 1/(1 - G1 G2 e^(-2 j b l)): derived; the
    // U-shaped distribution EA-4/02 and a vendor's note on power measurement (memory). The rows' brute tolerances.
    for (vswr, id, gain, loss, phase, rms_gain, rms_phase, brute) in [
        ([1.2, 1.5], "A6.2/1.2,1.5", "0.1594", "0.1565", "1.042", "0.1117", "0.7366", 0.0015),
        ([1.5, 2.0], "A6.2/1.5,2.0", "0.5993", "0.5606", "3.823", "0.4095", "2.701", 0.0054),
        ([1.1, 1.1], "A6.2/1.1,1.1", "0.01972", "0.01967", "0.1299", "0.01393", "0.09187", 0.001),
    ] {
        let check = |vswr, is_right: bool| {
            let (levels, phases) = (levels(vswr), phases(vswr));
            let largest = |of: &[f64], sign: f64| of.iter().fold(0.0, |most: f64, x| most.max(sign * x));
            // Two channels share half of the square with their mean.
            let rms = |of: &[f64]| LimitResult::root(&moments(of.iter().map(|x| x * x)));
            let found = [
                (gain, LimitResult::exactly(largest(&levels, 1.0))),
                (loss, LimitResult::exactly(largest(&levels, -1.0))),
                (phase, LimitResult::exactly(largest(&phases, 1.0))),
                (rms_gain, rms(&levels)),
                (rms_phase, rms(&phases).times(std::f64::consts::SQRT_2)),
            ];
            for (printed, found) in found {
                let row = row(id, printed).within_at_least(brute);
                if is_right { row.is_met_by(found) } else { row.is_missed_by(found) }
            }
        };
        check(vswr, true);
        check(vswr.map(|vswr| 1.0 + 1.15 * (vswr - 1.0)), false);
    }
}

#[test]
fn a_length_between_them_moves_the_ripple_with_frequency() {
    // Against 1/(1 - p e^(j t)) with t = drawn - 4 pi (f - f0) L/(c VF), in complex numbers. Own derivation.
    let rest = format!("{SHARED}\nlength = \"40 mm\"\nvelocity_factor = 0.7");
    let case = connector([2.0, 1.8], &rest, &[Figure::EirpChange]);
    let model = Case { frequencies: "\"27 GHz\", \"28 GHz\"".into(), ..case }.model();
    let p = (1.0 / 3.0) * (0.8 / 2.8);
    for trial in 0..8 {
        let unit = rebuild(&model, trial);
        let drawn = unit.deviations[0][0][0];
        let level = |away: f64| {
            let turn = drawn - 4.0 * beamyield::math::PI * away * 0.04 / (0.7 * 299_792_458.0);
            -20.0 * scalar::log10((1.0 - p * Complex64::from_polar(1.0, turn)).norm())
        };
        let values = &unit.calibrations[0].values;
        assert!((values[0] - level(-1e9)).abs() < 1e-5, "{values:?}");
        assert!((values[1] - level(0.0)).abs() < 1e-5, "{values:?}");
        assert!((values[0] - level(1e9)).abs() > 1e-3, "the sign shows");
    }
}
