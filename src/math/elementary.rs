//! Branch-free kernels of `ln`, `exp` and rounding in double precision that a compiler can turn
//! into vector code. Only additions, multiplications, divisions and bit moves, so the bits are
//! equal at any vector width. Single precision, with sine and cosine, is in [`super::single`].
//!
//! The polynomials are plain Taylor series after a range reduction: a term or two longer than a
//! fitted polynomial, but there is no fitted table to trust.

/// 1.5 * 2^52: adding it leaves a number below 2^51 rounded to an integer in the low bits.
const ROUNDER: f64 = 6_755_399_441_055_744.0;
const MANTISSA: u64 = 0x000f_ffff_ffff_ffff;

// ln 2 in two parts; the first has 32 trailing zero bits, so an exponent times it is exact.
const LN_2_HIGH: f64 = f64::from_bits(0x3fe6_2e42_fee0_0000);
const LN_2_LOW: f64 = f64::from_bits(0x3dea_39ef_3579_3c76);

/// 2/(2k+1) for k = 1..9: the series of (2/s) atanh(s) - 2 in s^2.
const ATANH: [f64; 9] =
    [2.0 / 3.0, 2.0 / 5.0, 2.0 / 7.0, 2.0 / 9.0, 2.0 / 11.0, 2.0 / 13.0, 2.0 / 15.0, 2.0 / 17.0, 2.0 / 19.0];

/// 1/k! for k = 2..13.
const EXP: [f64; 12] = [
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
    1.0 / 479_001_600.0,
    1.0 / 6_227_020_800.0,
];

/// The polynomial `c[0] + c[1] x + c[2] x^2 + ...`, as two interleaved Horner rules in x^2: the
/// chain of dependent operations is half as long, which is what limits the speed.
#[inline(always)]
pub(crate) fn polynomial<const N: usize>(x: f64, c: &[f64; N]) -> f64 {
    let square = x * x;
    let every_other = |start: usize| {
        let terms = c[start..].iter().step_by(2).rev().copied();
        terms.reduce(|sum, c| sum * square + c).unwrap_or(0.0)
    };
    every_other(0) + x * every_other(1)
}

/// The nearest integer, ties to even, for |x| < 2^51.
#[inline(always)]
pub(crate) fn round(x: f64) -> f64 {
    (x + ROUNDER) - ROUNDER
}

/// The natural logarithm of a normal positive `x`, relative error below 1e-15.
///
/// With x = 2^k (1 + f), s = f/(2 + f): ln(1 + f) = f - f^2/2 + s (f^2/2 + (2/s) atanh(s) - 2),
/// which keeps the leading term exact (the arrangement of K. C. Ng's `log` in FDLIBM, 1993).
/// Zero gives about -709 and not an infinity; a negative number or NaN gives no meaningful value.
#[inline(always)]
pub(crate) fn ln(x: f64) -> f64 {
    // Moves the split of the binades from 1 to sqrt(1/2), so that |f| is small on both sides.
    const ONE: u64 = 0x3ff0_0000_0000_0000;
    const ROOT_HALF: u64 = 0x3fe6_a09e_0000_0000;
    // The bits of 2^52, under which an integer is a number's low bits.
    const INTEGER: u64 = 0x4330_0000_0000_0000;
    let shifted = x.to_bits().wrapping_add(ONE - ROOT_HALF);
    let k = f64::from_bits(INTEGER | (shifted >> 52)) - (f64::from_bits(INTEGER) + 1023.0);
    let f = f64::from_bits((shifted & MANTISSA) + ROOT_HALF) - 1.0;
    let s = f / (2.0 + f);
    let z = s * s;
    let half_square = 0.5 * f * f;
    let rest = s * (half_square + z * polynomial(z, &ATANH)) + k * LN_2_LOW;
    k * LN_2_HIGH + (f - (half_square - rest))
}

/// The exponential of `x`, relative error below 1e-15; saturates outside -708..709 instead of
/// reaching zero or infinity. NaN stays NaN.
///
/// x = k ln 2 + r with |r| <= ln(2)/2, then the Taylor series of e^r to r^13.
#[inline(always)]
pub(crate) fn exp(x: f64) -> f64 {
    let x = if x < -708.0 { -708.0 } else { x };
    let x = if x > 709.0 { 709.0 } else { x };
    let counted = x * std::f64::consts::LOG2_E + ROUNDER;
    let k = counted - ROUNDER;
    let r = (x - k * LN_2_HIGH) - k * LN_2_LOW;
    let power = 1.0 + (r + r * r * polynomial(r, &EXP));
    // The low bits of `counted` are k; adding them to the exponent field multiplies by 2^k.
    f64::from_bits(power.to_bits().wrapping_add(counted.to_bits() << 52))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::scalar;

    /// `count` points evenly over `from..to`, moved off round numbers.
    fn points(from: f64, to: f64, count: u32) -> impl Iterator<Item = f64> {
        (0..count).map(move |i| from + (to - from) * (f64::from(i) + 0.381_966) / f64::from(count))
    }

    #[test]
    fn ln_agrees_with_libm_over_all_binades() {
        let near_one = points(0.5, 2.0, 100_000);
        let all = points(-1022.0, 1024.0, 100_000).map(scalar::exp2);
        for x in near_one.chain(all).chain([f64::MIN_POSITIVE, f64::MAX, 1.0 + f64::EPSILON]) {
            let expected = scalar::ln(x);
            assert!((ln(x) - expected).abs() <= 1e-15 * expected.abs(), "ln({x}) = {}", ln(x));
        }
        assert_eq!(ln(1.0), 0.0);
    }

    #[test]
    fn ln_of_zero_is_very_negative() {
        assert!(ln(0.0) < -700.0);
    }

    #[test]
    fn exp_agrees_with_libm() {
        for x in points(-700.0, 700.0, 200_000).chain(points(-0.4, 0.4, 10_000)) {
            let expected = scalar::exp(x);
            assert!((exp(x) - expected).abs() <= 1e-15 * expected, "exp({x}) = {}", exp(x));
        }
        assert_eq!(exp(0.0), 1.0);
    }

    #[test]
    fn exp_saturates_and_keeps_nan() {
        assert_eq!(exp(-1e9), exp(-708.0));
        assert_eq!(exp(f64::INFINITY), exp(709.0));
        assert!(exp(-708.0) > 0.0 && exp(709.0).is_finite());
        assert!(exp(f64::NAN).is_nan());
    }

    #[test]
    fn round_takes_ties_to_even() {
        for (x, expected) in [(0.5, 0.0), (1.5, 2.0), (2.5, 2.0), (-1.5, -2.0), (-0.49, 0.0)] {
            assert_eq!(round(x), expected);
        }
        for x in points(-1e9, 1e9, 10_000) {
            assert_eq!(round(x), x.round_ties_even());
        }
    }
}
