//! Functions whose shares are known, through the estimator that studies use.

use super::*;
use crate::random::{Key, Stream, draw};

const RESAMPLES: u64 = 999;

/// Uniforms of one input of one sample, `[unit]`.
fn input(seed: u64, sample: &str, number: usize, count: usize) -> Vec<f64> {
    let mut uniforms = vec![0.0; count];
    draw::fill::<1>(Key::new(seed, &format!("{sample} {number}")), 0, 0, &mut uniforms);
    uniforms
}

struct Found {
    samples: PickFreeze,
    mixed: Vec<Mixed>,
}

/// Runs a function of independent uniforms, every input a group of its own.
fn run(seed: u64, inputs: usize, count: usize, of: impl Fn(&[f64]) -> f64) -> Found {
    let columns = |sample: &str| (0..inputs).map(|i| input(seed, sample, i, count)).collect::<Vec<_>>();
    let (first, second) = (columns("first"), columns("second"));
    let mut found = Found { samples: PickFreeze::new(1), mixed: vec![Mixed::new(1); inputs] };
    let row = |columns: &[Vec<f64>], unit: usize| columns.iter().map(|of| of[unit]).collect::<Vec<f64>>();
    for unit in 0..count {
        let (mut one, other) = (row(&first, unit), row(&second, unit));
        let (a, b) = (of(&one), of(&other));
        found.samples.push(a, b);
        for (number, mixed) in found.mixed.iter_mut().enumerate() {
            let own = std::mem::replace(&mut one[number], other[number]);
            mixed.push(a, b, of(&one));
            one[number] = own;
        }
    }
    found
}

impl Found {
    fn shares(&self, seed: u64) -> Shares {
        let key = Key::new(seed, "resamples");
        let resamples = Resamples::new(self.samples.parcels().count(), RESAMPLES, |number| {
            Stream::of_plain_draws(key, number, 0)
        });
        let groups: Vec<&Mixed> = self.mixed.iter().collect();
        shares(&self.samples, &groups, &resamples, 0.95).unwrap()
    }
}

/// Standard errors that an estimate is off a value, by its own interval: 95 % of a normal distribution is 3.92 of them wide.
fn off(of: &Estimate, value: f64, tolerance: f64) -> f64 {
    let error = (of.high - of.low) / 3.92;
    ((of.value - value).abs() - tolerance).max(0.0) / error
}

fn ishigami(x: &[f64]) -> f64 {
    let [x1, x2, x3] = [0, 1, 2].map(|i| std::f64::consts::PI * (2.0 * x[i] - 1.0));
    x1.sin() + 7.0 * x2.sin().powi(2) + 0.1 * x3.powi(4) * x1.sin()
}

/// A9.1: Ishigami & Homma 1990; Saltelli et al. 2008. Within four standard errors.
#[test]
fn shares_of_ishigami() {
    let found = run(11, 3, 32_768, ishigami);
    let variance = found.samples.sd().unwrap().powi(2);
    // Standard error of a variance with n = 65,536 values: sqrt((kurtosis - 1)/n) of it, the kurtosis below 4.
    assert!((variance / 13.845 - 1.0).abs() < 4.0 * (3.0f64 / 65_536.0).sqrt(), "{variance}");
    let shares = found.shares(11);
    for (group, alone, in_all) in [(0, 0.3139, 0.5576), (1, 0.4424, 0.4424), (2, 0.0, 0.2437)] {
        let share = shares.groups[group].as_ref().unwrap();
        assert!(off(&share.alone, alone, 1e-4) < 4.0, "{group}: {share:?}");
        assert!(off(&share.in_all, in_all, 1e-4) < 4.0, "{group}: {share:?}");
        assert!(share.in_all.high - share.in_all.low < 0.03 && share.alone.high - share.alone.low < 0.06);
        if alone != in_all {
            // One for the other is seen.
            assert!(off(&share.alone, in_all, 1e-4) > 4.0 && off(&share.in_all, alone, 1e-4) > 4.0);
        }
    }
    // 1 - 0.3139 - 0.4424 belongs to x1 and x3 together.
    assert!(off(shares.together.as_ref().unwrap(), 0.2437, 2e-4) < 4.0, "{:?}", shares.together);
    let lead = shares.lead.unwrap();
    assert!((lead.first, lead.second) == (0, 1) && lead.is_told(), "{lead:?}");
}

/// A9.2: Saltelli & Sobol' 1995; Saltelli et al. 2008. Within four standard errors.
#[test]
fn shares_of_sobol_g() {
    const A: [f64; 8] = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];
    let g = |x: &[f64]| x.iter().zip(A).map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a)).product();
    let shares = run(12, 8, 32_768, g).shares(12);
    let alone = [0.7162, 0.1790, 0.02368, 0.007162];
    let in_all = [0.7871, 0.2422, 0.03432, 0.01046];
    for group in 0..4 {
        let share = shares.groups[group].as_ref().unwrap();
        assert!(off(&share.alone, alone[group], 5e-5) < 4.0, "{group}: {share:?}");
        assert!(off(&share.in_all, in_all[group], 5e-5) < 4.0, "{group}: {share:?}");
        // One for the other is seen wherever they differ by more than the noise.
        assert!(off(&share.in_all, alone[group], 5e-5) > 4.0, "{group}: {share:?}");
    }
    // The others: v = 1/(3 100^2) of V = 0.4654 each, 7e-5.
    for share in shares.groups[4..].iter().flatten() {
        assert!(share.in_all.high < 3e-4 && share.alone.value.abs() < 1e-3, "{share:?}");
    }
}

