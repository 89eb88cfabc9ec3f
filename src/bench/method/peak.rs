//! The code that reads most.

use super::{Caution, PairMethod, StateShare, Steps, Sweep, SweepScratch, readout};
use crate::bench::{Bench, Receiver};

/// Peak of a full sweep.
///
/// Ties and plateaus: the lowest code of those that read the same. Noise: the peak is flat, so the largest
/// reading is often not the nearest code; a step of one code from the peak costs -20 log10 cos(step/2) dB.
/// Source: common practice, no source.
/// No formula for the variance: the peak is flat, so that noise, display and the gains of states choose between many codes.
pub(crate) struct Peak;

impl PairMethod for Peak {
    const KIND: &'static str = "peak";

    fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        readout::of_one_code(sweep, angle, 0.0)
    }

    fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        bench: &mut D,
        _: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        Ok(sweep.phases(&bench.highest(sweep.states)?, steps))
    }

    fn caution(step: f64, receiver: &Receiver) -> Option<Caution> {
        Caution::of_flat_top(step, receiver)
    }

    fn title(codes: usize) -> String {
        format!("the peak of a sweep of {codes} codes")
    }

    const RESULT: &'static str = "the code with the highest";
}
