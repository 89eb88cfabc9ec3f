//! The discrete Fourier transform of few samples onto several times as many bins, for all lanes at once, in single
//! precision.

mod butterfly;

use super::lanes::{Complex, Lanes};
use super::{TAU, scalar};
use butterfly::{Twiddles, of_eight, of_four, put_lane};
use multiversion::multiversion;
use num_complex::Complex32 as Number;

/// The tables of a transform; make it once, run it often.
///
/// One short transform for each fraction of a bin, which stays in the first-level cache where one long one would not:
/// the samples are turned by the fraction as they are read.
#[derive(Clone, Debug)]
pub(crate) struct Transform {
    samples: usize,
    fractions: usize,
    length: usize,
    /// The sample n at each input of the first pass, in the order of bit reversal; beyond the last one that one again.
    inputs: Vec<usize>,
    /// What it is turned by, exp(+j 2 pi n s/(length fractions)), `[s][input]`; 0 beyond the last.
    turns: Vec<Number>,
    later: Vec<Pass>,
}

/// A pass after the first: for each row of a block the twiddles of its parts but for the first, in the order in which they
/// are.
#[derive(Clone, Debug)]
enum Pass {
    OfFour(Vec<[Number; 3]>),
    OfEight(Vec<[Number; 7]>),
}

impl Pass {
    /// Joins transforms of `part` samples each, four or eight at a time.
    fn new(part: usize, radix: usize) -> Pass {
        let twiddle = |row, power| turn(power * row, radix * part);
        if radix == 4 {
            Pass::OfFour((0..part).map(|row| [2, 1, 3].map(|power| twiddle(row, power))).collect())
        } else {
            let of_row = |row| [4, 2, 6, 1, 5, 3, 7].map(|power| twiddle(row, power));
            Pass::OfEight((0..part).map(of_row).collect())
        }
    }
}

/// Samples to transform: complex numbers `stride` rows apart, `[row][lane]`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Samples<'a, const W: usize> {
    /// Real parts.
    pub re: &'a [[f32; W]],
    /// Imaginary parts.
    pub im: &'a [[f32; W]],
    /// Rows from one sample to the next.
    pub stride: usize,
}

