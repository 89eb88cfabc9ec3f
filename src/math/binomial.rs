//! Exact probabilities of the binomial distribution, to nearly full relative precision also far out in the
//! tails and for tens of millions of trials.

use super::{TAU, normal, scalar};

/// The probability of success and of failure, kept apart so that neither loses digits near 1.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Probability {
    /// Of success.
    pub success: f64,
    /// Of failure.
    pub failure: f64,
}

impl Probability {
    /// From the probability of success.
    pub(crate) fn new(success: f64) -> Self {
        Self { success, failure: 1.0 - success }
    }

    /// From ln(success / failure).
    pub(crate) fn from_logit(logit: f64) -> Self {
        Self { success: 1.0 / (1.0 + scalar::exp(-logit)), failure: 1.0 / (1.0 + scalar::exp(logit)) }
    }

    /// With success and failure exchanged.
    pub(crate) fn swapped(self) -> Self {
        Self { success: self.failure, failure: self.success }
    }
}

/// ln P(X = k) for X of `n` trials, 0 <= k <= n and 0 < success < 1.
///
/// C. Loader, "Fast and accurate computation of binomial probabilities" (2000): the saddle-point
/// form, in which no large logarithms cancel.
pub(crate) fn ln_mass(k: u64, n: u64, probability: Probability) -> f64 {
    let Probability { success, failure } = probability;
    let (hits, misses, trials) = (k as f64, (n - k) as f64, n as f64);
    if k == 0 {
        return trials * ln_complement(failure, success);
    }
    if k == n {
        return trials * ln_complement(success, failure);
    }
    stirling_error(n)
        - stirling_error(k)
        - stirling_error(n - k)
        - deviance(hits, trials * success)
        - deviance(misses, trials * failure)
        - 0.5 * scalar::ln(TAU * hits * (misses / trials))
}

/// ln P(X >= k) for X of `n` trials, 0 < success < 1.
///
/// Below the mean by the other tail's complement; above it the masses from k upward, each from the
/// one before: P(X = j + 1) / P(X = j) = (n - j) success / ((j + 1) failure).
pub(crate) fn ln_at_least(k: u64, n: u64, probability: Probability) -> f64 {
    if k == 0 {
        return 0.0;
    }
    if k > n {
        return f64::NEG_INFINITY;
    }
    if (k as f64) < n as f64 * probability.success {
        return scalar::ln_1p(-scalar::exp(ln_at_least(n - k + 1, n, probability.swapped())));
    }
    let odds = probability.success / probability.failure;
    let (mut sum, mut mass) = (1.0, 1.0);
    for j in k..n {
        mass *= (n - j) as f64 * odds / (j + 1) as f64;
        sum += mass;
        // The ratios fall, so what is left is less than a geometric series with this one.
        if mass < sum * f64::EPSILON * 1e-3 {
            break;
        }
    }
    ln_mass(k, n, probability) + scalar::ln(sum)
}

/// The probability p at which P(X >= `passed`) equals `tail`, for X of `trials`; 0 for `passed` = 0.
///
/// Newton's iteration on ln P against the logit of p. In the logit the distribution of the bound has a
/// log-concave density, so ln P is concave and, wherever it starts, the iteration climbs to the
/// root from below after one step. The logit keeps the digits of p near 0 and of 1 - p near 1.
pub(crate) fn probability_at_tail(passed: u64, trials: u64, tail: f64) -> Probability {
    /// Far more than the iteration takes; a bound in case of an argument out of range.
    const STEPS: usize = 100;
    let passed = passed.min(trials);
    if passed == 0 {
        return Probability { success: 0.0, failure: 1.0 };
    }
    let (hits, misses) = (passed as f64, (trials - passed) as f64);
    let ln_tail = scalar::ln(tail);
    let spread = (1.0 / hits + 1.0 / (misses + 1.0)).sqrt();
    let mut logit = scalar::ln(hits / (misses + 1.0)) + normal::quantile(tail) * spread;
    for _ in 0..STEPS {
        let probability = Probability::from_logit(logit);
        let ln_probability = ln_at_least(passed, trials, probability);
        // d P / d logit = passed (1 - p) P(X = passed).
        let ln_mass = ln_mass(passed, trials, probability);
        let slope = hits * probability.failure * scalar::exp(ln_mass - ln_probability);
        let step = (ln_tail - ln_probability) / slope;
        logit += step;
        if step.abs() <= 1e-14 * logit.abs().max(1.0) {
            break;
        }
    }
    Probability::from_logit(logit)
}

