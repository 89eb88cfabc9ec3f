//! One value of a study on the engine: units are built until the judge has enough.

use super::Units;
use crate::engine::{self, Control};
use crate::error::Result;
use crate::plan::Plan;
use crate::study::Trials;
use std::sync::atomic::{AtomicBool, Ordering};

/// Builds units of a plan with one calibration and a spec until there are enough, or until it is stopped from outside. `progress` is told
/// the units done.
///
/// # Errors
/// As [`engine::run`].
pub fn try_on_units(
    plan: Plan,
    control: Control,
    units: &mut Units,
    progress: &mut (dyn FnMut(u64) + Send),
) -> Result<()> {
    let plan = Plan { trials: Trials::Fixed(units.at_most()), ..plan };
    let enough = AtomicBool::new(control.interrupt.load(Ordering::Relaxed));
    let own = Control { interrupt: &enough, ..control };
    let mut done = 0;
    if let Some(lot) = plan.lot() {
        units.in_lots(lot);
    }
    engine::run(&plan, own, |outcomes| {
        let of = &outcomes.plans[0];
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
