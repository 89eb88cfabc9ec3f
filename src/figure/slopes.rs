//! The power of the far field and its derivatives, by one direct sum over the channels.

mod on_lattice;
mod on_rows;

use crate::figure::probe::{Room, Source};
use crate::figure::visible::Way;
use crate::math::{Complex, elementary};

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
    pub(super) fn level_after(&self, l: usize, du: f64, dv: f64) -> f64 {
        let first = self.u[l] * du + self.v[l] * dv;
        let second = self.uu[l] * du * du + 2.0 * self.uv[l] * du * dv + self.vv[l] * dv * dv;
        self.level[l] * elementary::exp(first + 0.5 * second)
    }
}

/// Level and slopes at an offset (direction cosines) for each lane. On a line the part along y stays 0.
#[inline(always)]
pub(super) fn slopes<const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    u: &[f64; W],
    v: &[f64; W],
) -> Slopes<W> {
    if source.array.is_line {
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
    let (array, point) = (source.array, source.beam_point);
    // Radians per direction cosine in the unit that the moments count positions in.
    let (Moments { one, x, xx, y, xy, yy }, kx, ky) = match &point.visible.way {
        Way::Lattice(lattice) => {
            let moments = on_lattice::moments::<LINE, W>(source, room, lattice, u, v);
            (moments, point.wavenumber * lattice.dx, point.wavenumber * lattice.dy)
        }
        Way::Rows(direct) => (on_rows::moments::<LINE, W>(source, room, &direct.rows, u, v), 1.0, 1.0),
    };
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
            let (cu, cv) = (point.toward.u + u[l], point.toward.v + v[l]);
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

/// Sums of the field over the face, each channel's times 1, x, x^2, y, x y, y^2 with positions from the centre, in
/// elements on a lattice, elsewhere in rad per direction cosine: real and imaginary parts.
struct Moments<const W: usize> {
    one: [[f64; W]; 2],
    x: [[f64; W]; 2],
    xx: [[f64; W]; 2],
    y: [[f64; W]; 2],
    xy: [[f64; W]; 2],
    yy: [[f64; W]; 2],
}

impl<const W: usize> Moments<W> {
    const ZERO: Moments<W> = {
        let zero = [[0.0; W]; 2];
        Moments { one: zero, x: zero, xx: zero, y: zero, xy: zero, yy: zero }
    };

    /// Adds the sums of some channels of the row at `y` with 1, x and x^2; `turn` is the phasor of the row.
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
