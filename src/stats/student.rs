//! The mean of a column with its interval, for few values as well as for many.

use super::{Estimate, Moments};
use crate::math::{PI, normal, scalar};

/// Degrees of freedom up to which the distribution is summed term by term.
const SUMMED: u64 = 100;

/// The mean with Student's interval: mean +/- t sd/sqrt(n), by lots with as many degrees of freedom as lots but one. `None` for fewer
/// than two values, or two lots, which have no spread.
pub(crate) fn mean(of: &Moments, confidence: f64) -> Option<Estimate> {
    if of.count < 2 {
        return None;
    }
    let (freedom, method) = match of.lots {
        Some(lots) if lots.count < 2 => return None,
        Some(lots) => (lots.count - 1, "Student, by lots"),
        None => (of.count - 1, "Student"),
    };
    let half = quantile(confidence, freedom) * of.standard_error();
    let (low, high) = (of.mean - half, of.mean + half);
    Some(Estimate { value: of.mean, low, high, confidence, method, count: of.count })
}

/// How many times wider than the normal interval Student's is, from so many groups; 1 for fewer than two.
pub(crate) fn widening(confidence: f64, groups: u64) -> f64 {
    if groups < 2 { 1.0 } else { quantile(confidence, groups - 1) / normal::quantile(0.5 + 0.5 * confidence) }
}

/// The t that Student's variable keeps within, to both sides, with a probability.
///
/// Many degrees of freedom: the expansion about the normal distribution, Abramowitz & Stegun, 26.7.5, good to 1e-9 from a hundred on.
/// Few: halving, on the closed form of the probability.
pub(super) fn quantile(within: f64, freedom: u64) -> f64 {
    if freedom > SUMMED {
        let (x, n) = (normal::quantile(0.5 + 0.5 * within), freedom as f64);
        let square = x * x;
        let first = (square + 1.0) / 4.0;
        let second = ((5.0 * square + 16.0) * square + 3.0) / 96.0;
        let third = (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0;
        let fourth =
            ((((79.0 * square + 776.0) * square + 1482.0) * square - 1920.0) * square - 945.0) / 92_160.0;
        return x * (1.0 + (first + (second + (third + fourth / n) / n) / n) / n);
    }
    // In the angle, whose range ends: t = sqrt(n) tan(angle).
    let (mut below, mut above) = (0.0, 0.5 * PI);
    for _ in 0..60 {
        let middle = 0.5 * (below + above);
        if probability(middle, freedom) < within { below = middle } else { above = middle }
    }
    (freedom as f64).sqrt() * scalar::tan(below)
}

/// The probability that |t| stays below sqrt(n) tan(angle): Abramowitz & Stegun, 26.7.3 and 26.7.4.
fn probability(angle: f64, freedom: u64) -> f64 {
    let (sine, cosine) = scalar::sin_cos(angle);
    let is_odd = freedom % 2 == 1;
    // Each term is the one before times k/(k + 1) cos^2, from k = 2 on where the degrees are odd, else from k = 1.
    let (mut term, mut k) = if is_odd { (cosine, 2.0) } else { (1.0, 1.0) };
    let mut sum = 0.0;
    for _ in 0..freedom / 2 {
        sum += term;
        term *= k / (k + 1.0) * cosine * cosine;
        k += 2.0;
    }
    if is_odd { 2.0 / PI * (angle + sine * sum) } else { sine * sum }
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{ContinuousCDF, StudentsT};

    #[test]
    fn agrees_with_the_published_table() {
        // Abramowitz & Stegun, table 26.10: A(t|n) = 0.95 and 0.99.
        for (freedom, at_95, at_99) in [
            (1, 12.706, 63.657),
            (2, 4.303, 9.925),
            (3, 3.182, 5.841),
            (10, 2.228, 3.169),
            (30, 2.042, 2.750),
            (120, 1.980, 2.617),
        ] {
            assert!((quantile(0.95, freedom) - at_95).abs() < 6e-4, "{freedom}");
            assert!((quantile(0.99, freedom) - at_99).abs() < 6e-4, "{freedom}");
        }
    }

    #[test]
    fn another_library_gives_the_probability_back() {
        for freedom in [1, 2, 3, 4, 7, 50, 99, 100, 101, 250, 10_000] {
            let reference = StudentsT::new(0.0, 1.0, freedom as f64).unwrap();
            for within in [0.5, 0.9, 0.95, 0.999] {
                let found = 2.0 * reference.cdf(quantile(within, freedom)) - 1.0;
                assert!((found - within).abs() < 2e-8, "{freedom}, {within}: {found}");
            }
        }
    }

    #[test]
    fn the_mean_of_one_value_has_no_interval() {
        assert_eq!(mean(&Moments::of(&[1.0]), 0.95), None);
        let same = mean(&Moments::of(&[0.5; 64]), 0.95).unwrap();
        assert_eq!((same.low, same.value, same.high), (0.5, 0.5, 0.5));
        // By hand: mean 2, sd 1, t = 4.3027: 2 +/- 2.4841.
        let three = mean(&Moments::of(&[1.0, 2.0, 3.0]), 0.95).unwrap();
        assert!((three.low - (2.0 - 2.484_14)).abs() < 1e-4 && three.count == 3, "{three:?}");
    }
}
