//! The butterflies of the transform: transforms of four and of eight numbers, and what joins shorter transforms by them.
//!
//! They are written for one lane and looped over the lanes: of such a long body the compiler makes vector code, one
//! operation on all lanes for each operation here.

use crate::math::Complex;
use num_complex::Complex32 as Number;

/// Twiddles of one row of `R` transforms to be joined, which are in bit-reversed order: those of all but the first.
pub(super) trait Twiddles<const R: usize> {
    /// Joins that row of each of the transforms.
    fn join<const W: usize>(&self, rows: [Complex<W>; R]) -> [Complex<W>; R];
}

impl Twiddles<4> for [Number; 3] {
    #[inline(always)]
    fn join<const W: usize>(&self, x: [Complex<W>; 4]) -> [Complex<W>; 4] {
        let mut y = [Complex::ZERO; 4];
        for l in 0..W {
            let (a, b) = (lane(&x[0], l), lane(&x[2], l) * self[1]);
            let (c, d) = (lane(&x[1], l) * self[0], lane(&x[3], l) * self[2]);
            put_lane(&mut y, l, of_four([a, b, c, d]));
        }
        y
    }
}

impl Twiddles<8> for [Number; 7] {
    #[inline(always)]
    fn join<const W: usize>(&self, x: [Complex<W>; 8]) -> [Complex<W>; 8] {
        let mut y = [Complex::ZERO; 8];
        for l in 0..W {
            let (a, c) = (lane(&x[0], l), lane(&x[2], l) * self[1]);
            let (e, g) = (lane(&x[1], l) * self[0], lane(&x[3], l) * self[2]);
            let (b, d) = (lane(&x[4], l) * self[3], lane(&x[6], l) * self[5]);
            let (f, h) = (lane(&x[5], l) * self[4], lane(&x[7], l) * self[6]);
            put_lane(&mut y, l, of_eight([a, c, e, g], [b, d, f, h]));
        }
        y
    }
}

/// The complex number of one lane.
#[inline(always)]
fn lane<const W: usize>(x: &Complex<W>, l: usize) -> Number {
    Number::new(x.re.0[l], x.im.0[l])
}

/// Sets one lane of some rows.
#[inline(always)]
pub(super) fn put_lane<const R: usize, const W: usize>(
    rows: &mut [Complex<W>; R],
    l: usize,
    numbers: [Number; R],
) {
    for (row, number) in rows.iter_mut().zip(numbers) {
        (row.re.0[l], row.im.0[l]) = (number.re, number.im);
    }
}

/// The transform of four numbers.
#[inline(always)]
pub(super) fn of_four([a, b, c, d]: [Number; 4]) -> [Number; 4] {
    let (sum, difference) = (a + c, a - c);
    let (other, quarter_turn) = (b + d, times_j(b - d));
    [sum + other, difference + quarter_turn, sum - other, difference - quarter_turn]
}

/// The transform of eight numbers: of the even ones and of the odd ones, joined.
#[inline(always)]
pub(super) fn of_eight(even: [Number; 4], odd: [Number; 4]) -> [Number; 8] {
    let [a, b, c, d] = of_four(even);
    let [e, f, g, h] = of_four(odd);
    let (f, g, h) = (times_eighth_turn(f), times_j(g), times_j(times_eighth_turn(h)));
    [a + e, b + f, c + g, d + h, a - e, b - f, c - g, d - h]
}

#[inline(always)]
fn times_j(x: Number) -> Number {
    Number::new(-x.im, x.re)
}

/// The product with exp(j pi/4).
#[inline(always)]
fn times_eighth_turn(x: Number) -> Number {
    Number::new(x.re - x.im, x.re + x.im) * std::f32::consts::FRAC_1_SQRT_2
}
