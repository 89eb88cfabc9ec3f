//! The beta distribution: its probabilities, its quantile, and the binomial distribution's bounds for numbers of units that need not be whole.

use super::binomial::Probability;
use super::{normal, scalar};

/// ln of the regularised incomplete beta function I_p(a, b), a > 0, b > 0: for whole numbers the probability of `a` passes or more of
/// a + b - 1 units.
///
/// Below the mean the continued fraction of Press et al., Numerical Recipes, 6.4 (Lentz's way), which converges fast there; above it the
/// complement of the other tail.
pub(crate) fn ln_beta(a: f64, b: f64, probability: Probability) -> f64 {
    if probability.success > (a + 1.0) / (a + b + 2.0) {
        return scalar::ln_1p(-scalar::exp(ln_below_mean(b, a, probability.swapped())).min(1.0));
    }
    ln_below_mean(a, b, probability)
}

fn ln_below_mean(a: f64, b: f64, probability: Probability) -> f64 {
    ln_front(a, b, probability) - scalar::ln(a) + scalar::ln(fraction(a, b, probability.success))
}

/// ln of p^a (1 - p)^b / B(a, b), which is dI/dlogit(p).
fn ln_front(a: f64, b: f64, Probability { success, failure }: Probability) -> f64 {
    let ln = |part: f64, rest: f64| if rest < 0.5 { scalar::ln_1p(-rest) } else { scalar::ln(part) };
    let ln_beta = scalar::ln_gamma(a) + scalar::ln_gamma(b) - scalar::ln_gamma(a + b);
    a * ln(success, failure) + b * ln(failure, success) - ln_beta
}

fn fraction(a: f64, b: f64, x: f64) -> f64 {
    /// Far more terms than the root of the largest number of units takes.
    const TERMS: u32 = 1_000_000;
    let away_from_zero = |value: f64| if value.abs() < 1e-300 { 1e-300 } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for term in 1..TERMS {
        let m = f64::from(term);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut factor = 1.0;
        for step in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + step * d);
            c = away_from_zero(1.0 + step / c);
            factor = d * c;
            value *= factor;
        }
        if (factor - 1.0).abs() < 1e-15 {
            break;
        }
    }
    value
}

/// The probability at which I(`passed`, `trials` - `passed` + 1) equals `tail`: the exact lower bound of a share for numbers that need not be
/// whole; 0 without a pass.
pub(crate) fn probability_at_tail(passed: f64, trials: f64, tail: f64) -> Probability {
    if passed <= 0.0 {
        return Probability { success: 0.0, failure: 1.0 };
    }
    root(passed, (trials - passed).max(0.0) + 1.0, tail)
}

/// The quantile of the beta distribution of parameters a > 0 and b > 0 at 0 < p < 1, with what is left of 1: the root for the smaller tail.
pub(crate) fn quantile(a: f64, b: f64, p: f64) -> Probability {
    if p <= 0.5 { root(a, b, p) } else { root(b, a, 1.0 - p).swapped() }
}

/// The probability at which I(a, b) equals `tail`.
///
/// Newton's iteration on the logarithm against the logit, where it is concave: see [`super::binomial::probability_at_tail`].
fn root(a: f64, b: f64, tail: f64) -> Probability {
    const STEPS: usize = 100;
    let ln_tail = scalar::ln(tail);
    let spread = (1.0 / a + 1.0 / b).sqrt();
    let mut logit = scalar::ln(a / b) + normal::quantile(tail) * spread;
    for _ in 0..STEPS {
        let probability = Probability::from_logit(logit);
        let ln_probability = ln_beta(a, b, probability);
        let slope = scalar::exp(ln_front(a, b, probability) - ln_probability);
        let step = (ln_tail - ln_probability) / slope;
        logit += step;
        if step.abs() <= 1e-12 * logit.abs().max(1.0) {
            break;
        }
    }
    Probability::from_logit(logit)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::binomial;

    #[test]
    fn whole_numbers_give_the_binomial_bounds() {
        for (passed, trials) in [(1, 1), (1, 2), (3, 3), (81, 263), (15, 148), (198, 200), (99_990, 100_000)]
        {
            for tail in [0.025, 0.2, 1e-7, 0.9] {
                let exact = binomial::probability_at_tail(passed, trials, tail);
                let found = probability_at_tail(passed as f64, trials as f64, tail);
                assert!((found.success / exact.success - 1.0).abs() < 1e-8, "{passed} of {trials} at {tail}");
                assert!((found.failure / exact.failure - 1.0).abs() < 1e-6, "{passed} of {trials} at {tail}");
            }
        }
    }

    #[test]
    fn broken_numbers_agree_with_another_library() {
        // scipy 1.17.1: beta.ppf(tail, x, n - x + 1).
        for (passed, trials, tail, low) in BETA {
            let found = probability_at_tail(passed, trials, tail).success;
            assert!((found / low - 1.0).abs() < 1e-9, "{passed} of {trials}: {found}, {low}");
        }
        assert_eq!(probability_at_tail(0.0, 12.5, 0.025).success, 0.0);
    }

    #[test]
    fn the_quantile_agrees_with_another_program() {
        // mpmath 1.3.0 at 30 digits: bisection of betainc(a, b, 0, x, regularized=True).
        for (a, b, p, expected) in [
            (2.0, 5.0, 1e-9, 8.165_054_699_768_936e-6),
            (2.0, 5.0, 0.01, 0.026_763_191_142_755_057),
            (2.0, 5.0, 0.5, 0.264_449_983_295_659_96),
            (2.0, 5.0, 0.99, 0.705_686_328_319_707_5),
            (0.5, 0.5, 1e-9, 2.467_401_100_272_339_7e-18),
            (0.5, 0.5, 0.99, 0.999_753_280_182_865_8),
            (0.2, 3.0, 1e-9, 2.495_343_537_242_618_2e-46),
            (0.2, 3.0, 0.5, 0.007_901_229_090_864_22),
            (0.2, 3.0, 0.99, 0.565_497_230_466_255_3),
            (400.0, 30.0, 1e-9, 0.833_887_646_718_744_2),
            (400.0, 30.0, 0.99, 0.955_774_971_575_120_4),
        ] {
            let found = quantile(a, b, p);
            assert!((found.success / expected - 1.0).abs() < 1e-10, "{a}, {b} at {p}: {}", found.success);
            assert!((found.success + found.failure - 1.0).abs() < 1e-15);
        }
    }

    const BETA: [(f64, f64, f64, f64); 5] = [
        (0.8, 1.0, 0.025, 0.008182477060399974),
        (9.35, 11.0, 0.025, 0.5172310032519409),
        (17.5, 17.5, 0.025, 0.8099416170222772),
        (41.2, 60.7, 0.005, 0.5067233214969715),
        (980.3, 1000.9, 0.025, 0.9685860856183245),
    ];
}
