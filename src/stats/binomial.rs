//! Exact intervals of a yield: of the probability behind a number of passes.

use super::Estimate;
use super::estimate::CLOPPER_PEARSON;
use crate::math::binomial::probability_at_tail;

/// The share of `passed` in `trials` with the exact two-sided interval at `confidence`.
///
/// Clopper & Pearson, Biometrika 26 (1934), 404-413: the ends are the probabilities at which so
/// many passes, or so few, still have probability (1 - confidence) / 2. Without trials the interval
/// is 0 to 1 and the value NaN.
pub(crate) fn clopper_pearson(passed: u64, trials: u64, confidence: f64) -> Estimate {
    let tail = 0.5 * (1.0 - confidence);
    Estimate {
        value: passed as f64 / trials as f64,
        low: probability_at_tail(passed, trials, tail).success,
        // So few passes are so many failures.
        high: probability_at_tail(trials.saturating_sub(passed), trials, tail).failure,
        confidence,
        method: CLOPPER_PEARSON,
        count: trials,
    }
}

/// The exact one-sided lower bound of the probability behind `passed` of `trials`: it is below
/// the truth with probability `confidence` or more.
#[cfg(test)]
pub(crate) fn lower_bound(passed: u64, trials: u64, confidence: f64) -> f64 {
    probability_at_tail(passed, trials, 1.0 - confidence).success
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::scalar;
    use crate::random::{Key, draw};

    #[test]
    fn agrees_with_the_published_table() {
        // Newcombe, Statistics in Medicine 17 (1998), table I, 95 %; yields by scipy 1.17.1.
        for (passed, trials, low, high, tolerance) in [
            (81, 263, 0.2527, 0.3676, 6e-5),
            (15, 148, 0.0578, 0.1617, 6e-5),
            (950, 1000, 0.934610, 0.962665, 1e-6),
            (900, 1000, 0.879712, 0.917895, 1e-6),
            (198, 200, 0.964345, 0.998787, 1e-6),
        ] {
            let found = clopper_pearson(passed, trials, 0.95);
            assert!((found.low - low).abs() < tolerance, "{found:?}");
            assert!((found.high - high).abs() < tolerance, "{found:?}");
        }
    }

    #[test]
    fn agrees_with_another_library_to_many_digits() {
        // scipy 1.17.1: beta.ppf(a, x, n - x + 1), beta.ppf(1 - a, x + 1, n - x), a = (1 - c) / 2.
        for (passed, trials, confidence, low, high) in [
            (81, 263, 0.95, 0.25273674558527126, 0.36762192260135135),
            (15, 148, 0.95, 0.057844010083448576, 0.161650490349479),
            (198, 200, 0.95, 0.9643453316027603, 0.998786650986264),
            (999_995, 1_000_000, 0.95, 0.9999883317068248, 0.9999983765116808),
            (5, 1_000_000, 0.95, 1.6234883192411707e-06, 1.1668293175208817e-05),
            (500_000, 1_000_000, 0.95, 0.49901951919531184, 0.5009804808046882),
            (9_000_000, 10_000_000, 0.99, 0.8997553950629416, 0.9002442243007508),
            (1, 2, 0.9, 0.025320565519103604, 0.9746794344808963),
        ] {
            let found = clopper_pearson(passed, trials, confidence);
            for (found, expected) in [(found.low, low), (found.high, high)] as [(f64, f64); 2] {
                let tolerance = 1e-11 * expected.min(1.0 - expected) + 3e-16;
                assert!((found - expected).abs() < tolerance, "{found}, {expected}");
            }
        }
    }

    #[test]
    fn no_failures_give_the_rule_of_three() {
        // 1 - 0.05^(1/n), Hanley & Lippman-Hand, JAMA 249 (1983), 1743-1745.
        for (n, upper) in [(30, 0.095034), (100, 0.029513), (1000, 0.0029912)] {
            let failures = 1.0 - lower_bound(n, n, 0.95);
            assert!((failures / upper - 1.0).abs() < 2e-5, "{n}: {failures}");
        }
    }

    #[test]
    fn the_ends_are_exact() {
        let none = clopper_pearson(0, 20, 0.95);
        let all = clopper_pearson(20, 20, 0.95);
        assert_eq!((none.value, none.low, all.value, all.high), (0.0, 0.0, 1.0, 1.0));
        assert!((all.low - scalar::pow(0.025, 1.0 / 20.0)).abs() < 1e-15);
        assert!((none.high - (1.0 - all.low)).abs() < 1e-15);
        assert_eq!(lower_bound(0, 20, 0.95), 0.0);
    }

    #[test]
    fn without_trials_nothing_is_known() {
        let found = clopper_pearson(0, 0, 0.95);
        assert!(found.value.is_nan());
        assert_eq!((found.low, found.high, found.count), (0.0, 1.0, 0));
    }

    /// P(X = k) for k = 0..=n by the plain recurrence.
    fn masses(n: u32, p: f64) -> Vec<f64> {
        let first = (1.0 - p).powi(n as i32);
        let next = |mass: &f64, k: u32| mass * f64::from(n - k) / f64::from(k + 1) * p / (1.0 - p);
        let mut masses = vec![first];
        for k in 0..n {
            masses.push(next(&masses[k as usize], k));
        }
        masses
    }

    #[test]
    fn the_tails_at_the_ends_are_what_they_should_be() {
        let n = 60;
        for passed in 1..n {
            let found = clopper_pearson(passed.into(), n.into(), 0.9);
            let so_many: f64 = masses(n, found.low)[passed as usize..].iter().sum();
            let so_few: f64 = masses(n, found.high)[..=passed as usize].iter().sum();
            assert!((so_many - 0.05).abs() < 1e-12, "{passed}: {so_many}");
            assert!((so_few - 0.05).abs() < 1e-12, "{passed}: {so_few}");
        }
    }

    /// The exact probability that an interval holds `p`, over all outcomes of `n` trials.
    fn coverage(n: u32, p: f64, interval: impl Fn(u32) -> (f64, f64)) -> f64 {
        let holds = |k: &u32| {
            let (low, high) = interval(*k);
            low <= p && p <= high
        };
        let masses = masses(n, p);
        (0..=n).filter(holds).map(|k| masses[k as usize]).sum()
    }

    #[test]
    fn exact_coverage_is_never_below_the_confidence() {
        let n = 50;
        let exact: Vec<_> = (0..=n)
            .map(|k| clopper_pearson(k.into(), n.into(), 0.95))
            .map(|estimate| (estimate.low, estimate.high))
            .collect();
        let textbook = |k: u32| {
            let share = f64::from(k) / f64::from(n);
            let half = 1.96 * (share * (1.0 - share) / f64::from(n)).sqrt();
            (share - half, share + half)
        };
        let mut worst_textbook: f64 = 1.0;
        for i in 1..200 {
            let p = f64::from(i) / 200.0;
            assert!(coverage(n, p, |k| exact[k as usize]) >= 0.95, "at {p}");
            worst_textbook = worst_textbook.min(coverage(n, p, textbook));
        }
        // The test can see an interval that is too short: the normal approximation is.
        assert!(worst_textbook < 0.9, "{worst_textbook}");
    }

    #[test]
    fn coverage_over_repetitions() {
        const REPETITIONS: usize = 4_000;
        const TRIALS: usize = 200;
        let yield_of_units = 0.93;
        let mut units = vec![0.0; REPETITIONS * TRIALS];
        draw::fill::<1>(Key::new(5, "coverage"), 0, 0, &mut units);
        let share_holding = |confidence: f64| {
            let holds = |units: &&[f64]| {
                let passed = units.iter().filter(|u| **u < yield_of_units).count();
                let found = clopper_pearson(passed as u64, TRIALS as u64, confidence);
                found.low <= yield_of_units && yield_of_units <= found.high
            };
            units.chunks_exact(TRIALS).filter(holds).count() as f64 / REPETITIONS as f64
        };
        // Four standard errors of a share of 0.95.
        let bound = 0.95 - 4.0 * (0.95 * 0.05 / REPETITIONS as f64).sqrt();
        assert!(share_holding(0.95) > bound);
        assert!(share_holding(0.85) < bound);
    }
}
