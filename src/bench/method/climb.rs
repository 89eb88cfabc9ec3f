//! Step by step uphill.

use super::{Caution, PairMethod, StateShare, Steps, Sweep, SweepScratch, readout};
use crate::bench::{Bench, Code, Receiver};
use multiversion::multiversion;

/// Climb from code 0, one code at a time, until the power drops.
///
/// Up if code 1 reads more than code 0, else down if the last code does, else stay. Then on while the next
/// reading is not lower; each code is read once, so at most once around. Ties and plateaus: an equal reading
/// is walked over. Noise: one low reading ends the climb early. Source: common practice, no source.
/// No formula for the variance: the way up the flat peak ends where noise and display have it.
pub(crate) struct Climb;

impl PairMethod for Climb {
    const KIND: &'static str = "climb";
    const LENGTH_VARIES: bool = true;

    fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        readout::of_one_code(sweep, angle, 0.0)
    }

    fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        known: Option<Steps<W>>,
        bench: &mut D,
        _: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        let mask = sweep.states as Code - 1;
        let here = bench.read(0, &[true; W])?;
        let above = bench.read(1 & mask, &[true; W])?;
        let up: [bool; W] = std::array::from_fn(|l| above[l] > here[l]);
        let down = up.map(|up| !up);
        let below = if down.contains(&true) { bench.read(mask, &down)? } else { here };

        // Lanes go up or down by steps alike, so after some steps a lane is that many codes from 0, or from a turn.
        let mut climb = Climber {
            up,
            moving: std::array::from_fn(|l| up[l] || below[l] > here[l]),
            steps: [0; W],
            reading: here,
        };
        let (mut above, mut below) = (above, below);
        for step in 1..=mask {
            let (going_up, going_down) = advance(&mut climb, step, &above, &below);
            if step == mask || !(going_up || going_down) {
                break;
            }
            if going_up {
                above = bench.read(step + 1, &std::array::from_fn(|l| climb.moving[l] & up[l]))?;
            }
            if going_down {
                below = bench.read(mask - step, &std::array::from_fn(|l| climb.moving[l] & !up[l]))?;
            }
        }
        let mut codes = climb.steps;
        for l in 0..W {
            codes[l] = if up[l] { codes[l] } else { codes[l].wrapping_neg() & mask };
        }
        Ok(sweep.phases(&codes, known))
    }

    fn caution(step: f64, receiver: &Receiver) -> Option<Caution> {
        Caution::of_flat_top(step, receiver)
    }

    fn title(_: usize) -> String {
        "a climb from code 0 until the power drops".to_owned()
    }

    fn stepping(_: &str) -> String {
        "code 0, then uphill one code at a time".into()
    }

    const RESULT: &'static str = "the last code before the level falls";
}

/// Where each lane stands.
struct Climber<const W: usize> {
    up: [bool; W],
    moving: [bool; W],
    /// Codes from the start.
    steps: [Code; W],
    /// Reading there.
    reading: [f32; W],
}

/// Takes a step where the reading ahead is not lower; says whether some lane goes on up, and down.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn advance<const W: usize>(
    climb: &mut Climber<W>,
    step: Code,
    above: &[f32; W],
    below: &[f32; W],
) -> (bool, bool) {
    let (mut going_up, mut going_down) = (false, false);
    for l in 0..W {
        let ahead = if climb.up[l] { above[l] } else { below[l] };
        let moving = climb.moving[l] & (ahead >= climb.reading[l]);
        climb.moving[l] = moving;
        climb.steps[l] = if moving { step } else { climb.steps[l] };
        climb.reading[l] = if moving { ahead } else { climb.reading[l] };
        going_up |= moving & climb.up[l];
        going_down |= moving & !climb.up[l];
    }
    (going_up, going_down)
}
