//! Sampling plans: how many parts of a lot are gauged, and when the lot is taken.

use crate::math::binomial::{Probability, ln_at_least, probability_at_tail};
use crate::math::scalar;

/// A single sampling plan: so many parts of a lot are gauged, and the lot is taken when no more than so many of them fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Sampling {
    /// Parts in a lot.
    pub lot: u64,
    /// Parts that are gauged, n.
    pub parts: u64,
    /// Most of them that may fail, c.
    pub allowed: u64,
}

impl Sampling {
    /// The probability that a lot is taken whose parts fail with probability `p`: its operating characteristic.
    ///
    /// The parts of a lot are as they come from a process, so what a sample holds is binomial, however large the lot is (ISO 2859-1 calls
    /// this the curve of type B).
    pub(crate) fn accepts(&self, p: f64) -> f64 {
        if p <= 0.0 || p >= 1.0 {
            return f64::from(u8::from(p <= 0.0));
        }
        scalar::exp(ln_at_least(self.parts - self.allowed, self.parts, Probability::new(p).swapped()))
    }

    /// The probability of a part to fail at which a lot is taken with probability `taken`, 0 < `taken` < 1: the other way round.
    pub(crate) fn quality(&self, taken: f64) -> f64 {
        // By the smaller tail, which has more digits.
        if taken > 0.5 {
            probability_at_tail(self.allowed + 1, self.parts, 1.0 - taken).success
        } else {
            probability_at_tail(self.parts - self.allowed, self.parts, taken).failure
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan(parts: u64, allowed: u64) -> Sampling {
        Sampling { lot: 10_000_000, parts, allowed }
    }

    #[test]
    fn the_operating_characteristic_is_the_binomial_sum() {
        // mpmath 1.4.1 at 40 digits, the sum of the masses; the last two by SciPy 1.17.1, binom.cdf.
        for (parts, allowed, p, expected, error) in [
            (80, 2, 0.01, 0.953_446_814_264_068_5, 1e-13),
            (80, 2, 0.3, 2.495_789_976_224_997_7e-10, 1e-13),
            (13, 0, 0.05, 0.513_342_083_279_505_1, 1e-13),
            (1_000_000, 20, 1e-5, 0.998_411_832_640_683_7, 1e-13),
            (1_000_000, 20, 2e-4, 6.516_746_147_747_964e-60, 1e-12),
            (1250, 21, 0.01, 0.990_934_270_744_953_8, 1e-13),
            (1_000_000, 500_000, 0.5, 0.500_398_942_180_665_4, 1e-11),
            (1_000_000, 500_000, 0.501, 0.022_804_041_698_684_215, 1e-10),
        ] {
            let found = plan(parts, allowed).accepts(p);
            assert!((found / expected - 1.0).abs() < error, "{parts}, {allowed} at {p}: {found}");
        }
        assert_eq!((plan(80, 2).accepts(0.0), plan(80, 2).accepts(1.0)), (1.0, 0.0));
    }

    /// ISO 2859-1, letter J, c = 2 (95 % and 10 % points from memory), and SciPy 1.17.1, beta.ppf(1 - taken, c + 1, n - c).
    #[test]
    fn the_quality_that_is_taken_with_a_probability() {
        for (taken, percent) in [(0.95, 1.03), (0.5, 3.33), (0.1, 6.52)] {
            let found = 100.0 * plan(80, 2).quality(taken);
            assert!((found - percent).abs() < 0.02, "{taken}: {found}");
        }
        assert!((plan(80, 2).accepts(0.01) - 0.953).abs() < 1e-3);
        for (parts, allowed, taken, expected) in [
            (80, 2, 0.95, 0.010_297_801_360_077_69),
            (80, 2, 0.5, 0.033_285_317_768_189_42),
            (80, 2, 0.1, 0.065_159_666_991_629_76),
            (80, 2, 0.001, 0.132_523_217_605_457_68),
            (1_000_000, 20, 0.95, 1.407_206_645_796_296_6e-5),
            (1_000_000, 20, 0.1, 2.704_500_595_741_077e-5),
        ] {
            let found: f64 = plan(parts, allowed).quality(taken);
            assert!((found / expected - 1.0).abs() < 1e-11, "{parts}, {allowed} at {taken}: {found}");
            assert!((plan(parts, allowed).accepts(found) - taken).abs() < 1e-12, "{parts} {allowed} {taken}");
        }
    }

    /// Plans that take nothing bad: 1 - 0.1^(1/n), so that 230 parts find 1 % bad nine times in ten, and 45 find 5 % (own derivation).
    #[test]
    fn a_plan_without_failures_is_a_power() {
        for (parts, quality) in [(230, 0.01), (45, 0.05)] {
            assert!(plan(parts, 0).accepts(quality) <= 0.1);
            assert!(plan(parts - 1, 0).accepts(quality) > 0.1);
            assert!(plan(parts, 0).quality(0.1) <= quality && plan(parts - 1, 0).quality(0.1) > quality);
        }
    }
}
