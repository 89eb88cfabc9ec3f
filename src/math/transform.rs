//! The discrete Fourier transform of few samples onto several times as many bins, for all lanes at once, in single
//! precision.

use super::lanes::{Complex, Lanes};
use super::{TAU, scalar};
use multiversion::multiversion;

/// The tables of a transform; make it once, run it often.
///
/// One short transform for each fraction of a bin, which stays in the first-level cache where one long one would not:
/// the samples are turned by the fraction as they are read.
#[derive(Clone, Debug)]
pub struct Transform {
    samples: usize,
    fractions: usize,
    length: usize,
    /// exp(+j 2 pi n s/(length fractions)), `[s][n]`.
    turns: Vec<(f32, f32)>,
    /// First sample of each butterfly of the first pass, in the order of bit reversal.
    starts: Vec<usize>,
    /// For each later pass the twiddles of one block, `[pass][row]`.
    twiddles: Vec<Vec<[(f32, f32); 3]>>,
}

/// Samples to transform: complex numbers `stride` rows apart, `[row][lane]`.
#[derive(Clone, Copy, Debug)]
pub struct Samples<'a, const W: usize> {
    /// Real parts.
    pub re: &'a [[f32; W]],
    /// Imaginary parts.
    pub im: &'a [[f32; W]],
    /// Rows from one sample to the next.
    pub stride: usize,
}

/// Where the bins go: bin `first` to row 0 and so on around the period, `stride` rows apart.
#[derive(Clone, Copy, Debug)]
pub struct Order {
    /// The bin that comes first.
    pub first: usize,
    /// Rows from one bin to the next.
    pub stride: usize,
    /// How many bins are wanted.
    pub count: usize,
}

impl Transform {
    /// The tables for `samples` samples and `fractions` (a power of two) bins for each bin of the shortest power of two
    /// that holds them; a single sample has one bin.
    ///
    /// # Panics
    /// If there are no samples.
    pub fn new(samples: usize, fractions: usize) -> Self {
        assert!(samples > 0, "a transform has at least one sample");
        let length = samples.next_power_of_two();
        let fractions = if samples == 1 { 1 } else { fractions };
        let turn_of = |s, n| if n < samples { turn(n * s, length * fractions) } else { (0.0, 0.0) };
        let turns = (0..fractions).flat_map(|s| (0..length).map(move |n| turn_of(s, n)));
        let first = first_radix(length);
        let blocks = length / first;
        let unused = (usize::BITS - blocks.trailing_zeros()) % usize::BITS;
        let mut twiddles = Vec::new();
        let mut half = first;
        while half < length {
            let of_row = |j| [1, 2, 3].map(|power| turn(power * j, 4 * half));
            twiddles.push((0..half).map(of_row).collect());
            half *= 4;
        }
        Self {
            samples,
            fractions,
            length,
            turns: turns.collect(),
            starts: (0..blocks).map(|i| (i << unused).reverse_bits()).collect(),
            twiddles,
        }
    }

    /// Number of bins: one period of the transform.
    pub fn bins(&self) -> usize {
        self.length * self.fractions
    }

    /// Number of samples.
    pub fn samples(&self) -> usize {
        self.samples
    }

    /// X\[k\] = sum over n of x\[n\] exp(+j 2 pi n k/bins), unscaled, for each of `W` lanes. `room` is made as large as
    /// is needed. A lane's bits do not depend on `W`.
    ///
    /// Radix 4 after a first pass of radix 4 or 8, decimation in time (Cooley & Tukey, Mathematics of Computation 19,
    /// 1965, 297-301).
    pub fn field<const W: usize>(
        &self,
        samples: Samples<W>,
        room: &mut Vec<Complex<W>>,
        order: Order,
        re: &mut [[f32; W]],
        im: &mut [[f32; W]],
    ) {
        room.resize(self.length, Complex::ZERO);
        field(self, samples, room, order, re, im);
    }

    /// The square of the magnitude of each bin of [`Self::field`].
    pub fn power<const W: usize>(
        &self,
        samples: Samples<W>,
        room: &mut Vec<Complex<W>>,
        order: Order,
        power: &mut [[f32; W]],
    ) {
        room.resize(self.length, Complex::ZERO);
        self::power(self, samples, room, order, power);
    }
}

