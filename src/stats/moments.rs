//! Mean and spread of a column.

use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Count, mean, spread and extremes of finite values, mergeable.
///
/// The last bits depend on the order of pushes and merges, so results that must be equal bit for
/// bit are merged in a fixed order.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Moments {
    /// How many values.
    pub count: u64,
    /// Their mean; 0 when there are none.
    pub mean: f64,
    /// The sum of squared deviations from the mean.
    pub m2: f64,
    /// The smallest; infinity when there are none.
    pub min: f64,
    /// The largest; minus infinity when there are none.
    pub max: f64,
    /// How the mean differs from lot to lot, where units share lots; it is stated of all values once they are in.
    pub lots: Option<MeanByLots>,
}

/// What lots know of a mean.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct MeanByLots {
    /// Lots that have a value.
    pub count: u64,
    /// Standard error of the mean, from lot to lot; NaN for fewer than two.
    pub error: f64,
}

impl Default for Moments {
    fn default() -> Self {
        Self { count: 0, mean: 0.0, m2: 0.0, min: f64::INFINITY, max: f64::NEG_INFINITY, lots: None }
    }
}

impl Moments {
    /// Those of the finite ones among some values.
    ///
    /// Deviations from the first value are summed, then squares of deviations from the mean, so that
    /// equal values have no spread at all and a large common offset does no harm.
    pub(crate) fn of(values: &[f64]) -> Self {
        let values = &*finite(values);
        let Some(&first) = values.first() else { return Self::default() };
        let count = values.len() as f64;
        let shift = sum(values, |x| x - first) / count;
        let square = |x: f64| {
            let deviation = (x - first) - shift;
            deviation * deviation
        };
        Self {
            count: values.len() as u64,
            mean: first + shift,
            m2: sum(values, square),
            min: values.iter().copied().fold(first, f64::min),
            max: values.iter().copied().fold(first, f64::max),
            lots: None,
        }
    }

    /// Takes in one finite value: Welford, Technometrics 4 (1962), 419-420.
    #[cfg(test)]
    pub(crate) fn push(&mut self, x: f64) {
        debug_assert!(x.is_finite(), "only finite values have moments");
        self.count += 1;
        let from_old = x - self.mean;
        self.mean += from_old / self.count as f64;
        self.m2 += from_old * (x - self.mean);
        self.min = self.min.min(x);
        self.max = self.max.max(x);
    }

    /// Takes in all values of `other`: with d the difference of the means, the mean moves by
    /// d n2 / n and m2 grows by m2' + d^2 n1 n2 / n (Chan, Golub & LeVeque, The American
    /// Statistician 37, 1983, 242-247).
    pub(crate) fn merge(&mut self, other: &Self) {
        if other.count == 0 {
            return;
        }
        let (mine, theirs) = (self.count as f64, other.count as f64);
        let share = theirs / (mine + theirs);
        let difference = other.mean - self.mean;
        self.count += other.count;
        self.mean += difference * share;
        self.m2 += other.m2 + difference * difference * mine * share;
        self.min = self.min.min(other.min);
        self.max = self.max.max(other.max);
    }

    /// The standard deviation, with divisor n - 1; NaN for fewer than two values.
    pub(crate) fn sd(&self) -> f64 {
        if self.count < 2 {
            return f64::NAN;
        }
        (self.m2 / (self.count - 1) as f64).sqrt()
    }

    /// The standard error of the mean: sd / sqrt(n), or by lots where units share them; NaN for fewer than two values, or two lots.
    pub(crate) fn standard_error(&self) -> f64 {
        self.lots.map_or(self.sd() / (self.count as f64).sqrt(), |lots| lots.error)
    }
}

/// The finite ones among some values.
pub(super) fn finite(values: &[f64]) -> Cow<'_, [f64]> {
    // To the end without a branch: nearly always all are.
    if values.iter().fold(true, |all, x| all & x.is_finite()) {
        return Cow::Borrowed(values);
    }
    Cow::Owned(values.iter().copied().filter(|x| x.is_finite()).collect())
}

