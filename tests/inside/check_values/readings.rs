//! A7: the combination of uncertainties, and the uncertainty of a reading.

use super::case::{Case, each_unit, line};
use super::row::{LimitResult, Row, row};
use beamyield::bench::Of;
use beamyield::engine::rebuild;
use beamyield::figure::Figure;
use beamyield::stats::Moments;

/// Four gains, each one draw a unit, so that the EIRP changes by their sum: moments, and the size that 95 % stay below with its
/// standard error.
fn sum_of_four(distributions: [&str; 4]) -> (Moments, LimitResult) {
    const UNITS: usize = 1_000_000;
    let gain = |distribution: &str| format!("{{ nominal = \"0 dB\", {distribution}, scope = \"unit\" }}");
    let block = |(number, distribution): (usize, &&str)| {
        format!("[[block]]\nname = \"stage {number}\"\nkind = \"amplifier\"\ngain = {}\n", gain(distribution))
    };
    let model = Case {
        trials: UNITS as u64,
        figures: &[Figure::EirpChange],
        array: line(2),
        gain: gain(distributions[0]),
        blocks: distributions[1..].iter().enumerate().map(block).collect(),
        ..Case::default()
    }
    .model();
    let (mut moments, mut sizes) = (Moments::default(), Vec::with_capacity(UNITS));
    each_unit(&model, |values| {
        moments.push(values[0]);
        sizes.push(values[0].abs());
    });
    sizes.sort_by(f64::total_cmp);
    let at = |share: f64| sizes[(share * UNITS as f64) as usize];
    // One standard error of the rank either way, as a distance: 0.05 x 0.95 over the count.
    let rank_error = (0.05 * 0.95 / UNITS as f64).sqrt();
    let standard_error = 0.5 * (at(0.95 + rank_error) - at(0.95 - rank_error));
    (moments, LimitResult { value: at(0.95), standard_error })
}

fn sd(of: &Moments) -> LimitResult {
    LimitResult { value: of.sd(), standard_error: of.sd() / (2.0 * of.count as f64).sqrt() }
}

#[test]
fn a7_1_and_2_sums_of_four_inputs() {
    // A7.1, A7.2: JCGM 101:2008, 9.2.2 to 9.2.4, tables 2 to 4 (from memory): standard uncertainty and 95 % limits of the sum of four
    // inputs, all of standard uncertainty 1, or one of them 10.
    let normal = "normal = { sd = \"1 dB\" }";
    let rectangular = "uniform = { half_width = \"1.7320508075688772 dB\" }";
    let wide = "uniform = { half_width = \"17.320508075688772 dB\" }";
    let (moments, limit) = sum_of_four([normal; 4]);
    row("A7.1 u", "2.0").within(1e-3).is_met_by(sd(&moments));
    row("A7.1 normal", "3.92").within(5e-3).is_met_by(limit);
    row("A7.1 rectangular", "3.88").within(5e-3).is_missed_by(limit);
    let (moments, limit) = sum_of_four([rectangular; 4]);
    row("A7.1 u", "2.0").within(1e-3).is_met_by(sd(&moments));
    row("A7.1 rectangular", "3.88").within(5e-3).is_met_by(limit);
    row("A7.1 normal", "3.92").within(5e-3).is_missed_by(limit);
    let (moments, limit) = sum_of_four([rectangular, rectangular, rectangular, wide]);
    row("A7.2 u", "10.1").within(0.06).is_met_by(sd(&moments));
    row("A7.2 limit", "17.0").within(0.06).is_met_by(limit);
    // A framework that takes the sum for normal.
    row("A7.2 limit of the framework", "19.9").within(0.06).is_missed_by(limit);
}

/// Readings of channels alone over their true levels, dB, of a few units.
fn off(gain: &str, receiver: &str) -> Moments {
    let model = Case {
        array: line(256),
        gain: gain.into(),
        blocks: "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 4\nstep = \"0.5 dB\"\n".into(),
        bench: format!("receiver = {{ {receiver} }}"),
        calibration: "level = { toward = \"weakest\" }".into(),
        ..Case::default()
    }
    .model();
    let mut moments = Moments::default();
    for trial in 0..80 {
        let unit = rebuild(&model, trial);
        let gains = unit.deviations.first().map(|slots| slots[0].clone());
        for reading in &unit.calibrations[0].readings {
            let Of::Alone { channel } = reading.of else { panic!("{reading:?}") };
            let gain = gains.as_ref().map_or(0.0, |gains| gains[channel]);
            moments.push(f64::from(reading.level_db) - gain);
        }
    }
    moments
}

#[test]
fn a7_9_a_reading_over_a_noise_floor() {
    // A7.9, rms dB of a reading at a signal-to-noise ratio: (20/ln 10)/sqrt(2 SNR) (derived, common practice); the floor's own power
    // makes it a hundredth less at 20 dB.
    for (floor, printed, tolerance) in [(-20, "0.6142", 6e-3), (-30, "0.1942", 2e-4), (-40, "0.06142", 2e-5)]
    {
        let found = sd(&off("\"0 dB\"", &format!("noise_floor = \"{floor} dB\"")));
        row("A7.9", printed).within(tolerance).is_met_by(found);
        let averaged = sd(&off("\"0 dB\"", &format!("noise_floor = \"{floor} dB\", averages = 4")));
        row("A7.9", printed).within(tolerance).is_met_by(averaged.times(2.0));
        row("A7.9", printed).within(tolerance).is_missed_by(averaged);
    }
}

#[test]
fn a7_10_the_last_digit_of_a_display() {
    // A7.10, rms rounding error of a display of resolution q: q/sqrt(12) (JCGM 100, F.2.2.1, from memory).
    let of = |resolution: &str| {
        let spread = "{ nominal = \"0 dB\", uniform = { half_width = \"3 dB\" } }";
        let moments = off(spread, &format!("resolution = \"{resolution} dB\""));
        // The variance of a uniform distribution's square: 4/45 of the quarter step's fourth power.
        let count = moments.count as f64;
        LimitResult { value: moments.sd(), standard_error: moments.sd() * (0.2 / count).sqrt() }
    };
    let rows: [(&str, Row); 3] = [
        ("0.01", row("A7.10", "0.002887")),
        ("0.05", row("A7.10", "0.01443")),
        ("0.1", row("A7.10", "0.02887")),
    ];
    for (resolution, row) in rows {
        // Readings themselves are right to some millionths of a dB.
        row.within_at_least(3e-6).is_met_by(of(resolution));
    }
    row("A7.10", "0.002887").is_missed_by(of("0.011"));
}
