//! Where the time of a trial goes, step by step.

use crate::engine::batch::Batch;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::Outcomes;
use crate::engine::sharing::Sharing;
use crate::engine::simulated_bench::SimulatedBench;
use crate::engine::trial::{LANES, trial};
use crate::engine::workspace::Workspace;
use crate::model::Model;
use std::ops::ControlFlow;
use std::slice;
use std::time::{Duration, Instant};

/// The steps, in their order.
pub const STEPS: [&str; 6] = ["draw", "build", "calibrate", "steer", "measure", "judge"];

/// Time that each of [`STEPS`] took, all calibrations and beam points together.
pub type StepTimes = [Duration; STEPS.len()];

/// Takes some batches of a model's units, [`LANES`] each, on this thread.
pub(crate) fn step_times(model: &Model, batches: u64) -> StepTimes {
    let models = slice::from_ref(model);
    let sharing = Sharing::of(models);
    let mut workspace = Workspace::new(models, &sharing);
    let mut clock = Clock { since: Instant::now(), times: StepTimes::default() };
    for batch in 0..batches {
        let first = batch * LANES as u64;
        let mut outcomes = Outcomes::new(model, first);
        clock.since = Instant::now();
        let _ = trial(&mut workspace, first, LANES, slice::from_mut(&mut outcomes), &mut clock);
    }
    clock.times
}

struct Clock {
    since: Instant,
    times: StepTimes,
}

impl Observer<LANES> for Clock {
    type Bench<'a> = SimulatedBench<'a, LANES>;

    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, LANES>) -> SimulatedBench<'a, LANES> {
        simulated
    }

    fn after(&mut self, step: Step, _: &Model, _: &mut Batch<LANES>) -> ControlFlow<()> {
        let now = Instant::now();
        self.times[step.place()] += now - self.since;
        self.since = now;
        ControlFlow::Continue(())
    }
}