/// The first pass takes what passes of radix 4 leave over.
fn first_radix(length: usize) -> usize {
    match length {
        1 | 2 => length,
        _ if length.trailing_zeros().is_multiple_of(2) => 4,
        _ => 8,
    }
}

/// (cos, sin) of 2 pi k / len for a power of two `len`, to the last bit or nearly so: the angle is
/// brought into the first octant in whole numbers, where nothing rounds.
fn turn(k: usize, len: usize) -> (f32, f32) {
    let eighths = 8 * (k % len);
    let (octant, rest) = (eighths / len, eighths % len);
    let from_axis = if octant % 2 == 0 { rest } else { len - rest };
    let angle = TAU / 8.0 * (from_axis as f64 / len as f64);
    let (sin, cos) = (scalar::sin(angle) as f32, scalar::cos(angle) as f32);
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

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn field<const W: usize>(
    transform: &Transform,
    samples: Samples<W>,
    room: &mut [Complex<W>],
    order: Order,
    re: &mut [[f32; W]],
    im: &mut [[f32; W]],
) {
    run(transform, samples, room, order, |row, bin| {
        re[row] = bin.re.0;
        im[row] = bin.im.0;
    });
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn power<const W: usize>(
    transform: &Transform,
    samples: Samples<W>,
    room: &mut [Complex<W>],
    order: Order,
    power: &mut [[f32; W]],
) {
    run(transform, samples, room, order, |row, bin| power[row] = bin.power().0);
}

#[inline(always)]
fn run<const W: usize>(
    transform: &Transform,
    samples: Samples<W>,
    room: &mut [Complex<W>],
    order: Order,
    mut output: impl FnMut(usize, Complex<W>),
) {
    let bins = transform.bins();
    for s in 0..transform.fractions {
        first_pass(transform, samples, s, room);
        let mut put = |bin: usize, value: Complex<W>| {
            let at = (transform.fractions * bin + s + bins - order.first) & (bins - 1);
            if at < order.count {
                output(at * order.stride, value);
            }
        };
        let Some((last, middle)) = transform.twiddles.split_last() else {
            room.iter().enumerate().for_each(|(bin, value)| put(bin, *value));
            continue;
        };
        for twiddles in middle {
            for block in room.chunks_exact_mut(4 * twiddles.len()) {
                let [a, b, c, d] = quarters(block);
                let rows = a.iter_mut().zip(b).zip(c).zip(d).zip(twiddles);
                for ((((a, b), c), d), twiddle) in rows {
                    [*a, *b, *c, *d] = joined([*a, *b, *c, *d], twiddle);
                }
            }
        }
        let [a, b, c, d] = quarters(room);
        let rows = a.iter().zip(b).zip(c).zip(d).zip(last);
        for (bin, ((((a, b), c), d), twiddle)) in rows.enumerate() {
            let joined = joined([*a, *b, *c, *d], twiddle);
            for (quarter, value) in joined.into_iter().enumerate() {
                put(bin + quarter * last.len(), value);
            }
        }
    }
}

/// Reads the samples in the order of bit reversal, turned by a fraction of a bin, and takes the first butterflies.
#[inline(always)]
fn first_pass<const W: usize>(transform: &Transform, samples: Samples<W>, s: usize, room: &mut [Complex<W>]) {
    let radix = first_radix(transform.length);
    let turns = &transform.turns[s * transform.length..][..transform.length];
    let input = Input { samples, turns, last: transform.samples - 1, step: transform.length / radix };
    let starts = transform.starts.iter();
    match radix {
        1 => room[0] = input.read(0, 0),
        2 => (room[0], room[1]) = (input.read(0, 0) + input.read(0, 1), input.read(0, 0) - input.read(0, 1)),
        4 => {
            for (rows, start) in room.as_chunks_mut::<4>().0.iter_mut().zip(starts) {
                *rows = of_four(input.read_four(*start, 0, 1));
            }
        }
        _ => {
            for (rows, start) in room.as_chunks_mut::<8>().0.iter_mut().zip(starts) {
                *rows = of_eight(input.read_four(*start, 0, 2), input.read_four(*start, 1, 2));
            }
        }
    }
}

/// Samples and what they are turned by.
struct Input<'a, const W: usize> {
    samples: Samples<'a, W>,
    /// A turn for each sample, and zeros for those that are missing to a power of two.
    turns: &'a [(f32, f32)],
    last: usize,
    /// Samples from one input of a butterfly to the next.
    step: usize,
}

impl<const W: usize> Input<'_, W> {
    /// Input `i` of the butterfly that starts at a sample.
    #[inline(always)]
    fn read(&self, start: usize, i: usize) -> Complex<W> {
        let n = start + i * self.step;
        let at = n.min(self.last) * self.samples.stride;
        let sample = Complex { re: Lanes(self.samples.re[at]), im: Lanes(self.samples.im[at]) };
        sample.times(self.turns[n])
    }

    /// Every `by`th of its inputs from `i` on.
    #[inline(always)]
    fn read_four(&self, start: usize, i: usize, by: usize) -> [Complex<W>; 4] {
        let read = |k: usize| self.read(start, i + k * by);
        [read(0), read(1), read(2), read(3)]
    }
}

