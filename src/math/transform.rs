//! The discrete Fourier transform of short power-of-two lengths, for all lanes at once.

use super::{TAU, scalar};
use multiversion::multiversion;

/// The tables of a transform of one length; make it once, run it often.
#[derive(Clone, Debug)]
pub struct Transform {
    len: usize,
    /// exp(+j 2 pi k / len) for k < 3/4 len.
    cos: Vec<f64>,
    sin: Vec<f64>,
    /// Pairs of indices that bit reversal exchanges.
    swaps: Vec<(usize, usize)>,
}

impl Transform {
    /// The tables for `len`, a power of two.
    ///
    /// # Panics
    /// If `len` is not a power of two.
    pub fn new(len: usize) -> Self {
        assert!(len.is_power_of_two(), "a transform's length must be a power of two, not {len}");
        let (cos, sin) = (0..(3 * len).div_ceil(4)).map(|k| turn(k, len)).unzip();
        let unused = (usize::BITS - len.trailing_zeros()) % usize::BITS;
        let swaps = (0..len)
            .map(|i| (i, (i << unused).reverse_bits()))
            .filter(|(i, reversed)| i < reversed)
            .collect();
        Self { len, cos, sin, swaps }
    }

    /// In place X\[k\] = sum over n of x\[n\] exp(+j 2 pi n k / len), unscaled, natural order in
    /// and out, for each of `W` lanes: `re` and `im` are `[index][lane]`, `len * W` each. A
    /// lane's bits do not depend on `W`.
    ///
    /// Radix 4 with one stage of radix 2 where the length asks for it, decimation in time after
    /// bit reversal (Cooley & Tukey, Mathematics of Computation 19, 1965, 297-301).
    pub fn run<const W: usize>(&self, re: &mut [f64], im: &mut [f64]) {
        debug_assert_eq!((re.len(), im.len()), (self.len * W, self.len * W));
        run::<W>(self, re, im);
    }
}

