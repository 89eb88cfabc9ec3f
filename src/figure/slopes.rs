//! The power of the far field and its derivatives, by one direct sum over the channels.
//!
//! The elements stand on a lattice, so the phasor of an element is that of its column times that of its row; and those of
//! a line of equal spacing are products of a few, so that no sine is taken for each element.

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

/// Level and slopes at an offset (direction cosines) for each lane.
#[inline(always)]
pub(super) fn slopes<const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    u: &[f64; W],
    v: &[f64; W],
) -> Slopes<W> {
    let (array, look) = (source.array, source.look);
    let is_line = array.lattice.is_line();
    phasors(&look.visible.columns, u, &mut room.columns);
    if !is_line {
        phasors(&look.visible.rows, v, &mut room.rows);
    }
    let sums = Moments::new(source, room, is_line);

    let (kx, ky) = (look.wavenumber * array.lattice.dx, look.wavenumber * array.lattice.dy);
    let exponent = array.element.exponent;
    let mut slopes =
        Slopes { level: [0.0; W], u: [0.0; W], v: [0.0; W], uu: [0.0; W], uv: [0.0; W], vv: [0.0; W] };
    for l in 0..W {
        let [a, b, xa, xb, xxa, xxb, ya, yb, xya, xyb, yya, yyb] = &sums.0;
        let (a, b, xa, xb, xxa, xxb) = (a[l], b[l], xa[l], xb[l], xxa[l], xxb[l]);
        let (ya, yb, xya, xyb, yya, yyb) = (ya[l], yb[l], xya[l], xyb[l], yya[l], yyb[l]);
        let power = a * a + b * b;
        // With F = a + jb and dF/du = jk(xa + j xb): derivatives of |F|^2 over |F|^2.
        let per = 2.0 / power;
        let first = |pa: f64, pb: f64| per * (b * pa - a * pb);
        let second = |pa: f64, pb: f64, qa: f64, qb: f64, pqa: f64, pqb: f64| {
            per * (pa * qa + pb * qb - a * pqa - b * pqb)
        };
        let (pu, pv) = (kx * first(xa, xb), ky * first(ya, yb));
        slopes.level[l] = power;
        slopes.u[l] = pu;
        slopes.v[l] = pv;
        slopes.uu[l] = kx * kx * second(xa, xb, xa, xb, xxa, xxb) - pu * pu;
        slopes.uv[l] = kx * ky * second(xa, xb, ya, yb, xya, xyb) - pu * pv;
        slopes.vv[l] = ky * ky * second(ya, yb, ya, yb, yya, yyb) - pv * pv;
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

/// Sums of the field and of its first and second moments over the face, positions in elements from the centre: real and
/// imaginary part of those with 1, x, x^2, y, x y, y^2.
struct Moments<const W: usize>([[f64; W]; 12]);

/// Channels of a row that are summed in single precision before they join the sums in double.
const BLOCK: usize = 32;

impl<const W: usize> Moments<W> {
    #[inline(always)]
    fn new(source: &Source<W>, room: &Room<W>, is_line: bool) -> Moments<W> {
        let mut moments = Moments([[0.0; W]; 12]);
        let columns = room.columns.len();
        let centre = |count: usize| 0.5 * (count as f32 - 1.0);
        let rows = source.re.chunks_exact(columns).zip(source.im.chunks_exact(columns));
        for (row, ((re, im), turn)) in rows.zip(&room.rows).enumerate() {
            let blocks = re.chunks(BLOCK).zip(im.chunks(BLOCK)).zip(room.columns.chunks(BLOCK));
            for (block, ((re, im), phasors)) in blocks.enumerate() {
                let first = (block * BLOCK) as f32 - centre(columns);
                let sums = along_row(re, im, phasors, first);
                if is_line {
                    for (i, sum) in sums.iter().enumerate() {
                        moments.add(i, sum, 1.0);
                    }
                } else {
                    let y = f64::from(row as f32 - centre(room.rows.len()));
                    let (one, x, xx) = (sums[0] * *turn, sums[1] * *turn, sums[2] * *turn);
                    for (i, sum, weight) in
                        [(0, one, 1.0), (1, x, 1.0), (2, xx, 1.0), (3, one, y), (4, x, y), (5, one, y * y)]
                    {
                        moments.add(i, &sum, weight);
                    }
                }
            }
        }
        moments
    }

    #[inline(always)]
    fn add(&mut self, i: usize, sum: &Complex<W>, weight: f64) {
        for l in 0..W {
            self.0[2 * i][l] += f64::from(sum.re.0[l]) * weight;
            self.0[2 * i + 1][l] += f64::from(sum.im.0[l]) * weight;
        }
    }
}

/// Sums over some channels of a row, the first of them at x = `first`: with 1, x, x^2.
#[inline(always)]
fn along_row<const W: usize>(
    re: &[[f32; W]],
    im: &[[f32; W]],
    phasors: &[Complex<W>],
    first: f32,
) -> [Complex<W>; 3] {
    let mut sums = [Complex::ZERO; 3];
    let mut x = first;
    for ((re, im), phasor) in re.iter().zip(im).zip(phasors) {
        let field = Complex { re: Lanes(*re), im: Lanes(*im) } * *phasor;
        let moment = field * x;
        sums[0] += field;
        sums[1] += moment;
        sums[2] += moment * x;
        x += 1.0;
    }
    sums
}

/// Elements of a line whose phasors are products of one phasor for all of them and one for each place among them.
const RUN: usize = 8;

/// exp(j k d n u) for the elements n of a line, for each lane its own u; `axis` is that line's samples.
///
/// Eight times as many sines are saved as cost in products, each of which adds half a rounding; the angles are reduced
/// in whole numbers as far as u is a whole number of samples, so they are right far from the beam too.
#[inline(always)]
fn phasors<const W: usize>(axis: &Axis, u: &[f64; W], phasors: &mut [Complex<W>]) {
    let place = Place::new(axis, u);
    let (one, two, four) = (place.phasor(1), place.phasor(2), place.phasor(4));
    let three = two * one;
    let within = [one, two, three, four, four * one, four * two, four * three];
    for (run, phasors) in phasors.chunks_mut(RUN).enumerate() {
        let first = place.phasor((run * RUN) as i32);
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

    /// Phasor of element `n`. A sample is a turn by n/bins.
    #[inline(always)]
    fn phasor(&self, n: i32) -> Complex<W> {
        let half = self.bins / 2;
        let scale = (TAU / f64::from(self.bins)) as f32;
        let mut phasor = Complex::ZERO;
        for l in 0..W {
            let whole = ((self.sample[l].wrapping_mul(n).wrapping_add(half)) & (self.bins - 1)) - half;
            let (sine, cosine) = single::sin_cos((whole as f32 + self.rest.0[l] * n as f32) * scale);
            (phasor.re.0[l], phasor.im.0[l]) = (cosine, sine);
        }
        phasor
    }
}
