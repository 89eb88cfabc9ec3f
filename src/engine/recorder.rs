//! What happens on the simulated bench, written down.

use crate::bench::{Event, Recorder};
use crate::engine::batch::Batch;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::Outcomes;
use crate::engine::simulated_bench::SimulatedBench;
use crate::engine::trial::{LANES, trial};
use crate::engine::workspace::Workspace;
use crate::model::Model;
use std::ops::ControlFlow;

/// What happens on the bench when one calibration meets the unit of a trial. The room keeps what the bench found.
pub(super) fn record(workspace: &mut Workspace<LANES>, calibration: usize, of: u64) -> Vec<Event> {
    let mut observer = OnBench { calibration, events: Vec::new() };
    let mut outcomes: Vec<Outcomes> = workspace.models.iter().map(|model| Outcomes::new(model, of)).collect();
    let _ = trial(workspace, of, 1, &mut outcomes, &mut observer);
    observer.events
}

/// Writes down what one calibration does, and ends the way when it is done.
struct OnBench {
    calibration: usize,
    events: Vec<Event>,
}

impl Observer<LANES> for OnBench {
    type Bench<'a> = Recorder<SimulatedBench<'a, LANES>>;

    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, LANES>) -> Recorder<SimulatedBench<'a, LANES>> {
        Recorder::new(simulated)
    }

    fn leave(&mut self, bench: Recorder<SimulatedBench<LANES>>) {
        self.events = bench.events;
    }

    fn wants(&self, calibration: usize) -> bool {
        calibration == self.calibration
    }

    fn after(&mut self, step: Step, _: &Model, _: &mut Batch<LANES>) -> ControlFlow<()> {
        match step {
            Step::Calibrate(_) => ControlFlow::Break(()),
            _ => ControlFlow::Continue(()),
        }
    }
}
