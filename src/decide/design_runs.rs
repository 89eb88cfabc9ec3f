//! Several designs on the same units, a few at a time.

use crate::decide::{PassCollector, Passes};
use crate::engine::{Control, End, Summary, run_together};
use crate::error::Error;
use crate::model::Model;

/// Designs that run side by side: enough to share nearly all common work, few enough that an interrupted run has complete results and
/// that memory stays small.
const AT_ONCE: usize = 8;

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
/// Errors: as [`run_together`].
pub(crate) fn run_all(
    models: &[Model],
    control: Control,
    progress: &mut (dyn FnMut(u64) + Send),
) -> Result<(Vec<Option<DesignRun>>, End), Error> {
    let mut all = Vec::with_capacity(models.len());
    let mut end = End::Done;
    let mut done = 0;
    for models in models.chunks(AT_ONCE) {
        if end == End::Interrupted {
            all.extend(models.iter().map(|_| None));
            continue;
        }
        let mut kept = PassCollector::of_all(models);
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
                    Some(DesignRun { summary, passes: kept.into_passes(), is_cut })
                }));
            }
            None => all.extend(models.iter().map(|_| None)),
        }
    }
    Ok((all, end))
}
