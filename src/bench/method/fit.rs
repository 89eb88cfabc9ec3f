//! A sinusoid through a few readings.

use super::{Align, SweepScratch};
use crate::bench::{Desk, Work};
use crate::math::{scalar, slice};

/// Least squares of a + b cos + c sin in linear power on K equally spaced codes.
///
/// Formula: b and c are the sums of p cos and p sin times 2/K (the codes are orthogonal over a turn), the phase
/// is atan2(c, b), finer than a step. Ties: none. Noise: standard deviation s sqrt(2/K) for additive noise s of the
/// amplitude, 2.5 in place of 2 for noise in dB on equal arms. Units: rad.
/// Source: three-parameter sine fit, IEEE Std 1057 (from memory).
pub struct Fit;

/// ln(10)/10: from dB to nepers of power.
const NEPERS_A_DB_OF_POWER: f64 = std::f64::consts::LN_10 / 10.0;

impl Fit {
    /// Word for `method`.
    pub const KIND: &'static str = "fit";
    pub(super) const TAKES_CODES: bool = true;

    pub(super) fn solve<const W: usize>(
        align: &Align,
        desk: &mut impl Desk<W>,
        scratch: &mut SweepScratch<W>,
        work: &mut Work<W>,
    ) -> [f64; W] {
        let readings = align.sweep(desk, scratch, work);
        let powers = readings.as_flattened_mut();
        powers.iter_mut().for_each(|reading| *reading *= NEPERS_A_DB_OF_POWER);
        slice::exp(powers);
        let (mut b, mut c) = ([0.0; W], [0.0; W]);
        for ((power, cosine), sine) in readings.iter().zip(&align.cosine).zip(&align.sine) {
            for l in 0..W {
                b[l] += power[l] * cosine;
                c[l] += power[l] * sine;
            }
        }
        std::array::from_fn(|l| scalar::atan2(c[l], b[l]))
    }
}
