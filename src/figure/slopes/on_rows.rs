//! Sums over elements at any places, by their rows: the phasor of an element is that of its place along x times that of
//! its row.

use crate::figure::direct::Rows;
use crate::figure::probe::{Room, Source};
use crate::figure::slopes::Moments;
use crate::math::{Complex, Lanes, TAU, elementary, single};

/// Elements of a row that are summed in single precision before they join the sums in double.
const BLOCK: usize = 16;

/// Moments at an offset (direction cosines) for each lane, positions counted in rad per direction cosine. On a line those
/// with y stay 0.
#[inline(always)]
pub(super) fn moments<const LINE: bool, const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    rows: &Rows,
    u: &[f64; W],
    v: &[f64; W],
) -> Moments<W> {
    phasors(&rows.x, u, &mut room.columns);
    if !LINE {
        phasors(&rows.y, v, &mut room.rows);
    }
    let mut moments = Moments::ZERO;
    for (row, members) in rows.members().enumerate() {
        for members in members.chunks(BLOCK) {
            let [mut one_re, mut one_im, mut x_re, mut x_im, mut xx_re, mut xx_im] = [[0.0; W]; 6];
            for member in members {
                let (re, im) = (&source.re[member.channel], &source.im[member.channel]);
                let phasor = &room.columns[member.place];
                let x = rows.x[member.place] as f32;
                for l in 0..W {
                    let (cosine, sine) = (phasor.re.0[l], phasor.im.0[l]);
                    let (field_re, field_im) = (re[l] * cosine - im[l] * sine, im[l] * cosine + re[l] * sine);
                    let (of_x_re, of_x_im) = (field_re * x, field_im * x);
                    one_re[l] += field_re;
                    one_im[l] += field_im;
                    x_re[l] += of_x_re;
                    x_im[l] += of_x_im;
                    xx_re[l] += of_x_re * x;
                    xx_im[l] += of_x_im * x;
                }
            }
            let complex = |re, im| Complex { re: Lanes(re), im: Lanes(im) };
            let sums = [complex(one_re, one_im), complex(x_re, x_im), complex(xx_re, xx_im)];
            moments.add::<LINE>(sums, room.rows[row], rows.y[row]);
        }
    }
    moments
}

/// exp(j x u) for each place x (rad per direction cosine), for each lane its own u. The angle is brought within half a turn
/// in double precision, so that it is right far from the beam too.
#[inline(always)]
fn phasors<const W: usize>(places: &[f64], u: &[f64; W], phasors: &mut [Complex<W>]) {
    for (place, phasor) in places.iter().zip(phasors) {
        let turns_per_cosine = place / TAU;
        for l in 0..W {
            let turns = turns_per_cosine * u[l];
            let rest = (turns - elementary::round(turns)) as f32;
            let (sine, cosine) = single::sin_cos(rest * TAU as f32);
            (phasor.re.0[l], phasor.im.0[l]) = (cosine, sine);
        }
    }
}
