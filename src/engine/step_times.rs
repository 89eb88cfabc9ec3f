//! Where the time of a trial goes, step by step.

use crate::engine::batch::Batch;
use crate::engine::desk::SimulatedDesk;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::Outcomes;
use crate::engine::room::Room;
use crate::engine::sharing::Sharing;
use crate::engine::trial::{LANES, trial};
use crate::plan::Plan;
use std::ops::ControlFlow;
use std::slice;
use std::time::{Duration, Instant};

/// The steps, in their order.
pub const STEPS: [&str; 6] = ["draw", "build", "calibrate", "steer", "measure", "judge"];

/// Time that each of [`STEPS`] took, all calibrations and looks together.
pub type StepTimes = [Duration; STEPS.len()];

/// Takes some batches of a plan's units, [`LANES`] each, on this thread.
pub fn step_times(plan: &Plan, batches: u64) -> StepTimes {
    let plans = slice::from_ref(plan);
    let sharing = Sharing::of(plans);
    let mut room = Room::new(plans, &sharing);
    let mut clock = Clock { since: Instant::now(), times: StepTimes::default() };
    for batch in 0..batches {
        let first = batch * LANES as u64;
        let mut outcomes = Outcomes::new(plan, first);
        clock.since = Instant::now();
        let _ = trial(&mut room, first, LANES, slice::from_mut(&mut outcomes), &mut clock);
    }
    clock.times
}

struct Clock {
    since: Instant,
    times: StepTimes,
}

impl Observer<LANES> for Clock {
    type Desk<'a> = SimulatedDesk<'a, LANES>;

    fn desk<'a>(&mut self, simulated: SimulatedDesk<'a, LANES>) -> SimulatedDesk<'a, LANES> {
        simulated
    }

    fn after(&mut self, step: Step, _: &Plan, _: &mut Batch<LANES>) -> ControlFlow<()> {
        let now = Instant::now();
        self.times[step.place()] += now - self.since;
        self.since = now;
        ControlFlow::Continue(())
    }
}
