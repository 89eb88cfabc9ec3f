//! Several designs on the same units.

use crate::decide::part::{Keeper, Part, Values, build};
use crate::decide::{Passes, split};
use crate::engine::{Control, End, Outcomes, Summary};
use crate::error::Error;
use crate::model::Model;

/// The results of one design.
#[derive(Clone, Debug)]
pub(crate) struct DesignRun {
    /// Results of its trials, without the single values of its figures.
    pub summary: Summary,
    /// Which units pass, `[calibration]`.
    pub passes: Vec<Passes>,
    /// Whether an interrupt came before its end.
    pub is_cut: bool,
}

/// Runs all designs on the same units, in order; `progress` gets the number of trials done over all designs. After an interrupt a
/// design without trials has no result, and one that was cut short has fewer trials.
///
/// Errors: as [`build`].
pub(crate) fn run_all(
    models: &[Model],
    control: Control,
    progress: &mut (dyn FnMut(u64) + Send),
) -> Result<(Vec<Option<DesignRun>>, End), Error> {
    let mut part = Part::default();
    let mut keeper = Counting { done: 0, progress };
    let end = build(models, &split::whole(models), Values::Forgotten, &mut part, control, &mut keeper)?;
    Ok((part.into_runs(models, control)?, end))
}

/// Reports progress, and keeps nothing.
struct Counting<'p> {
    done: u64,
    progress: &'p mut (dyn FnMut(u64) + Send),
}

impl Keeper for Counting<'_> {
    fn take(&mut self, outcomes: &[Outcomes]) -> Result<(), Error> {
        self.done += outcomes.iter().map(|of| of.trials).sum::<u64>();
        (self.progress)(self.done);
        Ok(())
    }
}
