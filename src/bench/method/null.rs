//! The code that reads least, and half a turn.

use super::{Readout, StateShare, Steps, Sweep, SweepScratch, readout};
use crate::bench::{Bench, Code};
use crate::math::{PI, TAU, scalar};

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

    /// Formula: midway between two codes both read the same, so noise decides; a jitter x of that midpoint adds x^2 to the mean square
    /// of what is found, x = s sqrt(2)/D, D the slope there of the difference of the two readings. None where x is more than a
    /// quarter of a step, as more than two codes compete then. Source: own derivation.
    pub(super) fn variance(sweep: &Sweep, readout: &Readout) -> Option<f64> {
        let step = TAU / sweep.states as f64;
        let power = |angle: f64| {
            let sin = scalar::sin(0.5 * angle);
            0.5 * readout.unlike + 2.0 * sin * sin
        };
        let slope = readout.level(power(0.5 * step * 1.01)) - readout.level(power(0.5 * step * 0.99));
        let slope = 2.0 * slope / (0.01 * step);
        let jitter = (2.0 * readout.variance_db(power(0.5 * step))).sqrt() / slope;
        (jitter < 0.25 * step).then_some(jitter * jitter)
    }

    pub(super) fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        readout::of_one_code(sweep, angle, PI)
    }

    pub(super) fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        bench: &mut D,
        _: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        let lowest = bench.lowest(sweep.states)?;
        if steps.is_some() {
            // Half a turn is half a turn, whatever the code for it really does.
            return Ok(sweep.phases(&lowest, steps).map(|phase| phase + PI as f32));
        }
        let (half_a_turn, mask) = (sweep.states as Code / 2, sweep.states as Code - 1);
        Ok(sweep.phases(&lowest.map(|code| (code + half_a_turn) & mask), None))
    }
}
