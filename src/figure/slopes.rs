//! The power of the far field and its derivatives, by one direct sum over the channels.
//!
//! The elements stand on a lattice, so the phasor of an element is that of its column times that of its row. Those of
//! equal spacing are products of a few, so that no sine is taken for each element; and elements as far to the one side of
//! the centre as to the other have conjugate phasors, so that they are summed in pairs.

use crate::figure::probe::{Room, Source};
use crate::figure::visible::Axis;
use crate::math::{Complex, Lanes, TAU, elementary, single};

/// Level and the derivatives of its logarithm with respect to the direction cosines, element pattern included.
pub(super) struct Slopes<const W: usize> {
    pub level: [f64; W],
    pub u: [f64; W],
    pub v: [f64; W],
    pub uu: [f64; W],
    pub uv: [f64; W],
    pub vv: [f64; W],
}

impl<const W: usize> Slopes<W> {
    /// Level after a short step, to the second order.
    #[inline(always)]
    pub fn level_after(&self, l: usize, du: f64, dv: f64) -> f64 {
        let first = self.u[l] * du + self.v[l] * dv;
        let second = self.uu[l] * du * du + 2.0 * self.uv[l] * du * dv + self.vv[l] * dv * dv;
        self.level[l] * elementary::exp(first + 0.5 * second)
    }
}

/// Level and slopes at an offset (direction cosines) for each lane. On a line what is along y stays 0.
#[inline(always)]
pub(super) fn slopes<const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    u: &[f64; W],
    v: &[f64; W],
) -> Slopes<W> {
    if source.array.lattice.is_line() {
        slopes_on::<true, W>(source, room, u, v)
    } else {
        slopes_on::<false, W>(source, room, u, v)
    }
}

#[inline(always)]
fn slopes_on<const LINE: bool, const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    u: &[f64; W],
    v: &[f64; W],
) -> Slopes<W> {
    let (array, look) = (source.array, source.look);
    let (columns, rows) = (array.lattice.columns, array.lattice.rows);
    phasors(&look.visible.columns, u, columns, &mut room.columns);
    if !LINE {
        phasors(&look.visible.rows, v, rows, &mut room.rows);
    }
    let Moments { one, x, xx, y, xy, yy } = Moments::new::<LINE>(source, room);

    let (kx, ky) = (look.wavenumber * array.lattice.dx, look.wavenumber * array.lattice.dy);
    let exponent = array.element.exponent;
    let mut slopes =
        Slopes { level: [0.0; W], u: [0.0; W], v: [0.0; W], uu: [0.0; W], uv: [0.0; W], vv: [0.0; W] };
    for l in 0..W {
        let of = |moment: &[[f64; W]; 2]| (moment[0][l], moment[1][l]);
        let (f, x, xx) = (of(&one), of(&x), of(&xx));
        let level = f.0 * f.0 + f.1 * f.1;
        // With the field f and df/du = j k m: derivatives of |f|^2 over |f|^2.
        let per = 2.0 / level;
        let first = |m: (f64, f64)| per * (f.1 * m.0 - f.0 * m.1);
        let second = |m: (f64, f64), n: (f64, f64), mn: (f64, f64)| {
            per * ((m.0 * n.0 + m.1 * n.1) - (f.0 * mn.0 + f.1 * mn.1))
        };
        let pu = kx * first(x);
        slopes.level[l] = level;
        slopes.u[l] = pu;
        slopes.uu[l] = kx * kx * second(x, x, xx) - pu * pu;
        if !LINE {
            let (y, xy, yy) = (of(&y), of(&xy), of(&yy));
            let pv = ky * first(y);
            slopes.v[l] = pv;
            slopes.uv[l] = kx * ky * second(x, y, xy) - pu * pv;
            slopes.vv[l] = ky * ky * second(y, y, yy) - pv * pv;
        }
    }
    if exponent > 0.0 {
        for l in 0..W {
            let (cu, cv) = (look.toward.u + u[l], look.toward.v + v[l]);
            let squared_cosine = 1.0 - cu * cu - cv * cv;
            let inside = if squared_cosine > 1e-9 { squared_cosine } else { 1e-9 };
            let bend = 2.0 * exponent / inside;
            let bend_more = 2.0 * bend / inside;
            let element = elementary::exp(exponent * elementary::ln(inside));
            slopes.level[l] *= if squared_cosine > 0.0 { element } else { 0.0 };
            slopes.u[l] -= bend * cu;
            slopes.v[l] -= bend * cv;
            slopes.uu[l] -= bend + bend_more * cu * cu;
            slopes.uv[l] -= bend_more * cu * cv;
            slopes.vv[l] -= bend + bend_more * cv * cv;
        }
    }
    slopes
}

/// Sums of the field over the face, each channel's times 1, x, x^2, y, x y, y^2 with positions in elements from the
/// centre: real and imaginary parts.
struct Moments<const W: usize> {
    one: [[f64; W]; 2],
    x: [[f64; W]; 2],
    xx: [[f64; W]; 2],
    y: [[f64; W]; 2],
    xy: [[f64; W]; 2],
    yy: [[f64; W]; 2],
}

/// Pairs of channels of a row that are summed in single precision before they join the sums in double.
const BLOCK: usize = 16;

impl<const W: usize> Moments<W> {
    /// On a line those with y stay 0.
    #[inline(always)]
    fn new<const LINE: bool>(source: &Source<W>, room: &Room<W>) -> Moments<W> {
        let zero = [[0.0; W]; 2];
        let mut moments = Moments { one: zero, x: zero, xx: zero, y: zero, xy: zero, yy: zero };
        let (columns, rows) = (source.array.lattice.columns, source.array.lattice.rows);
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

    /// Adds what some channels of the row at `y` come to with 1, x and x^2; `turn` is the phasor of the row.
    #[inline(always)]
    fn add<const LINE: bool>(&mut self, sums: [Complex<W>; 3], turn: Complex<W>, y: f64) {
        if LINE {
            let [one, x, xx] = sums;
            accumulate(&mut self.one, &one, 1.0);
            accumulate(&mut self.x, &x, 1.0);
            accumulate(&mut self.xx, &xx, 1.0);
        } else {
            let (one, x, xx) = (sums[0] * turn, sums[1] * turn, sums[2] * turn);
            accumulate(&mut self.one, &one, 1.0);
            accumulate(&mut self.x, &x, 1.0);
            accumulate(&mut self.xx, &xx, 1.0);
            accumulate(&mut self.y, &one, y);
            accumulate(&mut self.xy, &x, y);
            accumulate(&mut self.yy, &one, y * y);
        }
    }
}

#[inline(always)]
fn accumulate<const W: usize>([re, im]: &mut [[f64; W]; 2], sum: &Complex<W>, weight: f64) {
    for l in 0..W {
        re[l] += f64::from(sum.re.0[l]) * weight;
        im[l] += f64::from(sum.im.0[l]) * weight;
    }
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
