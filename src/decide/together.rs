//! Several designs on the same units, a few at a time.

use crate::decide::{Keeper, Passes};
use crate::engine::{Control, End, Summary, run_together};
use crate::error::Error;
use crate::model::Model;

/// Designs that run side by side: enough to share nearly all that they have in common, few enough that a stopped run has
/// whole results to keep and that memory stays small.
const AT_ONCE: usize = 8;

/// What one design came to.
#[derive(Clone, Debug)]
pub struct Ran {
    /// What its trials say, but for the values of its figures one by one.
    pub summary: Summary,
    /// Which units pass, `[calibration]`.
    pub passes: Vec<Passes>,
    /// Whether a stop from outside came before its end.
    pub is_cut: bool,
}

/// Runs all plans on the same units, the first ones first, and tells `progress` the trials that are done over all plans. A plan
/// that a stop from outside left without a trial has no result; one that it cut short has fewer trials.
///
/// Errors: as [`run_together`].
pub fn run_all(
    models: &[Model],
    control: Control,
    progress: &mut (dyn FnMut(u64) + Send),
) -> Result<(Vec<Option<Ran>>, End), Error> {
    let mut all = Vec::with_capacity(models.len());
    let mut end = End::Done;
    let mut done = 0;
    for models in models.chunks(AT_ONCE) {
        if end == End::Interrupted {
            all.extend(models.iter().map(|_| None));
            continue;
        }
        let mut kept = Keeper::of_all(models);
        let together = run_together(models, control, |outcomes| {
            kept.iter_mut().zip(outcomes).for_each(|(kept, of)| kept.take(of));
            done += outcomes.iter().map(|of| of.trials).sum::<u64>();
            progress(done);
            Ok(())
        })?;
        end = together.end;
        match together.summaries {
            Some(summaries) => {
                let ran = summaries.into_iter().zip(kept);
                let is_cut = end == End::Interrupted;
                all.extend(ran.map(|(mut summary, kept)| {
                    summary.forget_values();
                    Some(Ran { summary, passes: kept.into_passes(), is_cut })
                }));
            }
            None => all.extend(models.iter().map(|_| None)),
        }
    }
    Ok((all, end))
}
