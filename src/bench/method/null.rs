//! The code that reads least, and half a turn.

use super::{Align, SweepScratch};
use crate::bench::{Code, Desk, Work};

/// Null of a full sweep, then half a turn.
///
/// Ties and plateaus: the lowest code of those that read the same (a null below the receiver's floor is
/// such a plateau). Noise: the null is sharp as long as the arms are alike and the floor is deep.
/// Source: common practice, no source.
pub struct Null;

impl Null {
    /// Word for `method`.
    pub const KIND: &'static str = "null";
    pub(super) const TAKES_CODES: bool = false;

    pub(super) fn solve<const W: usize>(
        align: &Align,
        desk: &mut impl Desk<W>,
        _: &mut SweepScratch<W>,
        work: &mut Work<W>,
    ) -> [f32; W] {
        align.count_sweep(work);
        let (half_a_turn, mask) = (align.states as Code / 2, align.states as Code - 1);
        let lowest = desk.lowest(align.states);
        align.phases(&lowest.map(|code| (code + half_a_turn) & mask))
    }
}
