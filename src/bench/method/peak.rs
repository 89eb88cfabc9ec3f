//! The code that reads most.

use super::{Align, SweepScratch};
use crate::bench::{Desk, Work};

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
        _: &mut SweepScratch<W>,
        work: &mut Work<W>,
    ) -> [f32; W] {
        align.count_sweep(work);
        align.phases(&desk.highest(align.states))
    }
}
