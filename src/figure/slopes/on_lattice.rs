//! Sums over a rectangular lattice.
//!
//! The phasor of an element is that of its column times that of its row. Those of equal spacing are products of a few, so
//! that no sine is taken for each element; and elements as far to the one side of the centre as to the other have conjugate
//! phasors, so that they are summed in pairs.

use crate::array::Lattice;
use crate::figure::probe::{Room, Source};
use crate::figure::slopes::Moments;
use crate::figure::visible::Axis;
use crate::math::{Complex, Lanes, TAU, single};

/// Pairs of channels of a row that are summed in single precision before they join the sums in double.
const BLOCK: usize = 16;

/// Moments at an offset (direction cosines) for each lane, positions counted in elements. On a line those with y stay 0.
#[inline(always)]
pub(super) fn moments<const LINE: bool, const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    lattice: &Lattice,
    u: &[f64; W],
    v: &[f64; W],
) -> Moments<W> {
    let (columns, rows) = (lattice.columns, lattice.rows);
    phasors(&source.beam_point.visible.columns, u, columns, &mut room.columns);
    if !LINE {
        phasors(&source.beam_point.visible.rows, v, rows, &mut room.rows);
    }
    let mut moments = Moments::ZERO;
    let lines = source.re.chunks_exact(columns).zip(source.im.chunks_exact(columns));
    for (row, (re, im)) in lines.enumerate() {
        let y = row as f64 - 0.5 * (rows as f64 - 1.0);
        let turn = if LINE { Complex::ZERO } else { turn_of(row, rows, &room.rows) };
        let half = columns / 2;
        let (left_re, right_re) = (&re[..half], &re[columns - half..]);
        let (left_im, right_im) = (&im[..half], &im[columns - half..]);
        let left = left_re.rchunks(BLOCK).zip(left_im.rchunks(BLOCK));
        let right = right_re.chunks(BLOCK).zip(right_im.chunks(BLOCK));
        let blocks = left.zip(right).zip(room.columns.chunks(BLOCK));
        let mut nearest = nearest_to_centre(columns) as f32;
        for ((left, right), phasors) in blocks {
            moments.add::<LINE>(along_row(left, right, phasors, 0.5 * nearest), turn, y);
            nearest += (2 * BLOCK) as f32;
        }
        if !columns.is_multiple_of(2) {
            let middle = Complex { re: Lanes(re[half]), im: Lanes(im[half]) };
            moments.add::<LINE>([middle, Complex::ZERO, Complex::ZERO], turn, y);
        }
    }
    moments
}

/// Sums over some channels left of the centre and their mirror images right of it, of which the nearest stand at x =
/// `nearest` to either side: with 1, x, x^2.
#[inline(always)]
fn along_row<const W: usize>(
    left: (&[[f32; W]], &[[f32; W]]),
    right: (&[[f32; W]], &[[f32; W]]),
    phasors: &[Complex<W>],
    nearest: f32,
) -> [Complex<W>; 3] {
    let [mut one_re, mut one_im, mut x_re, mut x_im, mut xx_re, mut xx_im] = [[0.0; W]; 6];
    let mut x = nearest;
    let left = left.0.iter().zip(left.1).rev();
    let right = right.0.iter().zip(right.1);
    for (((left_re, left_im), (right_re, right_im)), phasor) in left.zip(right).zip(phasors) {
        let square = x * x;
        for l in 0..W {
            // right p + left p* and right p - left p*, by the parts of the phasor p.
            let (cosine, sine) = (phasor.re.0[l], phasor.im.0[l]);
            let (even_re, odd_re) = (right_re[l] + left_re[l], right_re[l] - left_re[l]);
            let (even_im, odd_im) = (right_im[l] + left_im[l], right_im[l] - left_im[l]);
            let (sum_re, sum_im) = (even_re * cosine - odd_im * sine, even_im * cosine + odd_re * sine);
            let (difference_re, difference_im) =
                (odd_re * cosine - even_im * sine, odd_im * cosine + even_re * sine);
            one_re[l] += sum_re;
            one_im[l] += sum_im;
            x_re[l] += difference_re * x;
            x_im[l] += difference_im * x;
            xx_re[l] += sum_re * square;
            xx_im[l] += sum_im * square;
        }
        x += 1.0;
    }
    let complex = |re, im| Complex { re: Lanes(re), im: Lanes(im) };
    [complex(one_re, one_im), complex(x_re, x_im), complex(xx_re, xx_im)]
}

