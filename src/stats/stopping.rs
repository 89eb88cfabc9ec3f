//! When a run has enough trials.

use super::binomial::clopper_pearson;

/// Below this many trials no yield is called tight: with few trials the width of the interval is
/// itself too much a matter of luck.
const FEWEST: u64 = 100;

/// Whether half the length of the exact interval of the yield is at most `half_width`.
pub fn yield_is_tight(passed: u64, trials: u64, confidence: f64, half_width: f64) -> bool {
    if trials < FEWEST {
        return false;
    }
    let estimate = clopper_pearson(passed, trials, confidence);
    0.5 * (estimate.high - estimate.low) <= half_width
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
    fn no_width_is_never_met() {
        assert!(!yield_is_tight(500, 1000, 0.95, f64::NAN));
        assert!(!yield_is_tight(500, 1000, 0.95, 0.0));
    }
}
