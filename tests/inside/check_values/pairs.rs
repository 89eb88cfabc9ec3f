//! A4: two signals combined, fits of a sinusoid, pairings, levelling.
//!
//! Readings are those of a noiseless bench on two ideal channels; the certified imbalance of the coupler
//! makes one arm differ by a stated gain and phase.

use super::case::{Case, line, normal};
use super::row::{LimitResult, Row, row};
use beamyield::engine::rebuild;
use beamyield::figure::Figure;
use beamyield::math::{TAU, scalar};

/// Levels, dB, of a pair at all codes, the stepped arm off by a gain (dB) and a phase (deg).
fn sweep(bits: u32, gain_db: f64, phase_deg: f64) -> Vec<f64> {
    let coupler = format!("{{ gain_imbalance = \"{gain_db} dB\", phase_imbalance = \"{phase_deg} deg\" }}");
    let case = Case {
        array: line(2),
        bits,
        bench: format!("coupler = {coupler}"),
        calibration: "align = { method = \"peak\" }".into(),
        ..Case::default()
    };
    let readings = rebuild(&case.model(), 0).calibrations.remove(0).readings;
    assert_eq!(readings.len(), 1 << bits);
    readings.iter().map(|reading| f64::from(reading.level_db)).collect()
}

/// Level half a turn from the peak over the peak, dB.
fn null_under_peak(gain_db: f64, phase_deg: f64) -> LimitResult {
    // The peak of arms in phase: with a phase error no code stands on it.
    let peak = sweep(6, gain_db, 0.0)[0];
    LimitResult::exactly(sweep(6, gain_db, phase_deg)[32] - peak)
}

#[test]
fn a4_1_residue_of_a_small_mismatch() {
    // A4.1, dB: Richards, Fundamentals of Radar Signal Processing, section 3 (published): 44.7, by a
    // small-error form; exactly 44.80.
    row("A4.1", "-44.7").within(0.15).is_met_by(null_under_peak(0.1, 0.0));
    row("A4.1", "-44.7").within(0.15).is_missed_by(null_under_peak(0.11, 0.0));
}

#[test]
fn a4_2_depth_of_a_null() {
    // A4.2, dB under the peak: [(1 - r)^2 + 4 r sin^2(e/2)]/(1 + r)^2 (derived).
    for (gain_db, phase_deg, printed) in [
        (0.0, 1.0, "-41.18"),
        (0.1, 1.0, "-39.61"),
        (0.5, 2.0, "-29.46"),
        (0.5, 5.0, "-25.64"),
        (1.0, 10.0, "-19.63"),
        (2.0, 5.0, "-18.23"),
    ] {
        // The depth shows neither which arm is stronger nor the sign of the phase.
        row("A4.2", printed).is_met_by(null_under_peak(gain_db, phase_deg));
        row("A4.2", printed).is_met_by(null_under_peak(-gain_db, -phase_deg));
        row("A4.2", printed).is_missed_by(null_under_peak(gain_db + 0.1, phase_deg));
        row("A4.2", printed).is_missed_by(null_under_peak(gain_db, 1.1 * phase_deg));
    }
}

#[test]
fn a4_3_and_4_a_flat_peak_and_a_sharp_null() {
    // A4.3, drop one code from the peak: -20 log10 cos(LSB/2); A4.4, level one code from the null over the
    // peak: 20 log10 sin(LSB/2), dB (derived).
    for (bits, drop, null) in [
        (4, "0.1685", "-14.20"),
        (5, "0.04193", "-20.17"),
        (6, "0.01047", "-26.18"),
        (7, "0.002616", "-32.20"),
        (8, "0.0006541", "-38.22"),
    ] {
        let levels = sweep(bits, 0.0, 0.0);
        let half = levels.len() / 2;
        for code in [1, levels.len() - 1] {
            // Readings are right to a millionth of a dB, more than the last digit of the small drops.
            row("A4.3", drop).within_at_least(2e-6).is_met_by(LimitResult::exactly(levels[0] - levels[code]));
        }
        for code in [half - 1, half + 1] {
            row("A4.4", null).is_met_by(LimitResult::exactly(levels[code] - levels[0]));
        }
        row("A4.3", drop).is_missed_by(LimitResult::exactly(levels[0] - levels[2]));
        row("A4.4", null).is_missed_by(LimitResult::exactly(levels[half + 2] - levels[0]));
    }
}

/// Holds that the level, as a rise over its least, is `q` dB at the row's angle: less at the angle a digit
/// lower, more a digit higher.
fn reaches(expected: &Row, q: f64, rise: impl Fn(f64) -> f64) -> bool {
    let (angle, digit) = (expected.value(), expected.tolerance());
    rise(angle - digit) < q && q < rise(angle + digit)
}

