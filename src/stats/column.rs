//! The mergeable summary of one column of results.

use super::bins::Bins;
use super::quantile::{interpolate, ranks};
use super::{Estimate, Moments};
use crate::math::scalar;

/// Values kept one by one up to this count.
const EXACT: u64 = 65_536;

/// Moments and percentiles of a column of finite values.
///
/// Up to 65,536 values are kept and percentiles are exact; beyond, only counts in fixed bins of a
/// relative width of 2^-9 are kept, so a percentile is off by a relative 2^-9 at worst and far less
/// where many values lie (1e-5 to 1e-4). Which of the two holds depends on the count alone, so the
/// percentiles are a pure function of the values, whatever their order and the parts they came in.
/// The moments' last bits depend on the order of merges.
///
/// Memory: 8 bytes a value up to 512 KiB, then 4 KiB for each octave and sign in which values lie,
/// as a rule less than 256 KiB.
#[derive(Clone, Debug, Default)]
pub struct Column {
    moments: Moments,
    /// All values, or none once they are counted in bins.
    kept: Vec<f64>,
    bins: Bins,
}

impl Column {
    /// A column without values.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes in one finite value.
    pub fn push(&mut self, x: f64) {
        self.moments.push(x);
        if self.moments.count <= EXACT {
            self.kept.push(x);
        } else {
            self.spill();
            self.bins.push(x);
        }
    }

    /// Takes in all values of `other`.
    pub fn merge(&mut self, other: &Self) {
        self.moments.merge(&other.moments);
        self.kept.extend(&other.kept);
        self.bins.merge(&other.bins);
        if self.moments.count > EXACT {
            self.spill();
        }
    }

    /// How many values.
    pub fn count(&self) -> u64 {
        self.moments.count
    }

    /// Mean, spread and extremes; the extremes are exact at any count.
    pub fn moments(&self) -> &Moments {
        &self.moments
    }

    /// The quantile `p` with its interval from order statistics; None for an empty column. For
    /// several at once see [`Column::percentiles`].
    pub fn percentile(&self, p: f64, confidence: f64) -> Option<Estimate> {
        self.percentiles(&[p], confidence).pop()
    }

    /// The quantiles `p`, each with an interval that holds the law's quantile at `confidence` or
    /// more; empty for an empty column.
    ///
    /// Where the values are too few for that confidence the interval is the range of the values,
    /// `confidence` what that range has, and the method says so.
    pub fn percentiles(&self, p: &[f64], confidence: f64) -> Vec<Estimate> {
        let count = self.count();
        if count == 0 {
            return Vec::new();
        }
        let Moments { min, max, .. } = self.moments;
        let mut sorted = self.kept.clone();
        sorted.sort_unstable_by(f64::total_cmp);
        let order =
            |i: u64| sorted.get(i as usize).copied().unwrap_or_else(|| self.bins.order(i).clamp(min, max));
        let estimate = |&p: &f64| {
            let value = interpolate(count, p, order);
            match ranks(count, p, confidence) {
                Some((low, high, _)) => Estimate {
                    value,
                    low: order(low - 1),
                    high: order(high - 1),
                    confidence,
                    method: "order statistics",
                    count,
                },
                None => Estimate {
                    value,
                    low: min,
                    high: max,
                    confidence: range_confidence(count, p),
                    method: "range of all values (too few for the confidence asked)",
                    count,
                },
            }
        };
        p.iter().map(estimate).collect()
    }

    /// Counts the kept values in bins and forgets them.
    fn spill(&mut self) {
        for x in std::mem::take(&mut self.kept) {
            self.bins.push(x);
        }
    }
}