/// (cos, sin) of 2 pi k / len for a power of two `len`, to the last bit or nearly so: the angle is
/// brought into the first octant in whole numbers, where nothing rounds.
fn turn(k: usize, len: usize) -> (f64, f64) {
    let eighths = 8 * k;
    let (octant, rest) = (eighths / len, eighths % len);
    let from_axis = if octant % 2 == 0 { rest } else { len - rest };
    let angle = TAU / 8.0 * (from_axis as f64 / len as f64);
    let (sin, cos) = (scalar::sin(angle), scalar::cos(angle));
    match octant {
        0 => (cos, sin),
        1 => (sin, cos),
        2 => (-sin, cos),
        3 => (-cos, sin),
        4 => (-cos, -sin),
        5 => (-sin, -cos),
        6 => (sin, -cos),
        _ => (cos, -sin),
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn run<const W: usize>(transform: &Transform, re: &mut [f64], im: &mut [f64]) {
    let len = transform.len;
    for &(i, j) in &transform.swaps {
        swap_rows::<W>(re, i, j);
        swap_rows::<W>(im, i, j);
    }
    let mut half = 1;
    if len.trailing_zeros() % 2 == 1 {
        for (re, im) in re.chunks_exact_mut(2 * W).zip(im.chunks_exact_mut(2 * W)) {
            radix_2::<W>(re);
            radix_2::<W>(im);
        }
        half = 2;
    }
    while half < len {
        let block = 4 * half * W;
        for (re, im) in re.chunks_exact_mut(block).zip(im.chunks_exact_mut(block)) {
            radix_4::<W>(transform, half, re, im);
        }
        half *= 4;
    }
}

#[inline(always)]
fn swap_rows<const W: usize>(x: &mut [f64], i: usize, j: usize) {
    let (head, tail) = x.split_at_mut(j * W);
    head[i * W..][..W].swap_with_slice(&mut tail[..W]);
}

/// Two rows: their sum and difference.
#[inline(always)]
fn radix_2<const W: usize>(x: &mut [f64]) {
    let (a, b) = x.split_at_mut(W);
    for (a, b) in a.iter_mut().zip(b) {
        (*a, *b) = (*a + *b, *a - *b);
    }
}

/// Joins four transforms of `half` rows, which lie in bit-reversed order, into one of 4 `half`.
#[inline(always)]
fn radix_4<const W: usize>(transform: &Transform, half: usize, re: &mut [f64], im: &mut [f64]) {
    let quarter = half * W;
    let stride = transform.len / (4 * half);
    let [a_re, b_re, c_re, d_re] = quarters(re, quarter);
    let [a_im, b_im, c_im, d_im] = quarters(im, quarter);
    for j in 0..half {
        let row = j * W..(j + 1) * W;
        let twiddle = |power: usize| {
            let k = power * j * stride;
            (transform.cos[k], transform.sin[k])
        };
        let (w1, w2, w3) = (twiddle(1), twiddle(2), twiddle(3));
        let a = (&mut a_re[row.clone()], &mut a_im[row.clone()]);
        let b = (&mut b_re[row.clone()], &mut b_im[row.clone()]);
        let c = (&mut c_re[row.clone()], &mut c_im[row.clone()]);
        let d = (&mut d_re[row.clone()], &mut d_im[row]);
        for l in 0..W {
            let (a0, a1) = (a.0[l], a.1[l]);
            let (b0, b1) = times((b.0[l], b.1[l]), w2);
            let (c0, c1) = times((c.0[l], c.1[l]), w1);
            let (d0, d1) = times((d.0[l], d.1[l]), w3);
            let (sum, difference) = ((a0 + b0, a1 + b1), (a0 - b0, a1 - b1));
            let (other, quarter_turn) = ((c0 + d0, c1 + d1), (d1 - c1, c0 - d0));
            (a.0[l], a.1[l]) = (sum.0 + other.0, sum.1 + other.1);
            (c.0[l], c.1[l]) = (sum.0 - other.0, sum.1 - other.1);
            (b.0[l], b.1[l]) = (difference.0 + quarter_turn.0, difference.1 + quarter_turn.1);
            (d.0[l], d.1[l]) = (difference.0 - quarter_turn.0, difference.1 - quarter_turn.1);
        }
    }
}

#[inline(always)]
fn quarters(x: &mut [f64], quarter: usize) -> [&mut [f64]; 4] {
    let (left, right) = x.split_at_mut(2 * quarter);
    let (a, b) = left.split_at_mut(quarter);
    let (c, d) = right.split_at_mut(quarter);
    [a, b, c, d]
}

#[inline(always)]
fn times((re, im): (f64, f64), (cos, sin): (f64, f64)) -> (f64, f64) {
    (re * cos - im * sin, re * sin + im * cos)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Largest error over the root of (energy times length).
    const BOUND: f64 = 4e-16;

    /// Numbers without structure, from the fractional parts of multiples of an irrational.
    fn signal(len: usize, offset: f64) -> Vec<f64> {
        (0..len).map(|i| ((i as f64 + offset) * 0.618_033_988_75).fract() - 0.5).collect()
    }

    /// One bin by its definition; Kahan's summation, so that the reference hardly rounds.
    fn direct(re: &[f64], im: &[f64], k: usize) -> (f64, f64) {
        let len = re.len();
        let sum = |term: &dyn Fn(usize) -> f64| {
            let add = |(sum, lost): (f64, f64), n: usize| {
                let term = term(n) - lost;
                let next = sum + term;
                (next, (next - sum) - term)
            };
            (0..len).fold((0.0, 0.0), add).0
        };
        let phasor = |n: usize| turn(n * k % len, len);
        (
            sum(&|n| re[n] * phasor(n).0 - im[n] * phasor(n).1),
            sum(&|n| re[n] * phasor(n).1 + im[n] * phasor(n).0),
        )
    }

    fn check<const W: usize>(len: usize) {
        let lanes: Vec<_> =
            (0..W).map(|l| (signal(len, 3.0 + l as f64), signal(len, 17.5 * (1.0 + l as f64)))).collect();
        let lane_major = (0..len * W).map(|i| (&lanes[i % W], i / W));
        let (mut re, mut im): (Vec<_>, Vec<_>) = lane_major.map(|((re, im), n)| (re[n], im[n])).unzip();
        let transform = Transform::new(len);
        transform.run::<W>(&mut re, &mut im);
        for (l, (lane_re, lane_im)) in lanes.iter().enumerate() {
            let (mut one_re, mut one_im) = (lane_re.clone(), lane_im.clone());
            transform.run::<1>(&mut one_re, &mut one_im);
            // The rounding errors scale with the root of the signal's energy.
            let energy = lane_re.iter().chain(lane_im).map(|x| x * x).sum::<f64>();
            let size = (energy * len as f64).sqrt();
            for k in 0..len {
                let (sum_re, sum_im) = direct(lane_re, lane_im, k);
                let found = (re[k * W + l], im[k * W + l]);
                let error = (found.0 - sum_re).abs().max((found.1 - sum_im).abs());
                assert!(error < BOUND * size, "{len}, {k}: {found:?} is off by {error}");
                assert_eq!(re[k * W + l].to_bits(), one_re[k].to_bits());
                assert_eq!(im[k * W + l].to_bits(), one_im[k].to_bits());
            }
        }
    }

    #[test]
    fn agrees_with_the_direct_sum_at_every_length_and_width() {
        for len in (0..=10).map(|bits| 1 << bits) {
            check::<1>(len);
            check::<4>(len);
            check::<8>(len);
        }
    }

    #[test]
    fn the_sign_is_plus() {
        // One sample at n = 1 gives exp(+j 2 pi k / 4).
        let (mut re, mut im) = ([0.0, 1.0, 0.0, 0.0], [0.0; 4]);
        Transform::new(4).run::<1>(&mut re, &mut im);
        assert_eq!(re, [1.0, 0.0, -1.0, 0.0]);
        assert_eq!(im, [0.0, 1.0, 0.0, -1.0]);
    }

    #[test]
    fn twiddles_are_right_to_the_last_bits() {
        for len in [8, 64, 1024] {
            for k in 0..len {
                let (cos, sin) = turn(k, len);
                assert!((cos * cos + sin * sin - 1.0).abs() <= 3.0 * f64::EPSILON);
                let angle = TAU * (k as f64 / len as f64);
                assert!((cos - scalar::cos(angle)).abs() < 8e-16);
                assert!((sin - scalar::sin(angle)).abs() < 8e-16);
            }
        }
        assert_eq!(turn(256, 1024), (0.0, 1.0));
    }
}