/// Where the bins go: bin `first` to row 0 and so on around the period, `stride` rows apart.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Order {
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
    pub(crate) fn new(samples: usize, fractions: usize) -> Self {
        assert!(samples > 0, "a transform has at least one sample");
        let length = samples.next_power_of_two();
        let fractions = if samples == 1 { 1 } else { fractions };
        let first = next_radix(length);
        let blocks = length / first;
        let unused = (usize::BITS - blocks.trailing_zeros()) % usize::BITS;
        let starts = (0..blocks).map(|i| (i << unused).reverse_bits());
        let order: Vec<usize> =
            starts.flat_map(|start| (0..first).map(move |i| start + i * blocks)).collect();
        let turn_of = |s, n| if n < samples { turn(n * s, length * fractions) } else { Number::ZERO };
        let turns = (0..fractions).flat_map(|s| order.iter().map(move |n| turn_of(s, *n))).collect();
        let mut later = Vec::new();
        let mut done = first;
        while done < length {
            let radix = next_radix(length / done);
            later.push(Pass::new(done, radix));
            done *= radix;
        }
        Self {
            samples,
            fractions,
            length,
            inputs: order.iter().map(|n| (*n).min(samples - 1)).collect(),
            turns,
            later,
        }
    }

    /// Number of bins: one period of the transform.
    pub(crate) fn bins(&self) -> usize {
        self.length * self.fractions
    }

    /// Number of samples.
    pub(crate) fn samples(&self) -> usize {
        self.samples
    }

    /// X\[k\] = sum over n of x\[n\] exp(+j 2 pi n k/bins), unscaled, for each of `W` lanes. `room` is made as large as
    /// is needed. A lane's bits do not depend on `W`.
    ///
    /// Passes of radix 8 and 4, decimation in time (Cooley & Tukey, Mathematics of Computation 19, 1965, 297-301).
    pub(crate) fn field<const W: usize>(
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
    pub(crate) fn power<const W: usize>(
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

/// The radix of the next pass where a power of two is left: 8, or 4 where passes of 8 would leave a pass of 2.
fn next_radix(left: usize) -> usize {
    match left {
        1 | 2 | 4 => left,
        16 => 4,
        _ => 8,
    }
}

/// exp(j 2 pi k/len) for a power of two `len`, to the last bit or nearly so: the angle is
/// brought into the first octant in whole numbers, where nothing rounds.
fn turn(k: usize, len: usize) -> Number {
    let eighths = 8 * (k % len);
    let (octant, rest) = (eighths / len, eighths % len);
    let from_axis = if octant % 2 == 0 { rest } else { len - rest };
    let angle = TAU / 8.0 * (from_axis as f64 / len as f64);
    let (sin, cos) = (scalar::sin(angle) as f32, scalar::cos(angle) as f32);
    let (re, im) = match octant {
        0 => (cos, sin),
        1 => (sin, cos),
        2 => (-sin, cos),
        3 => (-cos, sin),
        4 => (-cos, -sin),
        5 => (-sin, -cos),
        6 => (sin, -cos),
        _ => (cos, -sin),
    };
    Number::new(re, im)
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
        let Some((last, middle)) = transform.later.split_last() else {
            room.iter().enumerate().for_each(|(bin, value)| put(bin, *value));
            continue;
        };
        for pass in middle {
            match pass {
                Pass::OfFour(twiddles) => join_blocks(twiddles, room),
                Pass::OfEight(twiddles) => join_blocks(twiddles, room),
            }
        }
        match last {
            Pass::OfFour(twiddles) => hand_over(twiddles, room, put),
            Pass::OfEight(twiddles) => hand_over(twiddles, room, put),
        }
    }
}

/// A pass in place.
#[inline(always)]
fn join_blocks<const R: usize, T: Twiddles<R>, const W: usize>(twiddles: &[T], room: &mut [Complex<W>]) {
    let part = twiddles.len();
    for block in room.chunks_exact_mut(R * part) {
        for (row, of_row) in twiddles.iter().enumerate() {
            let joined = of_row.join(std::array::from_fn(|i| block[i * part + row]));
            for (i, value) in joined.into_iter().enumerate() {
                block[i * part + row] = value;
            }
        }
    }
}

/// The last pass, whose results go out.
#[inline(always)]
fn hand_over<const R: usize, T: Twiddles<R>, const W: usize>(
    twiddles: &[T],
    room: &[Complex<W>],
    mut put: impl FnMut(usize, Complex<W>),
) {
    let part = twiddles.len();
    for (row, of_row) in twiddles.iter().enumerate() {
        let joined = of_row.join(std::array::from_fn(|i| room[i * part + row]));
        for (i, value) in joined.into_iter().enumerate() {
            put(i * part + row, value);
        }
    }
}

/// Reads the samples in the order of bit reversal, turned by a fraction of a bin, and takes the first butterflies.
#[inline(always)]
fn first_pass<const W: usize>(transform: &Transform, samples: Samples<W>, s: usize, room: &mut [Complex<W>]) {
    let inputs = &transform.inputs;
    let turns = &transform.turns[s * inputs.len()..][..inputs.len()];
    let row = |input: usize, turn: Number| {
        let at = input * samples.stride;
        Row { re: &samples.re[at], im: &samples.im[at], turn }
    };
    match next_radix(transform.length) {
        1 | 2 => {
            let mut rows = inputs.iter().zip(turns).map(|(input, turn)| row(*input, *turn).all());
            let (first, second) = (rows.next().unwrap_or(Complex::ZERO), rows.next());
            match (room, second) {
                ([a, b], Some(second)) => (*a, *b) = (first + second, first - second),
                (room, _) => room.fill(first),
            }
        }
        4 => {
            let butterflies = inputs.as_chunks::<4>().0.iter().zip(turns.as_chunks::<4>().0);
            for (rows, (n, by)) in room.as_chunks_mut::<4>().0.iter_mut().zip(butterflies) {
                let (a, b, c, d) = (row(n[0], by[0]), row(n[1], by[1]), row(n[2], by[2]), row(n[3], by[3]));
                let mut y = [Complex::ZERO; 4];
                for l in 0..W {
                    put_lane(&mut y, l, of_four([a.lane(l), b.lane(l), c.lane(l), d.lane(l)]));
                }
                *rows = y;
            }
        }
        _ => {
            let butterflies = inputs.as_chunks::<8>().0.iter().zip(turns.as_chunks::<8>().0);
            for (rows, (n, by)) in room.as_chunks_mut::<8>().0.iter_mut().zip(butterflies) {
                let (a, b, c, d) = (row(n[0], by[0]), row(n[1], by[1]), row(n[2], by[2]), row(n[3], by[3]));
                let (e, f, g, h) = (row(n[4], by[4]), row(n[5], by[5]), row(n[6], by[6]), row(n[7], by[7]));
                let mut y = [Complex::ZERO; 8];
                for l in 0..W {
                    let even = [a.lane(l), c.lane(l), e.lane(l), g.lane(l)];
                    let odd = [b.lane(l), d.lane(l), f.lane(l), h.lane(l)];
                    put_lane(&mut y, l, of_eight(even, odd));
                }
                *rows = y;
            }
        }
    }
}

/// A sample of all lanes and what it is turned by.
struct Row<'a, const W: usize> {
    re: &'a [f32; W],
    im: &'a [f32; W],
    turn: Number,
}

impl<const W: usize> Row<'_, W> {
    #[inline(always)]
    fn lane(&self, l: usize) -> Number {
        Number::new(self.re[l], self.im[l]) * self.turn
    }

    #[inline(always)]
    fn all(&self) -> Complex<W> {
        Complex { re: Lanes(*self.re), im: Lanes(*self.im) }.times((self.turn.re, self.turn.im))
    }
}

#[cfg(test)]
mod tests;
