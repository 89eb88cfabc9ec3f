//! Branch-free kernels in single precision, for the bulk of a trial: readings, tables of states, patterns.
//!
//! As in [`super::elementary`] only additions, multiplications, roots and bit moves, so the bits are equal at any
//! vector width. Each states its error bound, and a test at the foot holds it against double precision over the whole
//! range. The polynomials are minimax fits in the weight that the bound is stated in (linear programming on a dense
//! grid in double precision).
#![allow(clippy::excessive_precision, reason = "the coefficients stand as fitted")]

/// 1.5 * 2^23: adding it leaves a number below 2^22 rounded to an integer in the low bits.
const ROUNDER: f32 = 12_582_912.0;
const MANTISSA: u32 = 0x007f_ffff;

// ln 2 in two parts; the first has 9 trailing zero bits, so an exponent times it is exact.
const LN_2_HIGH: f32 = f32::from_bits(0x3f31_7200);
const LN_2_LOW: f32 = 1.428_606_8e-6;

// pi/2 in two parts; the first has 8 trailing zero bits, so a quadrant number up to 2^8 times it is exact.
const HALF_PI_HIGH: f32 = f32::from_bits(0x3fc90f00);
const HALF_PI_LOW: f32 = f32::from_bits(0x37daa221);

const LN: [f32; 7] =
    [0.333_339_1, -0.250_013_38, 0.199_630_56, -0.165_775_76, 0.149_148_27, -0.142_675_65, 0.087_003_82];
const EXP: [f32; 5] = [0.499_999_94, 0.166_665_21, 0.041_668_363, 0.008_368_728, 0.001_381_593_5];
const SIN: [f32; 3] = [-0.166_666_51, 0.008_331_977, -0.000_194_954_98];
const COS: [f32; 3] = [0.041_666_64, -0.001_388_722_8, 2.442_483_9e-5];

const ATAN: [f32; 7] = [
    -0.333_323_93,
    0.199_742_14,
    -0.140_413_25,
    0.099_684_68,
    -0.060_203_087,
    0.024_734_054,
    -0.004_822_537_3,
];

/// The polynomial `c[0] + c[1] x + ...` of up to eight terms, in pairs, pairs of pairs and so on (Estrin 1960): few
/// operations wait for one another, which is what limits the speed.
#[inline(always)]
pub(super) fn polynomial<const N: usize>(x: f32, c: &[f32; N]) -> f32 {
    let term = |i: usize| if i < N { c[i] } else { 0.0 };
    let pair = |i: usize| if i + 1 < N { term(i) + x * term(i + 1) } else { term(i) };
    let square = x * x;
    let four = |i: usize| if i + 2 < N { pair(i) + square * pair(i + 2) } else { pair(i) };
    if N > 4 { four(0) + square * square * four(4) } else { four(0) }
}

/// The nearest integer, ties to even, for |x| < 2^22.
#[inline(always)]
pub(crate) fn round(x: f32) -> f32 {
    (x + ROUNDER) - ROUNDER
}

/// An angle, rad, without its whole turns: within half a turn either way.
#[inline(always)]
pub(crate) fn within_half_a_turn(angle: f32) -> f32 {
    const TURN: f32 = std::f32::consts::TAU;
    angle - TURN * round(angle * (1.0 / TURN))
}

/// The low bits of the nearest integer, ties to even, for |x| < 2^22: a conversion without a saturation to check for.
#[inline(always)]
pub(crate) fn nearest_bits(x: f32) -> u32 {
    (x + ROUNDER).to_bits() & 0x003f_ffff
}

