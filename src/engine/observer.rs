//! Observers of a batch, which see it after each step.

use crate::bench::Tabled;
use crate::engine::batch::Batch;
use crate::engine::simulated_bench::{GivenUp, SimulatedBench};
use crate::model::Model;
use std::ops::ControlFlow;

/// A step on the way of a batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// Every deviation of the units and of the bench is drawn.
    Draw,
    /// Channels are made of the draws.
    Build,
    /// The units are calibrated by one of the model's calibrations.
    Calibrate(usize),
    /// The codes for a beam point are set.
    Steer(usize),
    /// The figures at a beam point are taken.
    Measure(usize),
    /// The figures are compared with the spec, after one of the model's calibrations.
    Judge(usize),
}

impl Step {
    /// Its place in the order of a way.
    pub(super) fn place(self) -> usize {
        match self {
            Step::Draw => 0,
            Step::Build => 1,
            Step::Calibrate(_) => 2,
            Step::Steer(_) => 3,
            Step::Measure(_) => 4,
            Step::Judge(_) => 5,
        }
    }
}

/// Sees a batch after every step of its way.
pub(super) trait Observer<const W: usize> {
    /// The bench that units are calibrated on: what it asks cannot fail.
    type Bench<'a>: Tabled<W, Fault = GivenUp>;

    /// Makes the bench of the simulated one.
    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, W>) -> Self::Bench<'a>;

    /// Takes the bench when a calibration is done.
    fn leave(&mut self, _: Self::Bench<'_>) {}

    /// Whether a calibration, by its number, is to be done at all.
    fn wants(&self, _: usize) -> bool {
        true
    }

    /// Sees the batch; a break ends its way.
    fn after(&mut self, step: Step, model: &Model, batch: &mut Batch<W>) -> ControlFlow<()>;
}

/// Observes nothing.
pub(super) struct Nobody;

impl<const W: usize> Observer<W> for Nobody {
    type Bench<'a> = SimulatedBench<'a, W>;

    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, W>) -> SimulatedBench<'a, W> {
        simulated
    }

    fn after(&mut self, _: Step, _: &Model, _: &mut Batch<W>) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }
}