/// Coverage of 95 % intervals over 200 repetitions at the fewest units that a budget takes: a linear sum with shares 0.8 and
/// 0.2, and a rare failure. Four standard errors of a share of 0.95 in 200 are 6 %; a bootstrap of some 200 parcels may lack
/// another 2 %.
#[test]
fn intervals_cover() {
    const REPEATS: u64 = 200;
    let linear = |x: &[f64]| 2.0 * x[0] + x[1];
    let mut covered = [0u32; 5];
    let mut narrowed = 0;
    for seed in 0..REPEATS {
        let shares = run(1000 + seed, 2, 1024, linear).shares(seed);
        let group = |i: usize| shares.groups[i].clone().unwrap();
        let (one, two) = (group(0), group(1));
        let together = shares.together.unwrap();
        let cases =
            [(&one.alone, 0.8), (&one.in_all, 0.8), (&two.alone, 0.2), (&two.in_all, 0.2), (&together, 0.0)];
        for (covered, (of, truth)) in covered.iter_mut().zip(cases) {
            *covered += u32::from(of.low <= truth && truth <= of.high);
        }
        // An interval of half the width does not cover.
        let middle = 0.5 * (one.in_all.low + one.in_all.high);
        narrowed += u32::from((middle - 0.8).abs() < 0.25 * (one.in_all.high - one.in_all.low));
    }
    let least = (0.87 * REPEATS as f64) as u32;
    assert!(covered.iter().all(|of| *of >= least), "{covered:?}");
    assert!(narrowed < least, "{narrowed}");
}

/// A failure that takes both of two rare events, p = 0.3 each: P = 0.09, V = P - P^2, alone (p^3 - p^4)/V = 0.2308, in all
/// (p^2 - p^3)/V = 0.7692 (own derivation).
#[test]
fn failures_of_two_causes_are_owned_together() {
    let fails = |x: &[f64]| f64::from(u8::from(x[0] < 0.3 && x[1] < 0.3));
    let shares = run(13, 2, 20_000, fails).shares(13);
    for share in shares.groups.iter().flatten() {
        assert!(off(&share.alone, 0.2308, 5e-5) < 4.0 && off(&share.in_all, 0.7692, 5e-5) < 4.0, "{share:?}");
    }
    assert!(off(shares.together.as_ref().unwrap(), 0.5385, 1e-4) < 4.0, "{:?}", shares.together);
    assert!(!shares.lead.unwrap().is_told(), "equal shares have no first");
}

#[test]
fn a_large_mean_does_no_harm_and_units_without_a_number_do_not_count() {
    let linear = |x: &[f64]| 2.0 * x[0] + x[1];
    let plain = run(14, 2, 2048, linear).shares(14);
    let lifted = run(14, 2, 2048, |x| 1e6 + linear(x)).shares(14);
    for (plain, lifted) in plain.groups.iter().flatten().zip(lifted.groups.iter().flatten()) {
        assert!((plain.alone.value - lifted.alone.value).abs() < 1e-7);
        assert!((plain.in_all.value - lifted.in_all.value).abs() < 1e-7);
    }
    let holes = |x: &[f64]| if x[0] < 0.01 { f64::NAN } else { linear(x) };
    let found = run(14, 2, 2048, holes);
    // Both samples have a number in 0.99^2 of the units.
    assert!((1960..2048).contains(&found.samples.count()), "{}", found.samples.count());
    let share = found.shares(14).groups[1].clone().unwrap();
    assert!((share.alone.value - 0.2).abs() < 0.1 && share.alone.low.is_finite());
}

#[test]
fn without_spread_there_is_nothing_to_share() {
    let found = run(15, 2, 2048, |_| 0.1);
    assert_eq!(found.samples.sd(), None);
    let key = Key::new(15, "resamples");
    let resamples = Resamples::new(found.samples.parcels().count(), RESAMPLES, |number| {
        Stream::of_plain_draws(key, number, 0)
    });
    let groups: Vec<&Mixed> = found.mixed.iter().collect();
    assert_eq!(shares(&found.samples, &groups, &resamples, 0.95), None);
    // Nor where one unit of many has all of it: many a resample misses it.
    let mut lone = PickFreeze::new(1);
    (0..2048).for_each(|unit| lone.push(f64::from(u8::from(unit == 5)), 0.0));
    assert_eq!(shares(&lone, &[], &resamples, 0.95), None);
}

#[test]
fn a_group_that_was_cut_short_has_no_share() {
    let mut found = run(16, 2, 2048, |x| x[0] + x[1]);
    found.mixed[1] = Mixed::new(1);
    let shares = found.shares(16);
    assert!(shares.groups[0].is_some() && shares.groups[1].is_none());
    assert!(shares.alone.is_none() && shares.together.is_none() && shares.lead.is_none());
}