/// The natural logarithm of a normal positive `x`: relative error below 2e-7.
///
/// With x = 2^k (1 + f): ln(1 + f) = f - f^2/2 + f^3 P(f). Zero gives about -88 and not an infinity; a negative
/// number or NaN gives no meaningful value.
#[inline(always)]
pub(crate) fn ln(x: f32) -> f32 {
    // Moves the split of the binades from 1 to sqrt(1/2), so that |f| is small on both sides.
    const ONE: u32 = 0x3f80_0000;
    const ROOT_HALF: u32 = 0x3f35_04f3;
    // The bits of 2^23, under which an integer is a number's low bits.
    const INTEGER: u32 = 0x4b00_0000;
    let shifted = x.to_bits().wrapping_add(ONE - ROOT_HALF);
    let k = f32::from_bits(INTEGER | (shifted >> 23)) - (f32::from_bits(INTEGER) + 127.0);
    let f = f32::from_bits((shifted & MANTISSA) + ROOT_HALF) - 1.0;
    let square = f * f;
    let rest = square * (f * polynomial(f, &LN) - 0.5) + k * LN_2_LOW;
    k * LN_2_HIGH + (f + rest)
}

/// The exponential of `x`: relative error below 3e-7; saturates outside -87..88 instead of reaching zero or infinity.
/// NaN stays NaN.
#[inline(always)]
pub(crate) fn exp(x: f32) -> f32 {
    let x = if x < -87.0 { -87.0 } else { x };
    let x = if x > 88.0 { 88.0 } else { x };
    let counted = x * std::f32::consts::LOG2_E + ROUNDER;
    let k = counted - ROUNDER;
    let r = (x - k * LN_2_HIGH) - k * LN_2_LOW;
    let power = 1.0 + (r + r * r * polynomial(r, &EXP));
    // The low bits of `counted` are k; adding them to the exponent field multiplies by 2^k.
    f32::from_bits(power.to_bits().wrapping_add(counted.to_bits() << 23))
}

/// Sine and cosine of `x` radians for |x| < 400: absolute error below 2e-7.
#[inline(always)]
pub(crate) fn sin_cos(x: f32) -> (f32, f32) {
    let counted = x * std::f32::consts::FRAC_2_PI + ROUNDER;
    let k = counted - ROUNDER;
    let quadrant = counted.to_bits();
    let r = (x - k * HALF_PI_HIGH) - k * HALF_PI_LOW;
    let z = r * r;
    let sin = r + r * (z * polynomial(z, &SIN));
    let cos = 1.0 + (z * z * polynomial(z, &COS) - 0.5 * z);
    let odd = quadrant & 1 != 0;
    let (first, second) = if odd { (cos, sin) } else { (sin, cos) };
    let sin_sign = (quadrant & 2) << 30;
    let cos_sign = (quadrant.wrapping_add(1) & 2) << 30;
    (f32::from_bits(first.to_bits() ^ sin_sign), f32::from_bits(second.to_bits() ^ cos_sign))
}

/// Real and imaginary part of size exp(j phase), the phase in rad as for [`sin_cos`].
#[inline(always)]
pub(crate) fn polar(size: f32, phase: f32) -> (f32, f32) {
    let (sine, cosine) = sin_cos(phase);
    (size * cosine, size * sine)
}

