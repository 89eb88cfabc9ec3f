//! Elementary functions over slices, compiled for several processor levels and chosen at run time.
//! Every level gives the same bits, and the same bits as the scalar kernels in
//! [`super::elementary`]. Lengths that differ are cut to the shortest.

use super::{elementary, normal};
use multiversion::multiversion;

/// Values looked at together when the far tails of the normal law are sought.
const GROUP: usize = 64;

/// The natural logarithm in place; see [`elementary::ln`].
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn ln(x: &mut [f64]) {
    for x in x {
        *x = elementary::ln(*x);
    }
}

/// The exponential in place; see [`elementary::exp`].
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn exp(x: &mut [f64]) {
    for x in x {
        *x = elementary::exp(*x);
    }
}

/// Sine and cosine of `phase` in radians; see [`elementary::sin_cos`].
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn sin_cos(phase: &[f64], sin: &mut [f64], cos: &mut [f64]) {
    for ((phase, sin), cos) in phase.iter().zip(sin).zip(cos) {
        (*sin, *cos) = elementary::sin_cos(*phase);
    }
}

/// The complex exponential exp(log_magnitude + j phase) as real and imaginary part.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn polar(log_magnitude: &[f64], phase: &[f64], re: &mut [f64], im: &mut [f64]) {
    for (((log_magnitude, phase), re), im) in log_magnitude.iter().zip(phase).zip(re).zip(im) {
        let magnitude = elementary::exp(*log_magnitude);
        let (sin, cos) = elementary::sin_cos(*phase);
        (*re, *im) = (magnitude * cos, magnitude * sin);
    }
}

/// The standard normal quantile of probabilities in (0, 1), in place; see [`normal::quantile`].
///
/// The far tails (3e-11 of all values) are looked for a group at a time, so that the common path
/// has no branch.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn normal_quantile(p: &mut [f64]) {
    for group in p.chunks_mut(GROUP) {
        if group.iter().fold(false, |any, p| any | normal::is_far(*p)) {
            for p in group {
                *p = normal::quantile(*p);
            }
        } else {
            for p in group {
                *p = normal::near_quantile(*p);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every vector body, remainder and group edge: lengths around the widths in use.
    const LENGTHS: [usize; 8] = [0, 1, 7, 8, 63, 64, 65, 1000];

    fn ramp(len: usize, from: f64, to: f64) -> Vec<f64> {
        (0..len).map(|i| from + (to - from) * (i as f64 + 0.5) / len as f64).collect()
    }

    fn same(found: &[f64], expected: impl Iterator<Item = f64>) {
        for (found, expected) in found.iter().zip(expected) {
            assert_eq!(found.to_bits(), expected.to_bits());
        }
    }

    #[test]
    fn slices_give_the_bits_of_the_scalar_kernels() {
        for len in LENGTHS {
            let source = ramp(len, 1e-3, 50.0);
            let mut found = source.clone();
            ln(&mut found);
            same(&found, source.iter().map(|x| elementary::ln(*x)));

            let source = ramp(len, -700.0, 700.0);
            let mut found = source.clone();
            exp(&mut found);
            same(&found, source.iter().map(|x| elementary::exp(*x)));

            let (mut sin, mut cos) = (source.clone(), source.clone());
            sin_cos(&source, &mut sin, &mut cos);
            same(&sin, source.iter().map(|x| elementary::sin_cos(*x).0));
            same(&cos, source.iter().map(|x| elementary::sin_cos(*x).1));

            let (mut re, mut im) = (source.clone(), source.clone());
            polar(&source, &source, &mut re, &mut im);
            same(&re, source.iter().map(|x| elementary::exp(*x) * elementary::sin_cos(*x).1));
            same(&im, source.iter().map(|x| elementary::exp(*x) * elementary::sin_cos(*x).0));
        }
    }

    #[test]
    fn normal_quantile_gives_the_scalar_bits_with_and_without_far_tails() {
        for len in LENGTHS {
            let mut source = ramp(len, 0.0, 1.0);
            for far in [None, Some(1e-13), Some(1.0 - 1e-14)] {
                if let (Some(far), Some(last)) = (far, source.last_mut()) {
                    *last = far;
                }
                let mut found = source.clone();
                normal_quantile(&mut found);
                same(&found, source.iter().map(|p| normal::quantile(*p)));
            }
        }
    }
}