/// Joins one row of each of four transforms, which lie in bit-reversed order.
#[inline(always)]
fn joined<const W: usize>([a, b, c, d]: [Complex<W>; 4], twiddle: &[(f32, f32); 3]) -> [Complex<W>; 4] {
    of_four([a, c.times(twiddle[0]), b.times(twiddle[1]), d.times(twiddle[2])])
}

/// The transform of four rows.
#[inline(always)]
fn of_four<const W: usize>([a, b, c, d]: [Complex<W>; 4]) -> [Complex<W>; 4] {
    let (sum, difference) = (a + c, a - c);
    let (other, quarter_turn) = (b + d, b - d);
    // j times `quarter_turn`, its signs folded into the sums.
    let (re, im) = (quarter_turn.re, quarter_turn.im);
    [
        sum + other,
        Complex { re: difference.re - im, im: difference.im + re },
        sum - other,
        Complex { re: difference.re + im, im: difference.im - re },
    ]
}

/// The transform of eight rows: of the even ones and of the odd ones, joined.
#[inline(always)]
fn of_eight<const W: usize>(even: [Complex<W>; 4], odd: [Complex<W>; 4]) -> [Complex<W>; 8] {
    let [a, b, c, d] = of_four(even);
    let [e, f, g, h] = of_four(odd);
    let (f, g, h) = (f.times_eighth_turn(), g.times_j(), h.times_eighth_turn().times_j());
    [a + e, b + f, c + g, d + h, a - e, b - f, c - g, d - h]
}

