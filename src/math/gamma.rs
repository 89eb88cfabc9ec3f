//! The gamma distribution of scale 1: its probabilities, which are the regularised incomplete gamma functions, and its quantile.

use super::{normal, scalar};

/// P(a, x), the probability of at most x: the integral of t^(a-1) exp(-t) from 0 to x over that to infinity, a > 0. Absolute error below 1e-12 for
/// a up to 1,000.
pub(crate) fn below(a: f64, x: f64) -> f64 {
    match x {
        _ if x <= 0.0 => 0.0,
        f64::INFINITY => 1.0,
        _ => scalar::exp(ln_tails(a, scalar::ln(x)).0).min(1.0),
    }
}

/// 1 - P(a, x), with the digits of a small one.
pub(crate) fn above(a: f64, x: f64) -> f64 {
    match x {
        _ if x <= 0.0 => 1.0,
        f64::INFINITY => 0.0,
        _ => scalar::exp(ln_tails(a, scalar::ln(x)).1).min(1.0),
    }
}

/// The x that P(a, x) = p holds for, 0 < p < 1; the smaller of p and 1 - p is right to some 1e-12 of itself.
///
/// Newton's iteration on the logarithm of the smaller tail against ln x: the logarithm of a gamma variable has a log-concave density, so that curve
/// is concave and the iteration runs to the root from one side after its first step. It starts at the approximation of Wilson & Hilferty (1931),
/// or for a small a or p at the first term of the series (from memory).
pub(crate) fn quantile(a: f64, p: f64) -> f64 {
    /// Some ten are usual.
    const STEPS: usize = 200;
    /// Longest step: where a tail is nearly 1 the tangent is nearly level and would lead far off.
    const LONGEST: f64 = 2.0;
    /// The step after this one is its square.
    const LAST: f64 = 1e-10;
    let is_lower = p <= 0.5;
    let ln_tail = if is_lower { scalar::ln(p) } else { scalar::ln_1p(-p) };
    let cube_root = 1.0 - 1.0 / (9.0 * a) + normal::quantile(p) / (3.0 * a.sqrt());
    let mut ln_x = if a >= 1.0 && cube_root > 0.2 {
        scalar::ln(a) + 3.0 * scalar::ln(cube_root)
    } else {
        (scalar::ln(p) + scalar::ln_gamma(a + 1.0)) / a
    };
    for _ in 0..STEPS {
        let (ln_below, ln_above) = ln_tails(a, ln_x);
        let (found, sign) = if is_lower { (ln_below, 1.0) } else { (ln_above, -1.0) };
        let slope = sign * scalar::exp(ln_front(a, ln_x) - found);
        let step = ((ln_tail - found) / slope).clamp(-LONGEST, LONGEST);
        ln_x += step;
        if step.abs() <= LAST {
            break;
        }
    }
    scalar::exp(ln_x)
}

/// ln of x^a exp(-x) / Gamma(a), which is dP/dln(x).
fn ln_front(a: f64, ln_x: f64) -> f64 {
    a * ln_x - scalar::exp(ln_x) - scalar::ln_gamma(a)
}

/// ln P and ln (1 - P): below a + 1 by the series, beyond it by the continued fraction of Press et al., Numerical Recipes, 6.2 (Lentz's way), each
/// where it converges fast; the other is the complement.
fn ln_tails(a: f64, ln_x: f64) -> (f64, f64) {
    let x = scalar::exp(ln_x);
    let complement = |ln: f64| scalar::ln_1p(-scalar::exp(ln).min(1.0));
    if x < a + 1.0 {
        let ln_below = ln_front(a, ln_x) + scalar::ln(series(a, x));
        (ln_below, complement(ln_below))
    } else {
        let ln_above = ln_front(a, ln_x) + scalar::ln(fraction(a, x));
        (complement(ln_above), ln_above)
    }
}

/// Far more terms than a shape of a thousand takes.
const TERMS: u32 = 10_000;

/// The sum of x^n / (a (a+1) ... (a+n)) from n = 0.
fn series(a: f64, x: f64) -> f64 {
    let mut term = 1.0 / a;
    let mut sum = term;
    for n in 1..TERMS {
        term *= x / (a + f64::from(n));
        sum += term;
        if term < 1e-17 * sum {
            break;
        }
    }
    sum
}

