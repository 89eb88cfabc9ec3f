//! The code that reads most.

use super::{Readout, StateShare, Steps, Sweep, SweepScratch, readout};
use crate::bench::Bench;

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

    /// No formula: the peak is flat, so that noise, display and the gains of states choose between many codes.
    pub(super) fn variance(_: &Sweep, _: &Readout) -> Option<f64> {
        None
    }

    pub(super) fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        readout::of_one_code(sweep, angle, 0.0)
    }

    pub(super) fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        bench: &mut D,
        _: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        Ok(sweep.phases(&bench.highest(sweep.states)?, steps))
    }
}
