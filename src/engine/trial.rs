//! The model on one page: what happens to one batch of virtual units. Every run goes this way, and every unit that is looked at.

use crate::engine::batch::Batch;
use crate::engine::build::build;
use crate::engine::calibrate::calibrate;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::{Outcomes, PlanOutcomes};
use crate::engine::room::Room;
use crate::engine::sharing::Origin;
use crate::engine::steer::steer;
use crate::model::Model;
use std::ops::ControlFlow;

/// Trials in flight at once. Any other width gives the same bits.
pub const LANES: usize = 16;

/// Builds the units of the trials `first_trial ..`, calibrates them by every calibration of every plan, steers them to every look, measures
/// and judges. The first `count` lanes are appended to the outcomes, `[plan]`. What a plan shares with one before it is not done again.
///
/// The observer sees the batch after each step. Where it breaks, or the room is given up, the units are not counted, and the outcomes have to
/// take back what was judged of them.
pub(super) fn trial<const W: usize, O: Observer<W>>(
    room: &mut Room<W>,
    first_trial: u64,
    count: usize,
    outcomes: &mut [Outcomes],
    observer: &mut O,
) -> ControlFlow<()> {
    let Room { models, sharing, gives_up, batches, noise } = room;
    for (number, (model, shared)) in models.iter().zip(&sharing.models).enumerate() {
        let (before, own) = batches.split_at_mut(shared.batch);
        let batch = &mut own[0];
        if let Some(twins) = &shared.shared {
            let drawn = |other: usize| (&models[other].sources, &before[sharing.models[other].batch].draws);
            batch.first_trial = first_trial;
            model.sources.draw_shared(first_trial, twins, drawn, &mut batch.draws);
            observer.after(Step::Draw, model, batch)?;
            build(model, batch);
            observer.after(Step::Build, model, batch)?;
        }
        let (before, own) = outcomes.split_at_mut(number);
        for (calibration, kept) in own[0].calibrations.iter_mut().enumerate() {
            if !observer.wants(calibration) {
                continue;
            }
            match shared.outcomes[calibration] {
                Some(Origin { model, calibration }) => {
                    recall(&before[model].calibrations[calibration], count, batch)
                }
                None => {
                    calibrate(model, calibration, batch, noise, gives_up, observer)?;
                    observer.after(Step::Calibrate(calibration), model, batch)?;
                    for point in 0..model.points.len() {
                        if gives_up() {
                            return ControlFlow::Break(());
                        }
                        steer(model, calibration, point, batch);
                        observer.after(Step::Steer(point), model, batch)?;
                        measure(model, point, batch);
                        observer.after(Step::Measure(point), model, batch)?;
                    }
                }
            }
            judge(model, count, batch, kept);
            observer.after(Step::Judge(calibration), model, batch)?;
        }
    }
    outcomes.iter_mut().for_each(|of| of.trials += count as u64);
    ControlFlow::Continue(())
}

/// Takes over what the same units were judged by after a calibration that comes to the same.
fn recall<const W: usize>(of: &PlanOutcomes, count: usize, batch: &mut Batch<W>) {
    let Batch { values, seconds, is_stranded, .. } = batch;
    of.recall(count, values, seconds, is_stranded);
}

/// Takes every figure that is asked for at a look.
fn measure<const W: usize>(model: &Model, point: usize, batch: &mut Batch<W>) {
    let at = &model.points[point];
    batch.field.take(&model.array, at, model.depth);
    for (column, value) in model.columns.iter().zip(&mut batch.values) {
        if column.point == point {
            *value = column.figure.measure(at, &batch.field);
        }
    }
}

/// Compares the figures with the spec and keeps them.
fn judge<const W: usize>(model: &Model, count: usize, batch: &Batch<W>, kept: &mut PlanOutcomes) {
    let too_many = |dead: u32| dead as usize > model.dead.allowed;
    let failed = [batch.dead.map(too_many), batch.is_stranded];
    kept.push(model, count, &batch.values, &batch.seconds, &failed);
}

#[cfg(test)]
mod tests;
