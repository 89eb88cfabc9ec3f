//! Who looks at a batch on its way.

use crate::bench::Tabled;
use crate::engine::batch::Batch;
use crate::engine::desk::{GivenUp, SimulatedDesk};
use crate::plan::Plan;
use std::ops::ControlFlow;

/// A step on the way of a batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Every deviation of the units and of the bench is drawn.
    Draw,
    /// Channels are made of the draws.
    Build,
    /// The units are calibrated by one of the plan's calibrations.
    Calibrate(usize),
    /// The codes for a look are set.
    Steer(usize),
    /// The figures at a look are taken.
    Measure(usize),
    /// The figures are compared with the spec, after one of the plan's calibrations.
    Judge(usize),
}

impl Step {
    /// Its place in the order of a way.
    pub fn place(self) -> usize {
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
    /// The desk that units are calibrated on: what it asks cannot fail.
    type Desk<'a>: Tabled<W, Fault = GivenUp>;

    /// Makes the desk of the simulated one.
    fn desk<'a>(&mut self, simulated: SimulatedDesk<'a, W>) -> Self::Desk<'a>;

    /// Takes the desk when a calibration is done.
    fn leave(&mut self, _: Self::Desk<'_>) {}

    /// Whether a calibration, by its number, is to be done at all.
    fn wants(&self, _: usize) -> bool {
        true
    }

    /// Sees the batch; a break ends its way.
    fn after(&mut self, step: Step, plan: &Plan, batch: &mut Batch<W>) -> ControlFlow<()>;
}

/// Looks at nothing.
pub(super) struct Nobody;

impl<const W: usize> Observer<W> for Nobody {
    type Desk<'a> = SimulatedDesk<'a, W>;

    fn desk<'a>(&mut self, simulated: SimulatedDesk<'a, W>) -> SimulatedDesk<'a, W> {
        simulated
    }

    fn after(&mut self, _: Step, _: &Plan, _: &mut Batch<W>) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }
}