/// ln(`part`) where `part` + `rest` = 1, to full precision also for a small rest.
fn ln_complement(part: f64, rest: f64) -> f64 {
    if rest < 0.5 { scalar::ln_1p(-rest) } else { scalar::ln(part) }
}

/// ln(n!) less Stirling's formula ln(sqrt(2 pi n) (n/e)^n).
fn stirling_error(n: u64) -> f64 {
    let x = n as f64;
    if n < 16 {
        let factorial = (1..=n).map(|i| i as f64).product::<f64>();
        return scalar::ln(factorial) - (x + 0.5) * scalar::ln(x) + x - 0.5 * scalar::ln(TAU);
    }
    let z = 1.0 / (x * x);
    // The asymptotic series, Abramowitz & Stegun 6.1.41.
    (1.0 / 12.0
        - z * (1.0 / 360.0
            - z * (1.0 / 1260.0 - z * (1.0 / 1680.0 - z * (1.0 / 1188.0 - z * 691.0 / 360_360.0)))))
        / x
}

/// x ln(x / mean) + mean - x, Loader's deviance, by a series where the two are close.
fn deviance(x: f64, mean: f64) -> f64 {
    let v = (x - mean) / (x + mean);
    if v.abs() >= 0.1 {
        return x * scalar::ln(x / mean) + mean - x;
    }
    // ln(x / mean) = 2 atanh(v) = 2 (v + v^3/3 + ...), its first term joined with mean - x.
    let mut sum = (x - mean) * v;
    let mut power = 2.0 * x * v;
    for k in 1..20 {
        power *= v * v;
        sum += power / f64::from(2 * k + 1);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn masses_agree_with_the_recurrence() {
        for (n, p) in [(1, 0.3), (15, 0.5), (40, 0.01), (200, 0.97)] {
            let mut mass: f64 = (1.0_f64 - p).powi(n);
            for k in 0..=n {
                let found = scalar::exp(ln_mass(k as u64, n as u64, Probability::new(p)));
                assert!((found / mass - 1.0).abs() < 1e-12, "{k} of {n}: {found}, {mass}");
                mass *= f64::from(n - k) / f64::from(k + 1) * p / (1.0 - p);
            }
        }
    }

    #[test]
    fn tails_agree_with_known_values() {
        // mpmath 1.4.1 at 40 digits: the mass at k from loggamma, then the sum of the masses.
        for (k, n, p, expected) in [
            (5, 20, 0.1, -3.142505345012781),
            (61, 100, 0.5, -4.03985068895123),
            (40, 100, 0.5, -0.017756823491597705),
            (999, 1000, 0.95, -47.311156333494296),
            (30, 1000000, 1e-05, -15.198026688375181),
            (5001000, 10000000, 0.5, -1.333140671548496),
            (4990000, 10000000, 0.5, -1.267199740989871e-10),
            (9500100, 10000000, 0.95, -0.8148891829199444),
            (600, 1000, 0.01, -2097.763355497233),
        ] {
            let found = ln_at_least(k, n, Probability::new(p));
            let error = (found - expected).abs();
            assert!(error < 2e-13 * expected.abs().max(1.0), "{k} of {n} at {p}: {found}");
        }
    }

    #[test]
    fn tails_are_sums_of_masses() {
        for n in [1, 7, 60] {
            for p in [0.02, 0.5, 0.9] {
                for k in 0..=n + 1 {
                    let sum: f64 = (k..=n).map(|j| scalar::exp(ln_mass(j, n, Probability::new(p)))).sum();
                    let found = scalar::exp(ln_at_least(k, n, Probability::new(p)));
                    assert!((found - sum).abs() < 1e-13, "{k} of {n} at {p}: {found}, {sum}");
                }
            }
        }
    }
}
