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
    ) -> [f64; W] {
        let mask = align.states as Code - 1;
        let here = desk.read(&[0; W]);
        let above = desk.read(&[1 & mask; W]);
        let up: [bool; W] = std::array::from_fn(|l| above[l] > here[l]);
        let below = if up.contains(&false) { desk.read(&[mask; W]) } else { here };

        // The way as a code to add: 1, or all but one of a turn; lanes that stay do not move.
        let mut moving: [bool; W] = std::array::from_fn(|l| up[l] || below[l] > here[l]);
        let way = up.map(|up| if up { 1 } else { mask });
        let mut code = [0; W];
        let mut reading = here;
        // The first step's reading is the one that chose the way.
        let mut ahead: [f64; W] = std::array::from_fn(|l| if up[l] { above[l] } else { below[l] });
        let mut count: [u32; W] = up.map(|up| if up { 2 } else { 3 });
        let next = |code: &[Code; W]| -> [Code; W] { std::array::from_fn(|l| (code[l] + way[l]) & mask) };
        for step in 1..=mask {
            let reached = next(&code);
            for l in 0..W {
                moving[l] &= ahead[l] >= reading[l];
                if moving[l] {
                    code[l] = reached[l];
                    reading[l] = ahead[l];
                }
            }
            if !moving.contains(&true) || step == mask {
                break;
            }
            ahead = desk.read(&next(&code));
            for l in 0..W {
                count[l] += u32::from(moving[l]);
            }
        }
        for l in 0..W {
            work.settings[l] += count[l];
            work.readings[l] += count[l];
        }
        code.map(|code| align.phase(code))
    }
}