/// 1/(x + 1 - a - 1 (1 - a)/(x + 3 - a - 2 (2 - a)/(x + 5 - a - ...))).
fn fraction(a: f64, x: f64) -> f64 {
    let away_from_zero = |value: f64| if value.abs() < 1e-300 { 1e-300 } else { value };
    let mut b = x + 1.0 - a;
    let mut c = 1e300;
    let mut d = 1.0 / away_from_zero(b);
    let mut value = d;
    for n in 1..TERMS {
        let n = f64::from(n);
        let numerator = -n * (n - a);
        b += 2.0;
        d = 1.0 / away_from_zero(numerator * d + b);
        c = away_from_zero(b + numerator / c);
        let factor = d * c;
        value *= factor;
        if (factor - 1.0).abs() < 1e-16 {
            break;
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_tails_agree_with_another_program() {
        // mpmath 1.3.0 at 30 digits, gammainc(a, 0, x, regularized=True) and its complement.
        for (a, x, low, high) in [
            (0.1, 1e-3, 0.526_768_568_392_445_1, 0.473_231_431_607_554_9),
            (0.5, 0.7, 0.763_276_429_362_142_7, 0.236_723_570_637_857_36),
            (2.0, 0.3, 0.036_936_313_113_766_77, 0.963_063_686_886_233_2),
            (2.0, 9.0, 0.998_765_901_959_133_2, 0.001_234_098_040_866_795_5),
            (30.0, 25.0, 0.182_103_915_977_455_11, 0.817_896_084_022_544_9),
            (30.0, 60.0, 0.999_993_123_735_031_2, 6.876_264_968_732_097e-6),
            (1000.0, 950.0, 0.055_054_686_230_738_03, 0.944_945_313_769_261_9),
            (1000.0, 1100.0, 0.998_940_676_746_07, 0.001_059_323_253_929_977_3),
        ] {
            let (found_low, found_high) = (below(a, x), above(a, x));
            assert!((found_low - low).abs() < 1e-12, "P({a}, {x}) = {found_low}");
            assert!((found_high / high - 1.0).abs() < 2e-11, "Q({a}, {x}) = {found_high}");
        }
        assert_eq!((below(2.0, 0.0), above(2.0, -1.0)), (0.0, 1.0));
        assert_eq!((below(2.0, f64::INFINITY), above(2.0, f64::INFINITY)), (1.0, 0.0));
        // Of shape 1 it is the exponential distribution.
        assert!((above(1.0, 3.0) / scalar::exp(-3.0) - 1.0).abs() < 1e-14);
    }

    #[test]
    fn the_quantile_agrees_with_another_program() {
        // mpmath 1.3.0 at 30 digits: bisection of the same function.
        for (a, p, expected) in [
            (0.1, 1e-12, 6.073_048_362_407_883e-121),
            (0.1, 0.5, 0.000_593_391_104_460_225_9),
            (0.1, 0.99, 1.588_477_817_929_505_2),
            (0.1, 1.0 - 1e-6, 9.457_027_060_483_886),
            (0.5, 0.01, 7.854_392_895_485_099e-5),
            (1.0, 0.5, std::f64::consts::LN_2),
            (1.0, 1.0 - 1e-6, 13.815_510_557_964_274),
            (2.0, 1e-12, 1.414_214_229_040_193_8e-6),
            (2.0, 0.01, 0.148_554_740_253_265_95),
            (2.0, 0.99, 6.638_352_067_993_813),
            (30.0, 1e-12, 5.772_993_820_290_659),
            (30.0, 0.5, 29.667_333_138_221_23),
            (30.0, 1.0 - 1e-6, 63.548_180_124_868_07),
            (1000.0, 1e-12, 793.439_226_617_076_9),
            (1000.0, 0.5, 999.666_686_426_965_2),
            (1000.0, 0.99, 1_075.032_832_086_435),
        ] {
            let found = quantile(a, p);
            // 1 - 1e-6 is no double, and its distance from one counts in the tail.
            assert!((found / expected - 1.0).abs() < 2e-11, "{a} at {p}: {found} not {expected}");
        }
    }
}