/// Twice the distance of the elements nearest to the centre of a line, those on it left out, in elements.
#[inline(always)]
fn nearest_to_centre(elements: usize) -> i32 {
    if elements.is_multiple_of(2) { 1 } else { 2 }
}

/// The phasor of one of the elements of a line.
#[inline(always)]
fn turn_of<const W: usize>(element: usize, elements: usize, phasors: &[Complex<W>]) -> Complex<W> {
    let half = elements / 2;
    if element < half {
        let Complex { re, im } = phasors[half - 1 - element];
        Complex { re, im: im * -1.0 }
    } else if element >= elements - half {
        phasors[element - (elements - half)]
    } else {
        Complex { re: Lanes([1.0; W]), im: Lanes::ZERO }
    }
}

/// Elements of a line whose phasors are products of one phasor for all of them and one for each place among them.
const RUN: usize = 8;

/// exp(j k d x u) for the elements of a line to one side of its centre, x elements from there and outward, for each lane
/// its own u; `axis` is that line's samples.
///
/// Many sines are saved at the cost of a product each, which adds half a rounding; the angles are reduced in whole numbers
/// as far as u is a whole number of samples, so they are right far from the beam too.
#[inline(always)]
fn phasors<const W: usize>(axis: &Axis, u: &[f64; W], elements: usize, phasors: &mut [Complex<W>]) {
    let place = Place::new(axis, u);
    let (one, two, four) = (place.phasor(2), place.phasor(4), place.phasor(8));
    let three = two * one;
    let within = [one, two, three, four, four * one, four * two, four * three];
    let nearest = nearest_to_centre(elements);
    for (run, phasors) in phasors.chunks_mut(RUN).enumerate() {
        let first = place.phasor(nearest + (2 * RUN * run) as i32);
        if let Some((to_first, rest)) = phasors.split_first_mut() {
            *to_first = first;
            for (phasor, turn) in rest.iter_mut().zip(&within) {
                *phasor = first * *turn;
            }
        }
    }
}

/// An offset in samples: the nearest one and the rest.
struct Place<const W: usize> {
    sample: [i32; W],
    rest: Lanes<W>,
    bins: i32,
}

impl<const W: usize> Place<W> {
    #[inline(always)]
    fn new(axis: &Axis, u: &[f64; W]) -> Place<W> {
        /// 1.5 * 2^52: the low bits of a number added to it are those of the nearest integer.
        const ROUNDER: f64 = 6_755_399_441_055_744.0;
        let per_sample = 1.0 / axis.spacing;
        let mut place = Place { sample: [0; W], rest: Lanes::ZERO, bins: axis.bins as i32 };
        for l in 0..W {
            let at = u[l] * per_sample;
            let counted = at + ROUNDER;
            place.sample[l] = counted.to_bits() as i32;
            place.rest.0[l] = (at - (counted - ROUNDER)) as f32;
        }
        place
    }

    /// Phasor of an element `halves` half elements from the centre, where a sample is a turn by halves/(2 bins).
    #[inline(always)]
    fn phasor(&self, halves: i32) -> Complex<W> {
        let period = 2 * self.bins;
        let scale = (TAU / f64::from(period)) as f32;
        let mut phasor = Complex::ZERO;
        for l in 0..W {
            let turned = self.sample[l].wrapping_mul(halves).wrapping_add(self.bins);
            let whole = (turned & (period - 1)) - self.bins;
            let (sine, cosine) = single::sin_cos((whole as f32 + self.rest.0[l] * halves as f32) * scale);
            (phasor.re.0[l], phasor.im.0[l]) = (cosine, sine);
        }
        phasor
    }
}
