//! The model on one page: what happens to one batch of virtual units. Every run and every rebuilt unit takes these steps.

use crate::engine::batch::Batch;
use crate::engine::build::build;
use crate::engine::calibrate::calibrate;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::{Outcomes, PlanOutcomes};
use crate::engine::sharing::Origin;
use crate::engine::steer::steer;
use crate::engine::workspace::Workspace;
use crate::model::Model;
use std::ops::ControlFlow;

/// Trials in flight at once. Any other width gives the same bits.
pub const LANES: usize = 16;

/// Builds the units of the trials `first_trial ..`, calibrates them by every calibration of every model, steers them to every beam point, measures
/// and judges. The first `count` lanes are appended to the outcomes, `[model]`. What a model shares with one before it is not done again.
///
/// The observer sees the batch after each step. Where it breaks, or `should_stop` says so, the units are not counted, and the outcomes have to
/// drop their verdicts.
pub(super) fn trial<const W: usize, O: Observer<W>>(
    workspace: &mut Workspace<W>,
    first_trial: u64,
    count: usize,
    outcomes: &mut [Outcomes],
    observer: &mut O,
) -> ControlFlow<()> {
    let Workspace { models, sharing, should_stop, batches, noise } = workspace;
    for (number, (model, shared)) in models.iter().zip(&sharing.models).enumerate() {
        let (before, own) = batches.split_at_mut(shared.batch);
        let batch = &mut own[0];
        if let Some(drawn_before) = &shared.shared {
            let drawn = |other: usize| (&models[other].sources, &before[sharing.models[other].batch].draws);
            batch.first_trial = first_trial;
            model.sources.draw_shared(first_trial, drawn_before, drawn, &mut batch.draws);
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
                    calibrate(model, calibration, batch, noise, should_stop, observer)?;
                    observer.after(Step::Calibrate(calibration), model, batch)?;
                    for point in 0..model.points.len() {
                        if should_stop() {
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

/// Takes over the figures of the same units after a calibration with the same result.
fn recall<const W: usize>(of: &PlanOutcomes, count: usize, batch: &mut Batch<W>) {
    let Batch { values, seconds, is_stranded, .. } = batch;
    of.recall(count, values, seconds, is_stranded);
}

/// Takes every figure that is asked for at a beam point.
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
