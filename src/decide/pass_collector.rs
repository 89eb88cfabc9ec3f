//! Collects which units pass, chunk by chunk.

use crate::decide::Passes;
use crate::engine::Outcomes;
use crate::model::Model;

/// Collects the verdicts on one design's units.
#[derive(Clone, Debug)]
pub(crate) struct PassCollector(Vec<Passes>);

impl PassCollector {
    /// Empty.
    pub(crate) fn new(model: &Model) -> PassCollector {
        PassCollector(vec![Passes::new(model); model.calibrations.len()])
    }

    /// For the units from one on.
    pub(super) fn starting(model: &Model, first: u64) -> PassCollector {
        PassCollector(vec![Passes::starting(model, first); model.calibrations.len()])
    }

    /// One for each design.
    pub(super) fn of_all(models: &[Model]) -> Vec<PassCollector> {
        models.iter().map(PassCollector::new).collect()
    }

    /// Adds the next chunk.
    pub(crate) fn take(&mut self, outcomes: &Outcomes) {
        self.0.iter_mut().zip(&outcomes.calibrations).for_each(|(passes, of)| passes.push(of));
    }

    /// Which units pass, `[calibration]`.
    pub(crate) fn passes(&self) -> &[Passes] {
        &self.0
    }

    /// The same, owned.
    pub(super) fn into_passes(self) -> Vec<Passes> {
        self.0
    }
}
