//! The code that reads least, and half a turn.

use super::{Caution, PairMethod, Readout, StateShare, Steps, Sweep, SweepScratch, readout};
use crate::bench::{Bench, Code, Receiver};
use crate::math::{PI, TAU, scalar};

/// Null of a full sweep, then half a turn.
///
/// Ties and plateaus: the lowest code of those that read the same (a null below the receiver's floor is
/// such a plateau). Noise: the null is sharp as long as the arms are alike and the floor is deep.
/// Source: common practice, no source.
pub(crate) struct Null;

impl PairMethod for Null {
    const KIND: &'static str = "null";

    /// Formula: midway between two codes both read the same, so noise decides; a jitter x of that midpoint adds x^2 to the mean square
    /// of the phase, x = s sqrt(2)/D, D the slope there of the difference of the two readings. None where x is more than a
    /// quarter of a step, as more than two codes compete then. Source: own derivation.
    fn variance(sweep: &Sweep, readout: &Readout) -> Option<f64> {
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

    fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        readout::of_one_code(sweep, angle, PI)
    }

    fn solve<D: Bench<W>, const W: usize>(
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

    fn caution(step: f64, receiver: &Receiver) -> Option<Caution> {
        // Two equal channels peak at twice the power of one.
        let beside = 10.0 * scalar::log10(2.0) + 20.0 * scalar::log10(scalar::sin(step / 2.0));
        let floors = receiver.floor_db.into_iter().chain(receiver.noise_floor_db);
        let floor = floors.fold(f64::NEG_INFINITY, f64::max);
        (floor > beside).then(|| Caution {
            message: format!("the receiver's floor of {floor:.1} dB hides the null"),
            label: format!("one step from the null the pair reads {beside:.1} dB"),
            help: "a lower floor, or the method \"fit\"",
        })
    }

    fn title(codes: usize) -> String {
        format!("the null of a sweep of {codes} codes, then half a turn")
    }

    const RESULT: &'static str = "the code with the lowest, and half a turn on";
}
