//! Codes that read alike: a display with too few digits, a null below its range, a peak above it.

use super::{drawn, folded, over_units, sinusoid};
use crate::inside::check_values::case::{Case, line};
use crate::inside::check_values::row::{LimitResult, row};
use beamyield::engine::rebuild;
use beamyield::math::TAU;

const BITS: u32 = 6;
const CODES: f64 = 64.0;
const UNITS: u64 = 3000;

/// Two channels whose right code is uniform over whole codes about `middle` (in turns), a quarter of the codes wide; a warm bench
/// lifts all levels by `lift` dB.
fn pair(method: &str, receiver: &str, middle: f64, lift: f64) -> Case {
    Case {
        array: line(2),
        bits: BITS,
        amplifier: format!("gain_temperature = \"{} dB/K\"", lift / 10.0),
        bench: format!(
            "temperature = \"35 degC\"\nreceiver = {{ {receiver} }}\ncoupler = {{ phase_imbalance = {{ nominal = \"{} deg\", uniform = {{ half_width = \"45 deg\" }} }} }}",
            -360.0 * middle
        ),
        calibration: format!("align = {{ method = \"{method}\" }}\noffsets = \"phases\""),
        ..Case::default()
    }
}

/// The error of a method over the right phase, in codes: mean and root mean square. The unknown part of the
/// coupler is in the spread of the right phase.
fn bias(case: &Case) -> (LimitResult, f64) {
    let model = case.model();
    let error = |unit: &beamyield::engine::Unit| {
        let unknown = drawn(&model, unit, "bench.coupler.phase_imbalance", 0)[0];
        folded(unit.calibrations[0].tables[0].phase[1] + unknown) * CODES / TAU
    };
    let moments = over_units(&model, UNITS, error);
    (LimitResult::mean(&moments), (moments.mean.powi(2) + moments.sd().powi(2)).sqrt())
}

/// A display of 0.1 dB, and a lift that puts the top of 3.0103 dB just below where the next digit would begin, so that seven codes read alike
/// (A4.6) where the peak stands on one.
const COARSE: &str = "resolution = \"0.1 dB\"";
const LIFT: f64 = 0.0392;

/// Half the width, in codes, of what reads within 0.0995 dB of the peak: 2 acos(10^(-q/20)) over a step. Own derivation.
fn half_width() -> f64 {
    let q = 10.0 * 2f64.log10() + LIFT - 2.95;
    2.0 * 10f64.powf(-q / 20.0).acos() * CODES / TAU
}

#[test]
fn a_peak_is_the_first_of_codes_that_read_alike() {
    // The first code above c - w is half a code above it on average: with n = 2 w codes alike on average that is -(n - 1)/2.
    let expected = 0.5 - half_width();
    assert!((2.0 * half_width() - 6.156).abs() < 1e-3, "{}", half_width());
    let bound = row("peak, codes", &format!("{expected:.4}")).within(1e-3);
    for middle in [0.25, 0.5, 0.75] {
        bound.is_met_by(bias(&pair("peak", COARSE, middle, LIFT)).0);
    }
    // A lower top leaves five codes or six; a fine display none.
    bound.is_missed_by(bias(&pair("peak", COARSE, 0.5, 0.0)).0);
    row("peak, fine", "0").within(1e-3).is_met_by(bias(&pair("peak", "", 0.5, LIFT)).0);
}

#[test]
fn a_climb_walks_over_codes_that_read_alike() {
    // Uphill from code 0 it ends at the last of them, from below as from above.
    let expected = half_width() - 0.5;
    let up = bias(&pair("climb", COARSE, 0.25, LIFT)).0;
    row("climb up, codes", &format!("{expected:.4}")).within(1e-3).is_met_by(up);
    let down = bias(&pair("climb", COARSE, 0.75, LIFT)).0;
    row("climb down, codes", &format!("{:.4}", -expected)).within(1e-3).is_met_by(down);
    row("climb up, codes", &format!("{expected:.4}")).is_missed_by(down);
}

#[test]
fn coarse_then_fine_keeps_the_coarse_code_that_reads_as_high_as_any() {
    // Coarse codes stand 8 apart. One within w of the peak is kept, above as often as below. Else, for a share r/8 with r = 8 - 2 w,
    // the first of the alike codes is taken; where c - w is x above a coarse code, x uniform over 0 to r, it is ceil(x) - x above c - w.
    let w = half_width();
    let r = 8.0 - 2.0 * w;
    assert!(1.0 < r && r < 2.0);
    let above = 0.5 + (2.0 * (r - 1.0) - (r * r - 1.0) / 2.0);
    let expected = (above - r * w) / 8.0;
    let found = bias(&pair("coarse_fine", COARSE, 0.5, LIFT)).0;
    row("coarse and fine, codes", &format!("{expected:.4}")).within(1e-3).is_met_by(found);
    row("coarse and fine, codes", &format!("{:.4}", 0.5 - w)).is_missed_by(found);
    row("coarse and fine, codes", "0").within(1e-3).is_missed_by(found);
}

