//! Amplifiers on the bench and in use: one behind the attenuator that compresses, one that is hotter than when it was calibrated.

use super::{drawn, folded};
use crate::inside::check_values::case::{Case, line, normal};
use crate::inside::check_values::row::{LimitResult, row};
use crate::inside::support;
use beamyield::bench::Of;
use beamyield::engine::{Unit, rebuild};
use beamyield::figure::Figure;
use beamyield::model::Model;

const STEP: f64 = 0.5;

/// Channels with an attenuator in front of an amplifier whose small-signal output would be `over` dB above its saturation.
fn compressing(count: usize, over: f64, spread: f64, calibration: &str) -> Model {
    let case = Case {
        array: format!("{}\ndrive = \"{} dBm\"", line(count), over - 10.0),
        figures: &[Figure::ResidualAmplitudeRms],
        gain: normal(spread, "dB"),
        blocks: format!(
            "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 6\nstep = \"{STEP} dB\"\n\
             [[block]]\nname = \"power\"\nkind = \"amplifier\"\ngain = \"30 dB\"\ncompression = {{ saturation = \"20 dBm\", smoothness = 2 }}\n"
        ),
        calibration: calibration.into(),
        ..Case::default()
    };
    case.model()
}

/// What the distribution takes off a small-signal output of so many dB over saturation, dB: 10/p log10(1 + 10^(p x/10)), p = 2. Rapp 1991 (from memory).
fn compression(over: f64) -> f64 {
    5.0 * (1.0 + 10f64.powf(over / 5.0)).log10()
}

const LEVEL: &str = "level = { toward = \"weakest\" }";
const MEASURED: &str = "characterise = { attenuator = true }\nlevel = { toward = \"weakest\" }";

fn alone(unit: &Unit, channel: usize) -> Vec<f64> {
    let own = unit.calibrations[0].readings.iter().filter(|reading| reading.of == Of::Alone { channel });
    own.map(|reading| f64::from(reading.level_db)).collect()
}

#[test]
fn measured_attenuations_hold_what_the_amplifier_behind_compresses() {
    // A5.12: where the small-signal output would equal saturation the gain falls by 3.0103/p = 1.5051 dB.
    let unit = rebuild(&compressing(2, 0.0, 0.0, MEASURED), 0);
    let readings = alone(&unit, 1);
    assert_eq!(readings.len(), 64);
    let a = STEP * 63.0;
    row("A5.12", "1.5051").is_met_by(LimitResult::exactly(readings[63] + a));
    for (code, reading) in readings.iter().enumerate() {
        let a = STEP * code as f64;
        let expected = -a + compression(0.0) - compression(-a);
        assert!((reading - expected).abs() < 2e-5, "{code}: {reading} {expected}");
    }
    // An amplifier driven far below saturation compresses nothing.
    let linear = alone(&rebuild(&compressing(2, -40.0, 0.0, MEASURED), 0), 1);
    row("A5.12", "1.5051").is_missed_by(LimitResult::exactly(linear[63] + a));
    assert!((linear[63] + a).abs() < 1e-4);
}

#[test]
fn levelling_by_measured_attenuations_finds_the_step_that_a_compressed_channel_needs() {
    let (measured, nominal) = (compressing(8, 0.0, 1.0, MEASURED), compressing(8, 0.0, 1.0, LEVEL));
    let mut sums = [0.0; 2];
    let mut unlike = 0;
    for trial in 0..60 {
        let units = [&measured, &nominal].map(|model| rebuild(model, trial));
        let gains = drawn(&measured, &units[0], "amplifier.gain", 0);
        let level = |gain: f64, code: u32| {
            let input = gain - STEP * f64::from(code);
            input - compression(input)
        };
        let goal = gains.iter().map(|gain| level(*gain, 0)).fold(f64::INFINITY, f64::min);
        for (number, unit) in units.iter().enumerate() {
            let mut left = Vec::new();
            for (gain, code) in gains.iter().zip(&unit.calibrations[0].tables[0].attenuator) {
                let miss = |code: u32| (level(*gain, code) - goal).abs();
                let nearest = (0..64).min_by(|a, b| miss(*a).total_cmp(&miss(*b))).expect("codes");
                let believed = ((level(*gain, 0) - goal) / STEP).round() as u32;
                assert_eq!(*code, [nearest, believed][number], "unit {trial}, plan {number}");
                unlike += usize::from(nearest != believed);
                left.push(level(*gain, *code));
            }
            let mean = left.iter().sum::<f64>() / 8.0;
            let rms = (left.iter().map(|level| (level - mean).powi(2)).sum::<f64>() / 8.0).sqrt();
            assert!(
                (rms - unit.calibrations[0].values[0]).abs() < 1e-4,
                "{rms} {}",
                unit.calibrations[0].values[0]
            );
            sums[number] += rms * rms;
        }
    }
    println!("rms dB: measured {:.4}, believed {:.4}", (sums[0] / 60.0).sqrt(), (sums[1] / 60.0).sqrt());
    assert!(unlike > 100 && sums[0] < 0.25 * sums[1], "{unlike} {sums:?}");
}

