//! Which units pass, kept as they come in.

use crate::decide::Passes;
use crate::engine::Outcomes;
use crate::model::Model;

/// Keeps the verdicts of one plan's units.
#[derive(Clone, Debug)]
pub struct Keeper(Vec<Passes>);

impl Keeper {
    /// Of no units yet.
    pub fn new(model: &Model) -> Keeper {
        Keeper(vec![Passes::new(model); model.calibrations.len()])
    }

    /// One for each plan.
    pub(super) fn of_all(models: &[Model]) -> Vec<Keeper> {
        models.iter().map(Keeper::new).collect()
    }

    /// Takes the next chunk.
    pub fn take(&mut self, outcomes: &Outcomes) {
        self.0.iter_mut().zip(&outcomes.calibrations).for_each(|(passes, of)| passes.push(of));
    }

    /// Which units pass, `[calibration]`.
    pub fn passes(&self) -> &[Passes] {
        &self.0
    }

    /// The same, to keep.
    pub(super) fn into_passes(self) -> Vec<Passes> {
        self.0
    }
}