#[inline(always)]
fn quarters<T>(x: &mut [T]) -> [&mut [T]; 4] {
    let (left, right) = x.split_at_mut(x.len() / 2);
    let (a, b) = left.split_at_mut(left.len() / 2);
    let (c, d) = right.split_at_mut(right.len() / 2);
    [a, b, c, d]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Largest error over the root of (energy times length): a few roundings to 24 bits, where one is 6e-8.
    const BOUND: f64 = 2.5e-7;

    /// Numbers without structure, from the fractional parts of multiples of an irrational.
    fn signal(len: usize, offset: f64) -> Vec<f32> {
        (0..len).map(|i| (((i as f64 + offset) * 0.618_033_988_75).fract() - 0.5) as f32).collect()
    }

    /// One bin by its definition, in double precision.
    fn direct(re: &[f32], im: &[f32], k: usize, bins: usize) -> (f64, f64) {
        let mut sum = (0.0, 0.0);
        for (n, (re, im)) in re.iter().zip(im).enumerate() {
            let angle = TAU * ((n * k % bins) as f64 / bins as f64);
            let (sine, cosine) = scalar::sin_cos(angle);
            let (re, im) = (f64::from(*re), f64::from(*im));
            sum.0 += re * cosine - im * sine;
            sum.1 += re * sine + im * cosine;
        }
        sum
    }

    type Field<const W: usize> = (Vec<[f32; W]>, Vec<[f32; W]>);

    fn transformed<const W: usize>(transform: &Transform, re: &[[f32; W]], im: &[[f32; W]]) -> Field<W> {
        let bins = transform.bins();
        let (mut to_re, mut to_im) = (vec![[0.0; W]; bins], vec![[0.0; W]; bins]);
        let order = Order { first: 0, stride: 1, count: bins };
        let samples = Samples { re, im, stride: 1 };
        transform.field(samples, &mut Vec::new(), order, &mut to_re, &mut to_im);
        (to_re, to_im)
    }

    fn check<const W: usize>(samples: usize, fractions: usize) {
        let lanes: Vec<_> = (0..W)
            .map(|l| (signal(samples, 3.0 + l as f64), signal(samples, 17.5 * (1.0 + l as f64))))
            .collect();
        let re: Vec<[f32; W]> = (0..samples).map(|n| std::array::from_fn(|l| lanes[l].0[n])).collect();
        let im: Vec<[f32; W]> = (0..samples).map(|n| std::array::from_fn(|l| lanes[l].1[n])).collect();
        let transform = Transform::new(samples, fractions);
        let bins = transform.bins();
        let (to_re, to_im) = transformed(&transform, &re, &im);
        for (l, (lane_re, lane_im)) in lanes.iter().enumerate() {
            let alone = |x: &[f32]| x.iter().map(|x| [*x]).collect::<Vec<[f32; 1]>>();
            let (one_re, one_im) = transformed(&transform, &alone(lane_re), &alone(lane_im));
            // The rounding errors scale with the root of the signal's energy.
            let energy = lane_re.iter().chain(lane_im).map(|x| f64::from(*x).powi(2)).sum::<f64>();
            let size = (energy * samples as f64).sqrt();
            for k in 0..bins {
                let (sum_re, sum_im) = direct(lane_re, lane_im, k, bins);
                let found = (f64::from(to_re[k][l]), f64::from(to_im[k][l]));
                let error = (found.0 - sum_re).abs().max((found.1 - sum_im).abs());
                assert!(error < BOUND * size, "{samples}, {k}: {found:?} is off by {}", error / size);
                assert_eq!(to_re[k][l].to_bits(), one_re[k][0].to_bits());
                assert_eq!(to_im[k][l].to_bits(), one_im[k][0].to_bits());
            }
        }
    }

    #[test]
    fn agrees_with_the_direct_sum_at_every_length_and_width() {
        for samples in [1, 2, 3, 4, 5, 8, 13, 16, 32, 57, 64, 128, 256, 300, 512, 1024] {
            check::<1>(samples, 1);
            check::<4>(samples, 2);
            check::<8>(samples, 4);
            check::<16>(samples, 4);
        }
    }

    #[test]
    fn the_sign_is_plus() {
        // One sample at n = 1 gives exp(+j 2 pi k / 4).
        let re = [[0.0], [1.0], [0.0], [0.0]];
        let (to_re, to_im) = transformed(&Transform::new(4, 1), &re, &[[0.0]; 4]);
        assert_eq!(to_re, [[1.0], [0.0], [-1.0], [0.0]]);
        assert_eq!(to_im, [[0.0], [1.0], [0.0], [-1.0]]);
    }

    #[test]
    fn powers_come_in_the_order_asked_for() {
        let re: Vec<[f32; 1]> = signal(5, 1.0).iter().map(|x| [*x]).collect();
        let transform = Transform::new(5, 2);
        let (to_re, to_im) = transformed(&transform, &re, &re);
        let order = Order { first: 11, stride: 3, count: 9 };
        let mut power = vec![[-1.0f32]; 27];
        let samples = Samples { re: &re, im: &re, stride: 1 };
        transform.power(samples, &mut Vec::new(), order, &mut power);
        for (row, power) in power.iter().enumerate() {
            let bin = (row / 3 + 11) % 16;
            let expected = to_re[bin][0] * to_re[bin][0] + to_im[bin][0] * to_im[bin][0];
            assert_eq!(power[0], if row % 3 == 0 { expected } else { -1.0 });
        }
    }

    #[test]
    fn twiddles_are_right_to_the_last_bit() {
        for len in [8, 64, 1024] {
            for k in 0..len {
                let (cos, sin) = turn(k, len);
                let angle = TAU * (k as f64 / len as f64);
                assert!((f64::from(cos) - scalar::cos(angle)).abs() < 3.1e-8);
                assert!((f64::from(sin) - scalar::sin(angle)).abs() < 3.1e-8);
            }
        }
        assert_eq!(turn(256, 1024), (0.0, 1.0));
    }
}
