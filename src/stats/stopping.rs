//! When a run has enough trials.

use super::binomial::clopper_pearson;
use crate::math::normal;

/// Below this many trials no yield is called tight: with few trials the width of the interval is
/// itself too much a matter of luck.
const FEWEST: u64 = 100;

/// Whether half the length of the exact interval of the yield is at most `half_width`.
pub(crate) fn yield_is_tight(passed: u64, trials: u64, confidence: f64, half_width: f64) -> bool {
    if trials < FEWEST
        || rough_half_width(passed as f64 / trials as f64, trials as f64, confidence) > half_width
    {
        return false;
    }
    let estimate = clopper_pearson(passed, trials, confidence);
    0.5 * (estimate.high - estimate.low) <= half_width
}

/// A half length that the exact interval's is not below, at the cost of a square root: the normal form
/// z sqrt(p (1 - p) / n), less the share z^2 / n of it, which is twice what the curvature of the distribution takes away in the
/// middle (the score interval of Wilson, J. Am. Stat. Assoc. 22, 1927, 209-212, is shorter by z^2 / 2n there).
///
/// The exact interval takes as long as thousands of trials when they are many, and decides only when this one is met.
pub(super) fn rough_half_width(p: f64, n: f64, confidence: f64) -> f64 {
    let z = normal::quantile(0.5 * (1.0 + confidence));
    z * (p * (1.0 - p) / n).sqrt() / (1.0 + z * z / n)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_normal_form_of_the_sample_size() {
        // n = z^2 p (1 - p) / w^2 trials for a 95 % interval of half width w (any textbook). The
        // exact interval is longer by about 1/n at each end, so it is not tight there yet, but is
        // with a quarter more.
        for (share, half_width, trials) in [(0.90, 0.02, 865_u64), (0.90, 0.01, 3458), (0.99, 0.005, 1522)] {
            let at = |trials: u64| {
                let passed = (share * trials as f64).round_ties_even() as u64;
                yield_is_tight(passed, trials, 0.95, half_width)
            };
            assert!(!at(trials), "{trials}");
            assert!(at(trials + trials / 4), "{trials}");
        }
    }

    #[test]
    fn few_trials_are_never_tight() {
        assert!(!yield_is_tight(99, 99, 0.95, 0.5));
        assert!(yield_is_tight(100, 100, 0.95, 0.5));
    }

    #[test]
    fn the_rough_width_never_exceeds_the_exact_one_and_is_close_for_many() {
        for confidence in [0.5, 0.8, 0.95, 0.999, 0.999_999] {
            for trials in [FEWEST, 333, 1024, 65_536] {
                for passed in (0..=trials).step_by(trials as usize / 100) {
                    let estimate = clopper_pearson(passed, trials, confidence);
                    let exact = 0.5 * (estimate.high - estimate.low);
                    let (p, n) = (passed as f64 / trials as f64, trials as f64);
                    let rough = rough_half_width(p, n, confidence);
                    assert!(rough <= exact, "{passed} of {trials} at {confidence}: {rough}, {exact}");
                    let is_far_from_ends = passed.min(trials - passed) > trials / 10;
                    assert!(
                        trials < 65_536 || !is_far_from_ends || rough > 0.97 * exact,
                        "{passed}, {confidence}"
                    );
                }
            }
        }
    }

    #[test]
    fn no_width_is_never_met() {
        assert!(!yield_is_tight(500, 1000, 0.95, f64::NAN));
        assert!(!yield_is_tight(500, 1000, 0.95, 0.0));
    }
}
