//! Where a sweep falls into its null and where it comes out of it.

use super::{PairMethod, StateShare, Steps, Sweep, SweepScratch, readout};
use crate::bench::{Bench, Code};
use crate::math::single::within_half_a_turn;
use crate::math::{PI, TAU};
use multiversion::multiversion;

/// The middle between the two places where a full sweep crosses one level on both sides of its null, then half a turn.
///
/// Formula: the level is midway in dB between the highest and the lowest reading, but no more than 10 dB below the
/// highest; from the lowest code outward, each side's crossing is interpolated between two codes in dB; the null is their
/// middle. Finer than a step, and blind to readings under the receiver's floor. Ties and plateaus: the lowest code that reads
/// least is where both ways begin; a plateau at the floor is inside both. Noise: that of four readings on the slopes.
/// Source: common practice, no source.
/// No formula for the variance: four readings are chosen by noise as well.
pub(crate) struct NullCrossings;

/// How far below the highest reading the level is at most, dB.
const DEEPEST: f32 = 10.0;

impl PairMethod for NullCrossings {
    const KIND: &'static str = "null_crossings";
    const FINDS_WHOLE_CODES: bool = false;

    fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        readout::of_one_code(sweep, angle, 0.0)
    }

    fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        bench: &mut D,
        scratch: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        scratch.readings.resize(sweep.codes.len(), [0.0; W]);
        bench.sweep(&sweep.codes, &mut scratch.readings)?;
        let [lowest, highest] = ends(&scratch.readings);
        Ok(std::array::from_fn(|l| {
            let reading = |code: usize| scratch.readings[code][l];
            let turn = |code: usize| match steps {
                None => (TAU / sweep.states as f64) as f32 * code as f32,
                Some(steps) => steps[code][l],
            };
            null(sweep.states, [lowest[l], highest[l]], reading, turn) + PI as f32
        }))
    }

    fn title(codes: usize) -> String {
        format!("the middle of both sides of the null of a sweep of {codes} codes")
    }

    const RESULT: &'static str = "the middle between both sides of the null, and half a turn on";
}

/// The first codes with the lowest and the highest of some readings, `[code][lane]`.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn ends<const W: usize>(readings: &[[f32; W]]) -> [[Code; W]; 2] {
    let (mut low, mut high) = ([f32::INFINITY; W], [f32::NEG_INFINITY; W]);
    let [mut lowest, mut highest] = [[0; W]; 2];
    for (code, reading) in (0..).zip(readings) {
        for l in 0..W {
            lowest[l] = if reading[l] < low[l] { code } else { lowest[l] };
            low[l] = if reading[l] < low[l] { reading[l] } else { low[l] };
            highest[l] = if reading[l] > high[l] { code } else { highest[l] };
            high[l] = if reading[l] > high[l] { reading[l] } else { high[l] };
        }
    }
    [lowest, highest]
}

/// Phase of the null, rad, from the codes with the lowest and the highest reading, and the reading and the phase of each of `states` codes.
fn null(
    states: usize,
    [lowest, highest]: [Code; 2],
    reading: impl Fn(usize) -> f32,
    turn: impl Fn(usize) -> f32,
) -> f32 {
    let (lowest, highest) = (lowest as usize, highest as usize);
    let level = (0.5 * (reading(lowest) + reading(highest))).max(reading(highest) - DEEPEST);
    // Phase from the lowest code to where the level is crossed, going one way.
    let crossing = |away: usize| {
        let (mut code, mut from_lowest) = (lowest, 0.0);
        for _ in 0..states {
            // A power of two.
            let next = (code + away) & (states - 1);
            let step = within_half_a_turn(turn(next) - turn(code));
            if reading(next) >= level {
                let rise = reading(next) - reading(code);
                let share = if rise > 0.0 { (level - reading(code)) / rise } else { 0.0 };
                return from_lowest + share * step;
            }
            (code, from_lowest) = (next, from_lowest + step);
        }
        // Nothing rises above the level: all codes read alike.
        0.0
    };
    turn(lowest) + 0.5 * (crossing(1) + crossing(states - 1))
}