/// The probability that the quantile `p` of a continuous law lies within the range of `count`
/// values: neither all above nor all below.
fn range_confidence(count: u64, p: f64) -> f64 {
    let count = count as f64;
    let p = p.clamp(0.0, 1.0);
    (1.0 - scalar::pow(p, count) - scalar::pow(1.0 - p, count)).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::super::quantile::of_sorted;
    use super::*;
    use crate::math::slice;
    use crate::random::{Key, draw};

    const PROBABILITIES: [f64; 7] = [0.001, 0.01, 0.05, 0.3, 0.6, 0.95, 0.999];

    fn normals(count: u64) -> Vec<f64> {
        let mut values = vec![0.0; count as usize];
        draw::fill::<1>(Key::new(9, "column"), 0, 0, &mut values);
        slice::normal_quantile(&mut values);
        values
    }

    fn of(values: &[f64]) -> Column {
        let mut column = Column::new();
        values.iter().for_each(|x| column.push(*x));
        column
    }

    fn sorted(mut values: Vec<f64>) -> Vec<f64> {
        values.sort_by(f64::total_cmp);
        values
    }

    #[test]
    fn percentiles_are_exact_up_to_the_limit_and_binned_beyond() {
        for (count, exact) in [(1, true), (1000, true), (EXACT, true), (EXACT + 1, false)] {
            let values = normals(count);
            let column = of(&values);
            let values = sorted(values);
            let same = |p: &f64| column.percentile(*p, 0.95).unwrap().value == of_sorted(&values, *p);
            assert_eq!(PROBABILITIES.iter().all(same), exact, "{count}");
        }
    }

    #[test]
    fn the_interval_stands_on_the_ranks() {
        let values = normals(1000);
        let found = of(&values).percentile(0.95, 0.95).unwrap();
        let values = sorted(values);
        // Ranks 936 and 964 of 1000: see the table in `quantile`.
        assert_eq!((found.low, found.high), (values[935], values[963]));
        assert_eq!((found.confidence, found.count), (0.95, 1000));
        assert_eq!(found.method, "order statistics");
    }

    #[test]
    fn few_values_give_their_range_and_say_so() {
        let found = of(&normals(20)).percentile(0.99, 0.95).unwrap();
        let values = sorted(normals(20));
        assert_eq!((found.low, found.high), (values[0], values[19]));
        assert!((found.confidence - (1.0 - 0.99_f64.powi(20))).abs() < 1e-12);
        assert!(found.method.starts_with("range"));
        assert_eq!(of(&[2.0]).percentile(0.5, 0.95).unwrap().confidence, 0.0);
        assert_eq!(Column::new().percentile(0.5, 0.95), None);
    }

    #[test]
    fn the_order_and_the_parts_do_not_matter() {
        for count in [5_000, EXACT, 3 * EXACT] {
            let values = normals(count);
            let whole = of(&values).percentiles(&PROBABILITIES, 0.95);
            let backwards: Vec<f64> = values.iter().rev().copied().collect();
            for part in [1_000, 40_000, 150_000] {
                let mut merged = Column::new();
                backwards.chunks(part).for_each(|part| merged.merge(&of(part)));
                assert_eq!(merged.count(), count);
                assert_eq!(merged.percentiles(&PROBABILITIES, 0.95), whole, "{count}, {part}");
            }
        }
    }

    #[test]
    fn binned_percentiles_of_a_million_values_are_close() {
        let values = normals(1_000_000);
        let column = of(&values);
        let values = sorted(values);
        assert!(column.kept.is_empty());
        for found in PROBABILITIES.map(|p| (p, column.percentile(p, 0.95).unwrap())) {
            let (p, found) = found;
            let (low, high, _) = ranks(1_000_000, p, 0.95).unwrap();
            let exact = [of_sorted(&values, p), values[low as usize - 1], values[high as usize - 1]];
            for (found, exact) in [found.value, found.low, found.high].iter().zip(exact) {
                let error = (found / exact - 1.0).abs();
                let typical = if (0.01..0.99).contains(&p) { 2e-4 } else { 1.0 / 512.0 };
                assert!(error < typical, "{p}: {found}, {exact}: {error}");
            }
        }
        let ends = column.percentiles(&[0.0, 1.0], 0.95);
        assert!((ends[0].value / values[0] - 1.0).abs() < 1.0 / 512.0);
        assert!((ends[1].value / values[999_999] - 1.0).abs() < 1.0 / 512.0);
    }
}
