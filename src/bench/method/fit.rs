//! A sinusoid through a few readings.

use super::{Align, SweepScratch};
use crate::bench::{Desk, Work};
use crate::math::single;
use multiversion::multiversion;

/// Least squares of a + b cos + c sin in linear power on K equally spaced codes.
///
/// Formula: b and c are the sums of p cos and p sin times 2/K (the codes are orthogonal over a turn), the phase
/// is atan2(c, b), finer than a step. Ties: none. Noise: standard deviation s sqrt(2/K) for additive noise s of the
/// amplitude, 2.5 in place of 2 for noise in dB on equal arms. Units: rad.
/// Source: three-parameter sine fit, IEEE Std 1057 (from memory).
pub struct Fit;

/// ln(10)/10: from dB to nepers of power.
const NEPERS_A_DB_OF_POWER: f32 = (std::f64::consts::LN_10 / 10.0) as f32;

impl Fit {
    /// Word for `method`.
    pub const KIND: &'static str = "fit";
    pub(super) const TAKES_CODES: bool = true;

    pub(super) fn solve<const W: usize>(
        align: &Align,
        desk: &mut impl Desk<W>,
        scratch: &mut SweepScratch<W>,
        work: &mut Work<W>,
    ) -> [f32; W] {
        align.count_sweep(work);
        scratch.readings.resize(align.codes.len(), [0.0; W]);
        desk.sweep(&align.codes, &mut scratch.readings);
        phase(&scratch.readings, &align.phasors)
    }
}

/// Angle of the sum of powers times phasors.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn phase<const W: usize>(readings: &[[f32; W]], phasors: &[(f32, f32)]) -> [f32; W] {
    // Powers over the highest, so that no level is out of the exponential's range.
    let mut highest = [f32::NEG_INFINITY; W];
    for reading in readings {
        for l in 0..W {
            highest[l] = if reading[l] > highest[l] { reading[l] } else { highest[l] };
        }
    }
    let (mut b, mut c) = ([0.0; W], [0.0; W]);
    for (reading, (cosine, sine)) in readings.iter().zip(phasors) {
        for l in 0..W {
            let power = single::exp(NEPERS_A_DB_OF_POWER * (reading[l] - highest[l]));
            b[l] += power * cosine;
            c[l] += power * sine;
        }
    }
    let mut phase = [0.0; W];
    for l in 0..W {
        phase[l] = single::atan2(c[l], b[l]);
    }
    phase
}