/// Values of a case at two temperatures in use, unit by unit.
fn at_temperatures(case: &Case, temperatures: &str) -> Model {
    let text = case.text();
    let with = text.replacen("[array]\n", &format!("temperatures = [{temperatures}]\n[array]\n"), 1);
    assert_ne!(with, text);
    support::model(&with)
}

#[test]
fn a_hot_amplifier_lowers_the_power_by_its_coefficient_times_the_warming() {
    let case = Case { amplifier: "gain_temperature = \"-0.02 dB/K\"".into(), ..Case::default() };
    for (bench, phases) in [("", false), ("temperature = \"40 degC\"", true)] {
        let calibration =
            if phases { "align = { method = \"fit\", codes = 8 }\noffsets = \"phases\"" } else { "" };
        let case = Case { bench: bench.into(), calibration: calibration.into(), ..case.clone() };
        let model = at_temperatures(&case, "\"25 degC\", \"70 degC\", \"-15 degC\"");
        let values = rebuild(&model, 0).calibrations[0].values.clone();
        // -0.02 dB/K times 0, 45 and -40 K.
        for (value, expected) in values.iter().zip([0.0, -0.9, 0.8]) {
            assert!((value - expected).abs() < 2e-6, "{values:?}");
        }
    }
    // A levelled unit keeps the bench's level: all channels are attenuated alike there.
    let steps = "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 6\nstep = \"0.1 dB\"\n";
    let case = Case {
        blocks: steps.into(),
        bench: "temperature = \"55 degC\"".into(),
        calibration: "level = { toward = \"target\", target = \"-2 dB\" }".into(),
        ..case
    };
    let values =
        rebuild(&at_temperatures(&case, "\"25 degC\", \"75 degC\""), 0).calibrations[0].values.clone();
    for (value, expected) in values.iter().zip([-1.4, -2.4]) {
        assert!((value - expected).abs() < 2e-6, "{values:?}");
    }
}

#[test]
fn cables_turn_with_the_temperature_as_long_as_they_are() {
    // A cable of length L turns by -360 f L/(c VF) k dT deg for a coefficient k a kelvin: 28 GHz, 200 mm, VF 0.7, 45 K; k drawn by channel.
    let case = |bench: &str| {
        Case {
        array: line(8),
        figures: &[Figure::ResidualPhaseMax],
        blocks: "[[block]]\nname = \"run\"\nkind = \"cable\"\nlength = \"200 mm\"\nvelocity_factor = 0.7\nphase_temperature = { nominal = \"-50 ppm/K\", normal = { sd = \"40 ppm/K\" } }\n".into(),
        bench: bench.into(),
        calibration: "align = { method = \"fit\" }\noffsets = \"phases\"".into(),
        ..Case::default()
    }
    };
    let model = at_temperatures(&case(""), "\"25 degC\", \"70 degC\"");
    let hot = at_temperatures(&case("temperature = \"70 degC\""), "\"25 degC\", \"70 degC\"");
    for trial in 0..20 {
        let unit = rebuild(&model, trial);
        let full = 360.0 * 28e9 * 0.2 / (299_792_458.0 * 0.7) * 45.0;
        let turns: Vec<f64> =
            drawn(&model, &unit, "run.phase_temperature", 0).iter().map(|k| -full * k).collect();
        let radians: Vec<f64> = turns.iter().map(|turn| turn.to_radians()).collect();
        let (re, im) = radians.iter().fold((0.0, 0.0), |(re, im), p| (re + p.cos(), im + p.sin()));
        let most = radians.iter().fold(0.0f64, |most, p| most.max(folded(p - im.atan2(re)).abs()));
        let most = most.to_degrees();
        // Codes of 12 bits round by 0.044 deg at most, the mean phasor too.
        let rounding = 0.09;
        let [cold, warm] = [unit.calibrations[0].values[0], unit.calibrations[0].values[1]];
        assert!(cold < rounding && (warm - most).abs() < rounding, "{cold} {warm} {most}");
        assert!(most > 1.0);
        // Calibrated hot it is the other way around.
        let values = &rebuild(&hot, trial).calibrations[0].values;
        assert!(values[1] < rounding && (values[0] - most).abs() < rounding, "{values:?} {most}");
    }
}
