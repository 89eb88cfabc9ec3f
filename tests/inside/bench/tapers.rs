//! A taper that attenuators make, in steps, against one that the divider makes.

use super::drawn;
use crate::inside::check_values::case::{Case, line};
use beamyield::engine::rebuild;
use beamyield::figure::Figure;
use beamyield::math::PI;
use beamyield::model::Model;

const COUNT: usize = 20;

fn model(set_by: &str, step: f64, spread: f64, calibration: &str) -> Model {
    let case = Case {
        figures: &[Figure::PeakSideLobe],
        array: format!(
            "{}\ntaper = {{ kind = \"taylor\", side_lobe = \"25 dB\", nbar = 4, set_by = \"{set_by}\" }}",
            line(COUNT)
        ),
        gain: format!("{{ nominal = \"0 dB\", uniform = {{ half_width = \"{spread} dB\" }} }}"),
        blocks: format!(
            "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 6\nstep = \"{step} dB\"\n"
        ),
        calibration: calibration.into(),
        ..Case::default()
    };
    case.model()
}

/// Highest side lobe over the peak, dB, of a line half a wavelength apart of positive amplitudes in phase: beyond the first minima on
/// both sides.
fn side_lobe(amplitudes: &[f64]) -> f64 {
    let level = |u: f64| {
        let (re, im) = amplitudes.iter().enumerate().fold((0.0, 0.0), |(re, im), (n, a)| {
            let angle = PI * n as f64 * u;
            (re + a * angle.cos(), im + a * angle.sin())
        });
        10.0 * (re * re + im * im).log10()
    };
    let levels: Vec<f64> = (0..=4000).map(|i| level(f64::from(i) / 4000.0)).collect();
    let first = (1..levels.len() - 1).find(|i| levels[*i] < levels[*i + 1]).expect("a minimum");
    levels[first..].iter().fold(f64::NEG_INFINITY, |most, level| most.max(*level)) - levels[0]
}

fn found(model: &Model, trial: u64) -> f64 {
    rebuild(model, trial).calibrations[0].values[0]
}

fn quantised(db: f64, step: f64) -> f64 {
    let codes = (-db / step).round().min(63.0);
    -step * codes
}

#[test]
fn steps_of_attenuators_degrade_a_taper_as_their_rounding_does() {
    let taper: Vec<f64> = model("divider", 0.5, 0.0, "").array.amplitude.clone();
    let whole = side_lobe(&taper);
    assert!((-26.0..-24.5).contains(&whole), "{whole}");
    let level = "level = { toward = \"weakest\" }";
    for step in [0.5, 1.0, 2.0] {
        let stepped: Vec<f64> =
            taper.iter().map(|a| 10f64.powf(quantised(20.0 * a.log10(), step) / 20.0)).collect();
        let expected = side_lobe(&stepped);
        for calibration in ["", level] {
            let by_steps = found(&model("attenuators", step, 0.0, calibration), 0);
            assert!((by_steps - expected).abs() < 5e-3, "{step}, {calibration}: {by_steps} {expected}");
            // In the divider it is as designed, whatever the steps.
            let fixed = found(&model("divider", step, 0.0, calibration), 0);
            assert!((fixed - whole).abs() < 5e-3, "{step}, {calibration}: {fixed} {whole}");
        }
        // Negative control: the steps do something.
        assert!((expected - whole).abs() > 0.02, "{step}: {expected} {whole}");
    }
}

#[test]
fn levelling_makes_the_taper_of_channels_that_differ() {
    let taper: Vec<f64> = model("divider", 0.5, 0.0, "").array.amplitude.clone();
    let (left, levelled) = (
        model("attenuators", 0.5, 1.0, ""),
        model("attenuators", 0.5, 1.0, "level = { toward = \"target\", target = \"-1.5 dB\" }"),
    );
    let (mut worse, units) = (0, 40);
    for trial in 0..units {
        let unit = rebuild(&left, trial);
        let gains = drawn(&left, &unit, "amplifier.gain", 0);
        let of = |number: usize, gain: f64| {
            let wanted = 20.0 * taper[number].log10();
            // Left alone they stand at the steps of the drawing; levelled, at the step that brings what each reads to what it should.
            [gain + quantised(wanted, 0.5), gain + quantised(wanted - 1.5 - gain, 0.5)]
        };
        let amplitudes = |which: usize| -> Vec<f64> {
            gains.iter().enumerate().map(|(n, gain)| 10f64.powf(of(n, *gain)[which] / 20.0)).collect()
        };
        let expected = [side_lobe(&amplitudes(0)), side_lobe(&amplitudes(1))];
        let by_bench = [found(&left, trial), found(&levelled, trial)];
        for (expected, by_bench) in expected.iter().zip(by_bench) {
            assert!((expected - by_bench).abs() < 1e-2, "{trial}: {expected} {by_bench}");
        }
        worse += u64::from(by_bench[0] > by_bench[1]);
    }
    assert!(worse > units * 3 / 4, "{worse} of {units}");
}