#[test]
fn a4_5_and_7_widths_of_peak_and_null() {
    // A4.5, half width that reads within q of the peak, equal arms: 2 acos(10^{-q/20}); A4.7, within q of the
    // null, 0.5 dB of mismatch: |1 - r|/sqrt(r) sqrt(10^{q/10} - 1), deg (derived).
    let top = sweep(4, 0.0, 0.0)[0];
    let drop = |phase: f64| top - sweep(4, 0.0, phase)[0];
    let bottom = |gain: f64| sweep(4, gain, 0.0)[8];
    let rise = |gain: f64, phase: f64| sweep(4, gain, phase)[8] - bottom(gain);
    for (q, peak, null) in [(0.01, "5.498", "0.1584"), (0.05, "12.28", "0.3550"), (0.1, "17.36", "0.5034")] {
        let (peak, null) = (row("A4.5", peak), row("A4.7", null));
        assert!(reaches(&peak, q, drop), "{q}");
        assert!(!reaches(&peak, 1.01 * q, drop), "{q}");
        assert!(reaches(&null, q, |phase| rise(0.5, phase)), "{q}");
        assert!(!reaches(&null, q, |phase| rise(0.51, phase)), "{q}");
    }
}

#[test]
fn a4_6_codes_that_read_alike() {
    // A4.6, codes within q of the peak, for 4 to 8 bits (derived).
    let counts = |q: f64, mismatch: f64| {
        [4, 5, 6, 7, 8].map(|bits| {
            let levels = sweep(bits, mismatch, 0.0);
            levels.iter().filter(|level| **level >= levels[0] - q).count()
        })
    };
    assert_eq!(counts(0.01, 0.0), [1, 1, 1, 3, 7]);
    assert_eq!(counts(0.05, 0.0), [1, 3, 5, 9, 17]);
    assert_eq!(counts(0.1, 0.0), [1, 3, 7, 13, 25]);
    // The weaker one arm, the flatter the peak.
    assert_ne!(counts(0.05, -6.0), [1, 3, 5, 9, 17]);
}

#[test]
fn a4_8_slope_midway_between_peak_and_null() {
    // A4.8, dB per deg at 90 deg: 10/ln(10) per rad (derived).
    let slope = |phase: f64| {
        let level = |phase: f64| sweep(4, 0.0, phase)[4];
        LimitResult::exactly((level(phase - 0.05) - level(phase + 0.05)) / 0.1)
    };
    row("A4.8", "0.07580").is_met_by(slope(0.0));
    row("A4.8", "0.07580").is_missed_by(slope(1.0));
}

/// Rms error, deg, of the phase that a fit over `codes` codes finds for one pair of any phase.
///
/// Of two channels the common phase takes half of the error, which leaves half of it in each. Rounding to 12
/// bits adds 0.025 deg rms, less than 0.3 % of the smallest row.
fn fit_error(codes: u32, bench: String) -> LimitResult {
    let case = Case {
        array: line(2),
        trials: 40_000,
        amplifier: "phase = { nominal = \"0 deg\", uniform = { half_width = \"180 deg\" } }".into(),
        figures: &[Figure::ResidualPhaseRms],
        bench,
        calibration: format!("align = {{ method = \"fit\", codes = {codes} }}\noffsets = \"phases\""),
        ..Case::default()
    };
    LimitResult::root(&case.mean_square()).times(2.0)
}

#[test]
fn a4_9_fit_with_additive_noise() {
    // A4.9, rms deg: s sqrt(2/M)/A for noise s on a sinusoid of amplitude A = 1. Rife & Boorstyn 1974, Kay
    // 1993, IEEE Std 1057 (memory). A stepped arm of relative amplitude r gives the power (1 + r^2)/2 + r
    // cos, so A = r. Thermal noise of power F gives the power read a variance of 2 P F + F^2, over the codes
    // (1 + r^2) F + F^2 in the mean; its part that goes with the cosine does not reach the phase. A weak arm
    // keeps it small beside the power, as the row has it.
    const R_DB: f64 = -20.0;
    let bench = |s: f64| {
        let r = scalar::exp10(R_DB / 20.0);
        let (variance, half) = ((s * r) * (s * r), 0.5 * (1.0 + r * r));
        let floor = 10.0 * scalar::log10((half * half + variance).sqrt() - half);
        format!(
            "coupler = {{ gain_imbalance = \"{R_DB} dB\" }}\nreceiver = {{ noise_floor = \"{floor:.12} dB\" }}"
        )
    };
    for (codes, s, id, printed) in [
        (4, 0.02, "A4.9 M=4", "0.8103"),
        (8, 0.02, "A4.9 M=8", "0.5730"),
        (16, 0.05, "A4.9 M=16", "1.013"),
        (64, 0.1, "A4.9 M=64", "1.013"),
    ] {
        let expected = row(id, printed).within_share(0.003);
        expected.is_met_by(fit_error(codes, bench(s)));
        expected.is_missed_by(fit_error(codes, bench(1.05 * s)));
        expected.is_missed_by(fit_error(2 * codes, bench(s)));
    }
}

