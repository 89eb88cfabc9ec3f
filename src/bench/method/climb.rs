//! Step by step uphill.

use super::{Align, SweepScratch};
use crate::bench::{Code, Desk, Work};

/// Climb from code 0, one code at a time, until the power drops.
///
/// Up if code 1 reads more than code 0, else down if the last code does, else stay. Then on while the next
/// reading is not lower; each code is read once, so at most once around. Ties and plateaus: an equal reading
/// is walked over. Noise: one low reading ends the climb early. Source: common practice, no source.
pub struct Climb;

impl Climb {
    /// Word for `method`.
    pub const KIND: &'static str = "climb";
    pub(super) const TAKES_CODES: bool = false;

    pub(super) fn solve<const W: usize>(
        align: &Align,
        desk: &mut impl Desk<W>,
        _: &mut SweepScratch<W>,
        work: &mut Work<W>,
    ) -> [f32; W] {
        let mask = align.states as Code - 1;
        let here = desk.read(0);
        let above = desk.read(1 & mask);
        let up: [bool; W] = std::array::from_fn(|l| above[l] > here[l]);
        let below = if up.contains(&false) { desk.read(mask) } else { here };

        // Lanes go up or down by steps alike, so after some steps a lane is that many codes from 0, or from a turn.
        let mut moving: [bool; W] = std::array::from_fn(|l| up[l] || below[l] > here[l]);
        let mut steps = [0; W];
        let mut reading = here;
        let mut ahead: [f32; W] = std::array::from_fn(|l| if up[l] { above[l] } else { below[l] });
        let mut count: [u32; W] = up.map(|up| if up { 2 } else { 3 });
        for step in 1..=mask {
            for l in 0..W {
                moving[l] &= ahead[l] >= reading[l];
                steps[l] = if moving[l] { step } else { steps[l] };
                reading[l] = if moving[l] { ahead[l] } else { reading[l] };
            }
            let is_going = |way: bool| (0..W).any(|l| moving[l] && up[l] == way);
            let (going_up, going_down) = (is_going(true), is_going(false));
            if step == mask || !(going_up || going_down) {
                break;
            }
            let above = if going_up { desk.read(step + 1) } else { ahead };
            let below = if going_down { desk.read(mask - step) } else { ahead };
            for l in 0..W {
                ahead[l] = if up[l] { above[l] } else { below[l] };
                count[l] += u32::from(moving[l]);
            }
        }
        for l in 0..W {
            work.settings[l] += count[l];
            work.readings[l] += count[l];
        }
        let mut codes = steps;
        for l in 0..W {
            codes[l] = if up[l] { steps[l] } else { steps[l].wrapping_neg() & mask };
        }
        align.phases(&codes)
    }
}
