//! The code that reads most.

use super::{Align, SweepScratch};
use crate::bench::{Code, Desk, Work};
use multiversion::multiversion;

/// Peak of a full sweep.
///
/// Ties and plateaus: the lowest code of those that read the same. Noise: the peak is flat, so the largest
/// reading is often not the nearest code; a step of one code from the peak costs -20 log10 cos(step/2) dB.
/// Source: common practice, no source.
pub struct Peak;

impl Peak {
    /// Word for `method`.
    pub const KIND: &'static str = "peak";
    pub(super) const TAKES_CODES: bool = false;

    pub(super) fn solve<const W: usize>(
        align: &Align,
        desk: &mut impl Desk<W>,
        scratch: &mut SweepScratch<W>,
        work: &mut Work<W>,
    ) -> [f64; W] {
        let readings = align.sweep(desk, scratch, work);
        highest(readings).map(|code| align.phase(code))
    }
}

/// Place of the highest reading of each lane, the first of equals.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn highest<const W: usize>(readings: &[[f64; W]]) -> [Code; W] {
    let mut best = [f64::NEG_INFINITY; W];
    let mut at = [0.0; W];
    for (code, reading) in readings.iter().enumerate() {
        let code = code as f64;
        for l in 0..W {
            let higher = reading[l] > best[l];
            best[l] = if higher { reading[l] } else { best[l] };
            at[l] = if higher { code } else { at[l] };
        }
    }
    at.map(|code| code as Code)
}