#[test]
fn a4_10_fit_with_noise_in_db() {
    // A4.10, rms deg: s_lin sqrt(2.5/M), s_lin = s ln(10)/10, equal arms, M >= 5 (derived). The additive
    // form, sqrt(2/M), must miss.
    for (codes, noise, id, printed) in
        [(8, 0.1, "A4.10 M=8", "0.7375"), (16, 0.1, "A4.10 M=16", "0.5215"), (64, 0.5, "A4.10 M=64", "1.304")]
    {
        let found = |arm: &str| {
            let coupler = format!("coupler = {{ gain_imbalance = \"{arm}\" }}");
            fit_error(codes, format!("{coupler}\nreceiver = {{ noise = \"{noise} dB\" }}"))
        };
        let expected = row(id, printed).within_share(0.005);
        expected.is_met_by(found("0 dB"));
        expected.is_missed_by(found("-3 dB"));
        // Scaled by sqrt(2.5/2), the additive form would be met.
        expected.is_missed_by(found("0 dB").times(1.25f64.sqrt()));
    }
}

/// A star of `count` channels whose cables turn the phase by 1 deg rms at each reconnection.
fn star(count: usize, figures: &'static [Figure]) -> Case {
    Case {
        array: line(count),
        trials: 20_000,
        figures,
        bench: format!("reconnection = {{ phase = {} }}", normal(1.0, "deg")),
        calibration:
            "align = { method = \"fit\", codes = 4, pairing = \"star\", reference = 0 }\noffsets = \"phases\""
                .into(),
        ..Case::default()
    }
}

#[test]
fn a4_13_and_14_a_star_of_pairs() {
    // A4.13, mean square residual over that of a pair: ((N - 1)/N)^2; A4.14, rms phase slope an element over
    // the error of a pair: sqrt(S - x0^2)/S, S = N(N^2 - 1)/12, x0 = (N - 1)/2 (derived). A chain and all
    // pairs must miss. At half-wave spacing a slope an element is pi times the pointing error in u.
    for (count, square, slope, chain, all) in
        [(8, "0.76562", "0.1299", "0.3934", "0.05455"), (16, "0.87891", "0.04954", "0.2749", "0.01356")]
    {
        let found = LimitResult::mean(&star(count, &[Figure::ResidualPhaseRms]).mean_square());
        row("A4.13", square).within(0.001).is_met_by(found);
        row("A4.13 of all errors", "1").within(0.001).is_missed_by(found);
        let pointing = star(count, &[Figure::PointingError]).mean_square();
        let found = LimitResult::root(&pointing).times(TAU / 2.0);
        row("A4.14", slope).is_met_by(found);
        row("A4.14 chain", chain).is_missed_by(found);
        row("A4.14 all pairs", all).is_missed_by(found);
    }
}

#[test]
fn a4_15_levelling_by_steps() {
    // A4.15: residual step/sqrt(12), rms dB; loss of many channels, dB, sinh(2t)/(2t)/(sinh t/t)^2, t half a
    // step in nepers (derived). Next lower: the same rms, half a step lower. The rows are for many channels:
    // 1024 leave 0.1 % of the loss.
    const CHANNELS: f64 = 1024.0;
    let case = |step: f64, rounding: &str, figures| Case {
        array: line(CHANNELS as usize),
        trials: 200,
        // Levels spread evenly over whole steps.
        gain: "{ nominal = \"0 dB\", uniform = { half_width = \"5 dB\" } }".into(),
        figures,
        blocks: format!(
            "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 8\nstep = \"{step} dB\"\n"
        ),
        calibration: format!(
            "level = {{ toward = \"target\", target = \"-10 dB\", rounding = \"{rounding}\" }}"
        ),
        ..Case::default()
    };
    let residual = |step, rounding| {
        let squares = case(step, rounding, &[Figure::ResidualAmplitudeRms]).mean_square();
        LimitResult::root(&squares).times((CHANNELS / (CHANNELS - 1.0)).sqrt())
    };
    let loss = |step, rounding| {
        LimitResult::mean(&case(step, rounding, &[Figure::ArrayGainLoss]).average(|values| values[0]))
    };
    let level = |step, rounding| {
        LimitResult::mean(&case(step, rounding, &[Figure::EirpChange]).average(|values| values[0]))
    };
    for (step, rms, rms_id, cost, cost_id, other) in [
        (0.5, "0.1443", "A4.15 0.5 dB, rms", "0.001199", "A4.15 0.5 dB, loss", 1.0),
        (1.0, "0.2887", "A4.15 1 dB, rms", "0.004793", "A4.15 1 dB, loss", 0.5),
    ] {
        for rounding in ["nearest", "next_lower"] {
            row(rms_id, rms).is_met_by(residual(step, rounding));
            row(cost_id, cost).within_share(0.002).is_met_by(loss(step, rounding));
            row(rms_id, rms).is_missed_by(residual(other, rounding));
            row(cost_id, cost).within_share(0.002).is_missed_by(loss(other, rounding));
        }
        let lower = level(step, "nearest").plus(-level(step, "next_lower").value);
        let half = if step == 0.5 { "0.25" } else { "0.50" };
        row("A4.15 half a step", half).within(0.001).is_met_by(lower);
        row("A4.15 no step", "0.00").within(0.001).is_missed_by(lower);
    }
}
