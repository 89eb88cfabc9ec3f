//! Branch-free inverse circular functions in double precision, for all lanes of a figure at once; as
//! [`super::elementary`], bits equal at any vector width.

use super::{PI, elementary::polynomial};

/// (-1)^k/(2k+1) for k = 0..11.
const ATAN: [f64; 12] = [
    1.0,
    -1.0 / 3.0,
    1.0 / 5.0,
    -1.0 / 7.0,
    1.0 / 9.0,
    -1.0 / 11.0,
    1.0 / 13.0,
    -1.0 / 15.0,
    1.0 / 17.0,
    -1.0 / 19.0,
    1.0 / 21.0,
    -1.0 / 23.0,
];

/// The tangent of half the angle whose tangent is `x`.
#[inline(always)]
fn half(x: f64) -> f64 {
    x / (1.0 + (1.0 + x * x).sqrt())
}

/// The angle whose tangent is `x`, |x| <= 1: halved twice, then the Taylor series, |x| <= tan(pi/16).
#[inline(always)]
fn atan(x: f64) -> f64 {
    let quarter = half(half(x));
    4.0 * quarter * polynomial(quarter * quarter, &ATAN)
}

/// The arc sine of `x`, rad, relative error below 2e-15; beyond -1..1 that of the nearer end. NaN stays NaN.
#[inline(always)]
pub(crate) fn asin(x: f64) -> f64 {
    let x = if x > 1.0 { 1.0 } else { x };
    let x = if x < -1.0 { -1.0 } else { x };
    2.0 * atan(x / (1.0 + ((1.0 - x) * (1.0 + x)).sqrt()))
}

/// The angle of the complex number `re` + j `im`, rad within half a turn, absolute error below 2e-15; NaN for zero.
#[inline(always)]
pub(crate) fn angle(re: f64, im: f64) -> f64 {
    let magnitude = (re * re + im * im).sqrt();
    let from_axis = 2.0 * atan(im / (magnitude + re.abs()));
    if re < 0.0 { PI.copysign(im) - from_axis } else { from_axis }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::scalar;

    fn points(count: i32) -> impl Iterator<Item = f64> {
        (-count..=count).map(move |i| f64::from(i) / f64::from(count))
    }

    #[test]
    fn asin_is_right_to_the_last_digits() {
        for x in points(50_000).chain(points(1000).map(|x| 1e-6 * x)) {
            let expected = scalar::asin(x);
            // At the ends the argument's own last bit moves the angle by the root of it.
            assert!((asin(x) - expected).abs() <= 2e-15 * expected.abs(), "asin({x}) = {}", asin(x));
        }
        assert_eq!(asin(1.5), asin(1.0));
        assert!(asin(f64::NAN).is_nan());
    }

    #[test]
    fn angle_is_right_all_around() {
        for turn in points(20_000) {
            for size in [1e-9, 1.0, 1e9] {
                let (im, re) = (size * scalar::sin(PI * turn), size * scalar::cos(PI * turn));
                let expected = scalar::atan2(im, re);
                assert!((angle(re, im) - expected).abs() < 2e-15, "{turn}: {}", angle(re, im));
            }
        }
        assert_eq!(angle(1.0, 0.0), 0.0);
        assert_eq!(angle(-1.0, 0.0), PI);
        assert!(angle(0.0, 0.0).is_nan());
    }
}