#[test]
fn a_null_below_the_floor_is_the_first_code_of_it() {
    // Arms alike: the power e from the null is 2 sin^2(e/2) of a channel's, so a floor of F dB hides 2 asin(sqrt(10^(F/10)/2)) on
    // either side. Own derivation. The right code is about 0 here, the null about half a turn.
    for floor in [-12.0, -20.0] {
        let hides = |floor: f64| 2.0 * (10f64.powf(floor / 10.0) / 2.0).sqrt().asin() * CODES / TAU;
        let receiver = format!("floor = \"{floor} dB\"");
        let (found, _) = bias(&pair("null", &receiver, 0.0, 0.0));
        let expected = row("null, codes", &format!("{:.4}", 0.5 - hides(floor))).within(1e-3);
        expected.is_met_by(found);
        expected.is_missed_by(bias(&pair("null", &format!("floor = \"{} dB\"", floor + 2.0), 0.0, 0.0)).0);
        expected.is_missed_by(bias(&pair("null", "", 0.0, 0.0)).0);

        // Crossings are 10 dB below the peak, above the floor. A straight line in dB between two codes h apart is off by at most
        // h^2 |L''|/8, that is h/8 /sin e in steps of phase; the middle by half the difference of two such. e is 37 deg, less one step at most.
        let h = TAU / CODES;
        let e = 2.0 * 10f64.powf(-0.5).asin() - h;
        let most = h / (16.0 * e.sin());
        let (mean, rms) = bias(&pair("null_crossings", &receiver, 0.0, 0.0));
        assert!(rms < most && most < 0.013, "{rms} {most}");
        row("crossings, codes", "0").within(1e-3).is_met_by(mean);
    }
}

#[test]
fn saturation_flattens_a_peak_and_leaves_a_fit_what_sampling_makes_of_a_clipped_sinusoid() {
    let receiver = "saturation = \"2.5 dB\"";
    // Clipped are the codes with 20 log10(cos(d/2)) above 2.5 - 3.0103 dB.
    let w = 2.0 * 10f64.powf((2.5 - 10.0 * 2f64.log10()) / 20.0).acos() * CODES / TAU;
    let expected = row("saturated peak, codes", &format!("{:.4}", 0.5 - w)).within(1e-3);
    expected.is_met_by(bias(&pair("peak", receiver, 0.5, 0.0)).0);
    expected.is_missed_by(bias(&pair("peak", "saturation = \"4 dB\"", 0.5, 0.0)).0);
    // A clipped sinusoid is still even about its peak: a fit over 64 codes is blind to it but for harmonics of order 63 and more.
    let (mean, rms) = bias(&pair("fit", receiver, 0.5, 0.0));
    row("saturated fit, codes", "0").within(1e-3).is_met_by(mean);
    assert!(rms < 0.01, "{rms}");
    // Of four readings over a turn harmonics of order 3 fold onto the first: each unit as a least-squares fit of the clipped powers has it.
    let case = Case {
        calibration: "align = { method = \"fit\", codes = 4 }\noffsets = \"phases\"".into(),
        ..pair("fit", "saturation = \"1 dB\"", 0.5, 0.0)
    };
    let model = case.model();
    let mut largest: f64 = 0.0;
    for trial in 0..50 {
        let unit = rebuild(&model, trial);
        let unknown = drawn(&model, &unit, "bench.coupler.phase_imbalance", 0)[0];
        let arm = -TAU / 2.0 + unknown;
        let angles: Vec<f64> = (0..4).map(|i| TAU * f64::from(i) / 4.0).collect();
        let clip = 10f64.powf(0.1);
        let powers: Vec<f64> = angles.iter().map(|angle| (1.0 + (angle + arm).cos()).min(clip)).collect();
        let error = folded(sinusoid(&angles, &powers).0 + arm);
        let found = folded(unit.calibrations[0].tables[0].phase[1] + unknown);
        assert!((found - error).abs() < 1e-5, "{found} {error}");
        largest = largest.max(error.abs());
    }
    assert!(largest > 0.05, "clipping four readings counts: {largest} rad");
}
