//! The code that reads least, and half a turn.

use super::{Steps, Sweep, SweepScratch};
use crate::bench::{Code, Desk};
use crate::math::PI;

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
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        desk: &mut impl Desk<W>,
        _: &mut SweepScratch<W>,
    ) -> [f32; W] {
        let lowest = desk.lowest(sweep.states);
        if steps.is_some() {
            // Half a turn is half a turn, whatever the code for it really does.
            return sweep.phases(&lowest, steps).map(|phase| phase + PI as f32);
        }
        let (half_a_turn, mask) = (sweep.states as Code / 2, sweep.states as Code - 1);
        sweep.phases(&lowest.map(|code| (code + half_a_turn) & mask), None)
    }
}
