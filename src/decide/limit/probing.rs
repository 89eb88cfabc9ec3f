//! Tries values of a study on the engine: builds units at each until the judge has enough.

use super::{Demand, LimitResult, Refusal, Span, Units, find_limit};
use crate::decide::{ProgressSink, with_progress};
use crate::design::{Checked, Result};
use crate::engine::{self, Control};
use crate::model::Model;
use std::sync::atomic::{AtomicBool, Ordering};

/// Builds units of a model with one calibration plan and limits until the judge has enough, or until an interrupt; the model asks for the
/// maximum number. `progress` gets the number of units built so far.
///
/// # Errors
/// As [`engine::run`].
pub(crate) fn try_on_units(
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

/// Seeks the loosest value of a range that meets a demand. `model_at` gives the model of a value, or why the study cannot have the value.
/// `refused` are values already known as refused.
///
/// # Errors
/// As [`engine::run`] and `model_at`.
pub(in crate::decide) fn find_limit_of(
    demand: &Demand,
    (span, refused): (Span, Vec<Refusal>),
    own: Option<f64>,
    control: Control,
    progress: &mut dyn ProgressSink,
    model_at: &mut dyn FnMut(f64) -> Checked<Checked<Model>>,
) -> Result<LimitResult> {
    let mut found = find_limit(demand, &span, own, &mut |value, units| {
        match model_at(value)? {
            Ok(model) => {
                with_progress(progress, demand.units, |advance| {
                    try_on_units(&model, control, units, advance)
                })?;
            }
            Err(refused) => units.refuse(refused.reason()),
        }
        Ok(())
    })?;
    found.refused.splice(..0, refused);
    Ok(found)
}