/// The sum of a function over the values, in an order that depends on their number alone: as many sums side
/// by side as fill a vector register, then those.
#[inline(always)]
fn sum(values: &[f64], of: impl Fn(f64) -> f64) -> f64 {
    const SUMS: usize = 8;
    let mut sums = [0.0; SUMS];
    let rows = values.chunks_exact(SUMS);
    let rest = rows.remainder();
    for row in rows {
        for i in 0..SUMS {
            sums[i] += of(row[i]);
        }
    }
    for (sum, x) in sums.iter_mut().zip(rest) {
        *sum += of(*x);
    }
    sums.iter().sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pushed one by one.
    fn of(values: &[f64]) -> Moments {
        let mut moments = Moments::default();
        values.iter().for_each(|x| moments.push(*x));
        moments
    }

    #[test]
    fn all_at_once_is_one_by_one() {
        let values: Vec<f64> = (0..100).map(|i| (f64::from(i) * 0.618).fract() - 0.3).collect();
        for count in [1, 2, 7, 8, 9, 64, 100] {
            let (all, each) = (Moments::of(&values[..count]), of(&values[..count]));
            assert_eq!((all.count, all.min, all.max), (each.count, each.min, each.max));
            assert!((all.mean - each.mean).abs() < 1e-15, "{count}");
            assert!((all.m2 - each.m2).abs() <= 1e-14 * each.m2, "{count}");
        }
        assert_eq!(Moments::of(&[]), Moments::default());
        // 0.1 has no exact double, yet sixty-four of them have no spread.
        assert_eq!(
            Moments::of(&[0.1; 64]),
            Moments { count: 64, mean: 0.1, m2: 0.0, min: 0.1, max: 0.1, lots: None }
        );
        let offset = Moments::of(&[1e9, 1e9 + 1.0, 1e9 + 2.0]);
        assert_eq!((offset.mean, offset.sd()), (1e9 + 1.0, 1.0));
    }

    #[test]
    fn what_is_no_number_is_left_out() {
        let values = [f64::NAN, 2.0, f64::INFINITY, 4.0];
        assert_eq!(Moments::of(&values), Moments::of(&[2.0, 4.0]));
        assert_eq!(Moments::of(&values[..1]), Moments::default());
    }

    #[test]
    fn agree_with_numbers_worked_by_hand() {
        let moments = of(&[2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]);
        assert_eq!((moments.count, moments.mean, moments.m2), (8, 5.0, 32.0));
        assert_eq!((moments.min, moments.max), (2.0, 9.0));
        assert_eq!(moments.sd(), (32.0_f64 / 7.0).sqrt());
        assert_eq!(moments.standard_error(), (32.0_f64 / 7.0).sqrt() / 8.0_f64.sqrt());
    }

    #[test]
    fn a_large_common_offset_does_not_spoil_the_spread() {
        // Exact variance of 0, 1, 2 is 1; a plain sum of squares would lose it at 1e9.
        assert_eq!(of(&[1e9, 1e9 + 1.0, 1e9 + 2.0]).sd(), 1.0);
    }

    #[test]
    fn merging_parts_is_pushing_all() {
        let values: Vec<f64> = (0..1000).map(|i| (f64::from(i) * 0.618).fract() + 3.0).collect();
        let whole = of(&values);
        for cut in [0, 1, 500, 999, 1000] {
            let mut merged = of(&values[..cut]);
            merged.merge(&of(&values[cut..]));
            assert_eq!((merged.count, merged.min, merged.max), (1000, whole.min, whole.max));
            assert!((merged.mean / whole.mean - 1.0).abs() < 1e-14);
            assert!((merged.m2 / whole.m2 - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn no_spread_is_claimed_from_fewer_than_two_values() {
        assert!(of(&[]).sd().is_nan() && of(&[1.0]).sd().is_nan());
        assert!(of(&[1.0]).standard_error().is_nan());
        assert_eq!(of(&[1.0, 1.0]).sd(), 0.0);
    }
}
