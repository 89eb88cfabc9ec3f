//! A10: that the deviations a study's units really get have the distribution the study states.

use crate::inside::support;
use beamyield::engine::rebuild;
use beamyield::model::Model;
use statrs::distribution::{ContinuousCDF, Normal, Triangular, Uniform};

/// Kolmogorov's limit for sqrt(n) D: exceeded with probability 0.001 when all is right.
const KOLMOGOROV: f64 = 1.95;

const STUDY: &str = r#"
title = "distributions"
seed = 2026
trials = 1
frequencies = ["28 GHz"]
[array]
layout = { kind = "linear", count = 8, spacing = "0.5 wavelength" }
chip = 4
[[beam]]
name = "broadside"
theta = "0 deg"
[[block]]
name = "amplifier"
kind = "amplifier"
gain = { nominal = "20 dB", normal = { sd = "0.7 dB" } }
phase = { nominal = "0 deg", uniform = { half_width = "180 deg" } }
[[block]]
name = "driver"
kind = "amplifier"
gain = { nominal = "10 dB", triangular = { half_width = "1.5 dB" }, scope = "chip" }
[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 6
bit_gain_error = { truncated_normal = { sd = "0.7 dB", at = "1.1 dB" } }
[[calibration]]
name = "none"
"#;

/// Deviations of a source, `[trial][slot][group]`, over units of a model.
fn deviations(model: &Model, name: &str, trials: u64) -> Vec<Vec<Vec<f64>>> {
    let source = model.sources.list().iter().position(|source| source.name == name).expect("a source");
    (0..trials).map(|trial| rebuild(model, trial).deviations.swap_remove(source)).collect()
}

/// sqrt(n) times the largest distance between the distribution of a sample and the stated one.
fn kolmogorov_smirnov(mut sample: Vec<f64>, distribution: &dyn Fn(f64) -> f64) -> f64 {
    sample.sort_by(f64::total_cmp);
    let n = sample.len() as f64;
    let distance = sample.iter().enumerate().fold(0.0f64, |largest, (i, x)| {
        largest.max(distribution(*x) - i as f64 / n).max((i + 1) as f64 / n - distribution(*x))
    });
    n.sqrt() * distance
}

#[test]
fn deviations_have_the_stated_distribution() {
    let model = support::model(STUDY);
    let normal = Normal::new(0.0, 0.7).expect("a distribution");
    let uniform = Uniform::new(-std::f64::consts::PI, std::f64::consts::PI).expect("a distribution");
    let triangular = Triangular::new(-1.5, 1.5, 0.0).expect("a distribution");
    let kept = normal.cdf(1.1) - normal.cdf(-1.1);
    let truncated = |x: f64| (normal.cdf(x.clamp(-1.1, 1.1)) - normal.cdf(-1.1)) / kept;
    let distributions: [(&str, &dyn Fn(f64) -> f64); 4] = [
        ("amplifier.gain", &|x| normal.cdf(x)),
        ("amplifier.phase", &|x| uniform.cdf(x)),
        ("driver.gain", &|x| triangular.cdf(x)),
        ("shifter.bit_gain_error", &truncated),
    ];
    for (name, distribution) in distributions {
        let sample: Vec<f64> = deviations(&model, name, 4_000).into_iter().flatten().flatten().collect();
        let statistic = kolmogorov_smirnov(sample.clone(), distribution);
        assert!(statistic < KOLMOGOROV, "{name}: {statistic}");
        let wider = kolmogorov_smirnov(sample.iter().map(|x| 1.1 * x).collect(), distribution);
        assert!(wider > KOLMOGOROV, "{name}, a tenth wider: {wider}");
    }
}

/// Correlation of pairs of mean zero, times the root of their count: one standard error.
fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let sum = |term: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(term).sum::<f64>();
    let product = sum(&|(a, b)| a * b) / (sum(&|(a, _)| a * a) * sum(&|(_, b)| b * b)).sqrt();
    product * (pairs.len() as f64).sqrt()
}

#[test]
fn channels_bits_trials_and_sources_do_not_share_draws() {
    let model = support::model(STUDY);
    let gain = deviations(&model, "amplifier.gain", 20_000);
    let phase = deviations(&model, "amplifier.phase", 20_000);
    let bits = deviations(&model, "shifter.bit_gain_error", 20_000);
    assert_eq!((gain[0].len(), gain[0][0].len(), bits[0].len(), bits[0][0].len()), (1, 8, 6, 8));
    let both = |pair: &dyn Fn(usize) -> (f64, f64)| correlation(&(1..20_000).map(pair).collect::<Vec<_>>());
    for (what, found) in [
        ("channels", both(&|t| (gain[t][0][0], gain[t][0][1]))),
        ("trials", both(&|t| (gain[t][0][0], gain[t - 1][0][0]))),
        ("sources", both(&|t| (gain[t][0][0], phase[t][0][0]))),
        ("bits", both(&|t| (bits[t][0][0], bits[t][1][0]))),
    ] {
        // Four standard errors.
        assert!(found.abs() < 4.0, "{what}: {found}");
    }
    // A leak of a twentieth shows.
    let leak = both(&|t| (gain[t][0][0], gain[t][0][1] + 0.05 * gain[t][0][0]));
    assert!(leak > 4.0, "{leak}");
}

#[test]
fn a_chip_shares_its_draw() {
    let chips = deviations(&support::model(STUDY), "driver.gain", 1);
    assert_eq!((chips[0].len(), chips[0][0].len()), (1, 2));
    let units = STUDY.replace("scope = \"chip\"", "scope = \"unit\"");
    assert_eq!(deviations(&support::model(&units), "driver.gain", 1)[0][0].len(), 1);
}

#[test]
fn a10_1_and_2_and_4_draws_are_those_of_the_published_generator() {
    // Degrees of `amplifier.phase`, the first four channels of three trials, by a second implementation in
    // Python integers that gives the known answers A10.1 and A10.2 (Philox4x32-10, Salmon et al. 2011,
    // published) and A10.4 (splitmix64, published): key = splitmix(splitmix(seed) ^ FNV-1a(name)), counter =
    // (index/4, low half of the trial, slot, high half), 360 (u - 1/2), u = (word + 1/2)/2^32. A deviation is held to seven digits.
    let model = support::model(STUDY);
    let source = model.sources.list().iter().position(|source| source.name == "amplifier.phase");
    let source = source.expect("a source");
    let found = |trial: u64| -> Vec<f64> {
        let unit = rebuild(&model, trial);
        unit.deviations[source][0][..4].iter().map(|phase| phase.to_degrees()).collect()
    };
    for (trial, expected) in [
        (0, [-5.547188655473292, -31.62655660416931, 72.38877004478127, 68.61756212543696]),
        (5, [114.58457776810974, -149.99084854032844, 73.51801541168243, -87.43060356471688]),
        (4_294_967_299, [-105.44485717546195, 75.64650509040803, -166.52204357553273, -100.03096336964518]),
    ] {
        for (found, expected) in found(trial).into_iter().zip(expected) {
            assert!((found - expected).abs() < 2e-5, "trial {trial}: {found}, {expected}");
        }
        assert!((found(trial + 1)[0] - expected[0]).abs() > 2e-5);
    }
}
