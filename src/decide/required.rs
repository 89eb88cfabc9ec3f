//! A yield that is required of every plan that calibrates; plans that leave units as built are exempt.

use crate::design::{Checked, Design};
use crate::engine::{CalibrationSummary, Summary};
use crate::model::Model;

/// Refuses a required yield that applies to no plan: every run would meet it.
///
/// # Errors
/// Without limits, and where no plan calibrates.
pub(crate) fn refuse_idle(design: &Design, model: &Model) -> Checked<()> {
    if model.limits.is_empty() {
        return Err(design.refuse(
            "a yield is required of a study without limits",
            "add a `[[limit]]`, or leave `--require-yield` out",
        ));
    }
    if model.calibrations.iter().all(|plan| plan.is_none()) {
        return Err(design.refuse(
            "a yield is required, but no plan calibrates",
            "run a plan with `level` or `align`, or leave `--require-yield` out",
        ));
    }
    Ok(())
}

/// The plans whose yield is not shown to reach the required share, with the lower ends of their intervals.
pub(crate) fn missed<'s>(
    model: &'s Model,
    summary: &'s Summary,
    share: f64,
) -> impl Iterator<Item = (&'s CalibrationSummary, f64)> {
    let held = summary.calibrations.iter().zip(&model.calibrations).filter(|(_, plan)| !plan.is_none());
    held.filter_map(move |(of, _)| {
        let low = of.yield_.as_ref()?.low;
        // Written so that a NaN bound is a miss.
        let is_met = low >= share;
        (!is_met).then_some((of, low))
    })
}
