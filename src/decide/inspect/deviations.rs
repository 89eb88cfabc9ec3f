//! The deviations of parts: one distribution, or the sum of two.

use crate::math::scalar;
use crate::random::Distribution;

/// Percentiles in the results.
pub(crate) const PERCENTILES: [u32; 5] = [1, 5, 50, 95, 99];

/// Points of a second distribution, evenly spaced in probability.
const POINTS: u32 = 400;

/// Steps of the cumulative curve.
const STEPS: u32 = 120;

/// Bisection steps between the lowest and the highest deviation.
const HALVINGS: usize = 50;

/// The distribution of the parts' deviations, SI.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Deviations {
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation.
    pub sd: f64,
    /// In the order of [`PERCENTILES`].
    pub percentiles: [f64; PERCENTILES.len()],
    /// The cumulative curve: deviations at even steps, and the share of the parts at or below each.
    pub curve: Vec<(f64, f64)>,
}

impl Deviations {
    /// Of a distribution and, where lots differ, that of their shifts.
    pub(crate) fn of(distribution: &Distribution, lots: Option<&Distribution>) -> Deviations {
        let shifts: Vec<f64> = match lots {
            None => vec![0.0],
            Some(lots) => {
                (0..POINTS).map(|i| lots.quantile((f64::from(i) + 0.5) / f64::from(POINTS))).collect()
            }
        };
        let (mean, sd) = lots.map_or((0.0, 0.0), |lots| (lots.mean(), lots.sd()));
        let sd = if lots.is_none() { distribution.sd() } else { scalar::hypot(distribution.sd(), sd) };
        // A value below a millionth of the spread is rounding error about 0.
        let settled = |value: f64| if value.abs() < 1e-6 * sd { 0.0 } else { value };
        let percentiles = PERCENTILES.map(|percent| {
            let share = f64::from(percent) / 100.0;
            settled(if lots.is_none() {
                distribution.quantile(share)
            } else {
                quantile(distribution, &shifts, share)
            })
        });
        let [first, .., last] = percentiles;
        // A quarter of the range beyond it on either side: a normal distribution to +/-3.5 standard deviations.
        let at = |step: u32| first + (1.5 * f64::from(step) / f64::from(STEPS) - 0.25) * (last - first);
        let curve =
            (0..=STEPS).map(|step| (at(step), share_below(distribution, &shifts, at(step)))).collect();
        Deviations { mean: settled(distribution.mean() + mean), sd, percentiles, curve }
    }
}

/// The share at or below a deviation, of a distribution plus equally likely shifts.
fn share_below(distribution: &Distribution, shifts: &[f64], deviation: f64) -> f64 {
    shifts.iter().map(|shift| distribution.cdf(deviation - shift)).sum::<f64>() / shifts.len() as f64
}

/// The quantile of a distribution plus equally likely shifts.
fn quantile(distribution: &Distribution, shifts: &[f64], share: f64) -> f64 {
    let end = |p: f64, outermost: fn(f64, f64) -> f64| {
        distribution.quantile(p) + shifts.iter().copied().reduce(outermost).unwrap_or(0.0)
    };
    let (mut low, mut high) = (end(1e-9, f64::min), end(1.0 - 1e-9, f64::max));
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if share_below(distribution, shifts, middle) < share { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Normal;

    #[test]
    fn the_sum_of_two_normal_distributions_is_normal() {
        let normal = |sd| Distribution::Normal(Normal::new(sd).unwrap());
        let two = Deviations::of(&normal(3.0), Some(&normal(4.0)));
        let one = Deviations::of(&normal(5.0), None);
        assert!((two.sd - 5.0).abs() < 1e-12 && two.mean == 0.0);
        for (two, one) in two.percentiles.iter().zip(one.percentiles) {
            assert!((two - one).abs() < 0.03, "{two} {one}");
        }
        // Both curves run through their percentiles and rise from nothing to all.
        for of in [&two, &one] {
            assert!(of.curve.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0].1 <= pair[1].1));
            assert!(of.curve[0].1 < 1e-3 && of.curve[STEPS as usize].1 > 0.999);
            let at = of.curve.iter().find(|at| at.0 >= of.percentiles[1]).unwrap();
            assert!((at.1 - 0.05).abs() < 0.01, "{at:?}");
        }
    }
}
