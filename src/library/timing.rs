//! The parts of the engine that benchmarks time. No caller needs them: models that are compiled before they run, and the steps of a trial.

use crate::decide::run_all;
use crate::engine::{Control, step_times};
use crate::error::Error;
use crate::library::Study;
use crate::model::Model;
use std::slice;

pub use crate::engine::{LANES, STEPS, StepTimes};

/// Studies compiled.
#[derive(Clone, Debug)]
pub struct Compiled(Vec<Model>);

impl Compiled {
    /// Compiles studies.
    pub fn new(studies: &[Study]) -> Compiled {
        Compiled(studies.iter().map(|study| study.design.model()).collect())
    }

    /// Runs all of them together, as a sweep does.
    ///
    /// # Errors
    /// As [`Study::run`].
    pub fn run_together(&self, control: Control) -> Result<(), Error> {
        run_all(&self.0, control, &mut |_| ()).map(|_| ())
    }

    /// Runs one after the other.
    ///
    /// # Errors
    /// As [`Study::run`].
    pub fn run_alone(&self, control: Control) -> Result<(), Error> {
        self.0.iter().try_for_each(|model| run_all(slice::from_ref(model), control, &mut |_| ()).map(|_| ()))
    }

    /// Times the steps of so many batches of the first one, one thread; `None` where there is none.
    pub fn step_times(&self, batches: u64) -> Option<StepTimes> {
        self.0.first().map(|model| step_times(model, batches))
    }
}
