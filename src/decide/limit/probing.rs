//! Values of a study on the engine: units of each are built until the judge has enough.

use super::{Demand, Found, Refusal, Span, Units, find_limit};
use crate::decide::{Stages, stage};
use crate::design::{Checked, Result};
use crate::engine::{self, Control};
use crate::model::Model;
use std::sync::atomic::{AtomicBool, Ordering};

/// Builds units of a plan with one calibration and a spec until there are enough, or until it is stopped from outside; the plan is of
/// as many as may be wanted, whatever their yield. `progress` is told the units done.
///
/// # Errors
/// As [`engine::run`].
pub fn try_on_units(
    model: &Model,
    control: Control,
    units: &mut Units,
    progress: &mut (dyn FnMut(u64) + Send),
) -> Result<()> {
    let enough = AtomicBool::new(control.interrupt.load(Ordering::Relaxed));
    let own = Control { interrupt: &enough, ..control };
    let mut done = 0;
    if let Some(lot) = model.lot() {
        units.in_lots(lot);
    }
    engine::run(model, own, |outcomes| {
        let of = &outcomes.calibrations[0];
        units.take_word(outcomes.trials, of.passed());
        done += outcomes.trials;
        progress(done);
        if units.are_enough() || control.interrupt.load(Ordering::Relaxed) {
            enough.store(true, Ordering::Relaxed);
        }
        Ok(())
    })?;
    Ok(())
}

/// Seeks the loosest value of a range at which a demand is met, each as `plan_at` has it: the plan of all units, or why the study cannot
/// have the value. `refused` are values that it was found not to have before.
///
/// # Errors
/// As [`engine::run`] and `plan_at`.
pub(in crate::decide) fn find_limit_of(
    demand: &Demand,
    (span, refused): (Span, Vec<Refusal>),
    own: Option<f64>,
    control: Control,
    stages: &mut dyn Stages,
    plan_at: &mut dyn FnMut(f64) -> Checked<Checked<Model>>,
) -> Result<Found> {
    let mut found = find_limit(demand, &span, own, &mut |value, units| {
        match plan_at(value)? {
            Ok(model) => {
                stage(stages, demand.units, |tell| try_on_units(&model, control, units, tell))?;
            }
            Err(refused) => units.refuse(refused.reason()),
        }
        Ok(())
    })?;
    found.refused.splice(..0, refused);
    Ok(found)
}