/// The angle of (x, y) in -pi..pi: absolute error below 4e-7; 0 at the origin.
#[inline(always)]
pub(crate) fn atan2(y: f32, x: f32) -> f32 {
    let (width, height) = (x.abs(), y.abs());
    let is_steep = height > width;
    let (low, high) = if is_steep { (width, height) } else { (height, width) };
    // At the origin 0/1 in place of 0/0.
    let slope = low / if high == 0.0 { 1.0 } else { high };
    let square = slope * slope;
    let first_octant = slope + slope * (square * polynomial(square, &ATAN));
    let first_quadrant = if is_steep { std::f32::consts::FRAC_PI_2 - first_octant } else { first_octant };
    let upper_half = if x < 0.0 { std::f32::consts::PI - first_quadrant } else { first_quadrant };
    if y < 0.0 { -upper_half } else { upper_half }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::scalar;

    /// `count` points evenly over `from..to`, moved off round numbers.
    fn points(from: f64, to: f64, count: u32) -> impl Iterator<Item = f32> {
        (0..count).map(move |i| (from + (to - from) * (f64::from(i) + 0.381_966) / f64::from(count)) as f32)
    }

    #[test]
    fn ln_is_right_over_all_binades() {
        let near_one = points(0.5, 2.0, 200_000);
        let all = points(-125.0, 127.0, 200_000).map(|x| scalar::exp2(f64::from(x)) as f32);
        for x in near_one.chain(all).chain([f32::MIN_POSITIVE, f32::MAX, 1.0 + f32::EPSILON]) {
            let expected = scalar::ln(f64::from(x));
            let error = (f64::from(ln(x)) - expected).abs();
            assert!(error <= 2e-7 * expected.abs(), "ln({x}) = {}, not {expected}", ln(x));
        }
        assert_eq!(ln(1.0), 0.0);
        assert!(ln(0.0) < -87.0);
    }

    #[test]
    fn exp_is_right_and_saturates() {
        for x in points(-86.9, 87.9, 200_000).chain(points(-0.4, 0.4, 50_000)) {
            let expected = scalar::exp(f64::from(x));
            let error = (f64::from(exp(x)) / expected - 1.0).abs();
            // What the argument's own last bit moves comes on top of the kernel's own error.
            assert!(error <= 3e-7, "exp({x}) = {}, {error}", exp(x));
        }
        assert_eq!(exp(0.0), 1.0);
        assert_eq!(exp(-1e9), exp(-87.0));
        assert_eq!(exp(f32::INFINITY), exp(88.0));
        assert!(exp(-87.0) > 0.0 && exp(88.0).is_finite() && exp(f32::NAN).is_nan());
    }

    #[test]
    fn sin_cos_are_right_far_from_zero_too() {
        let multiples = (-500..500).map(|k| (f64::from(k) * std::f64::consts::FRAC_PI_4) as f32);
        for x in points(-400.0, 400.0, 400_000).chain(points(-7.0, 7.0, 200_000)).chain(multiples) {
            let (sin, cos) = sin_cos(x);
            let (expected_sin, expected_cos) = scalar::sin_cos(f64::from(x));
            assert!((f64::from(sin) - expected_sin).abs() < 2e-7, "sin({x}) = {sin}");
            assert!((f64::from(cos) - expected_cos).abs() < 2e-7, "cos({x}) = {cos}");
        }
        assert_eq!(sin_cos(0.0), (0.0, 1.0));
        assert!(sin_cos(f32::NAN).0.is_nan() && sin_cos(f32::NAN).1.is_nan());
    }

    #[test]
    fn atan2_is_right_all_around() {
        for angle in points(-std::f64::consts::PI, std::f64::consts::PI, 100_000) {
            let (y, x) = scalar::sin_cos(f64::from(angle));
            for size in [1e-20, 1.0, 3e18] {
                let (y, x) = ((size * y) as f32, (size * x) as f32);
                let expected = scalar::atan2(f64::from(y), f64::from(x));
                assert!(
                    (f64::from(atan2(y, x)) - expected).abs() < 4e-7,
                    "atan2({y}, {x}) = {}",
                    atan2(y, x)
                );
            }
        }
        assert_eq!((atan2(0.0, 0.0), atan2(0.0, 2.0), atan2(0.0, -1.0)), (0.0, 0.0, std::f32::consts::PI));
        assert!(atan2(f32::NAN, 1.0).is_nan() && atan2(1.0, f32::NAN).is_nan());
    }

    #[test]
    fn round_takes_ties_to_even() {
        for (x, expected) in [(0.5, 0.0), (1.5, 2.0), (2.5, 2.0), (-1.5, -2.0), (-0.49, 0.0)] {
            assert_eq!(round(x), expected);
        }
        for x in points(-1e6, 1e6, 10_000) {
            assert_eq!(round(x), x.round_ties_even());
            assert_eq!(nearest_bits(x), x.round_ties_even() as i32 as u32 & 0x003f_ffff);
        }
    }
}
