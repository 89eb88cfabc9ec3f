//! Trying one acceptance after another: the widest that meets a yield, the one of the least cost.

use super::cheapest::{first_sizes, further_sizes};
use super::subject::{Subject, Way, acceptance};
use super::{Cheapest, Made, Search, Shares, Tried, Widest};
use crate::decide::limit::{available, find_limit_of};
use crate::decide::{Demand, Refusal, Stages, run_all, stage};
use crate::design::Result;
use crate::engine::{Control, End};
use crate::model::Model;

/// The widest acceptance that meets a yield.
pub(super) fn widest(
    subject: &Subject,
    way: &Way,
    demand: &Demand,
    control: Control,
    stages: &mut dyn Stages,
) -> Result<Search> {
    let span = subject.reach(way)?;
    let own = acceptance(&subject.design, &way.source).map(|window| way.form.size_of(window, way.one));
    let range = available(&span, own, &mut |size| Ok(subject.model_if_sound(way, Some(size))?.map(drop)))?;
    let mut shares = Vec::new();
    let mut subject = subject.clone();
    subject.design.build_all();
    let found = find_limit_of(demand, range, own, control, stages, &mut |size| {
        let model = subject.model_if_sound(way, Some(size))?;
        shares.extend(model.iter().map(|model| Shares::of(model, &way.source)));
        Ok(model)
    })?;
    Ok(Search::Widest(Widest { found, shares }))
}

/// The acceptance of the least cost per good unit, no inspection among those that are tried.
pub(super) fn cheapest(
    subject: &Subject,
    way: &Way,
    control: Control,
    stages: &mut dyn Stages,
) -> Result<Search> {
    let span = subject.reach(way)?;
    let sizes = std::iter::once(None).chain(first_sizes(&span).into_iter().map(Some));
    let mut refused = Vec::new();
    let (first, is_finished) = try_all(subject, way, sizes, control, stages, &mut refused)?;
    let first = match Cheapest::of(first, refused, is_finished) {
        Some(first) if is_finished => first,
        stopped => return Ok(Search::Cheapest(stopped)),
    };
    let further = further_sizes(&span, &first).into_iter().map(Some);
    let mut refused = first.refused;
    let (more, is_finished) = try_all(subject, way, further, control, stages, &mut refused)?;
    let tried = first.tried.into_iter().chain(more).collect();
    Ok(Search::Cheapest(Cheapest::of(tried, refused, is_finished)))
}

/// Builds units with each acceptance that the study can have, and adds those that it cannot to `refused`; false when it was stopped.
fn try_all(
    subject: &Subject,
    way: &Way,
    sizes: impl Iterator<Item = Option<f64>>,
    control: Control,
    stages: &mut dyn Stages,
    refused: &mut Vec<Refusal>,
) -> Result<(Vec<Tried>, bool)> {
    let mut sound: Vec<Option<f64>> = Vec::new();
    let mut models: Vec<Model> = Vec::new();
    for size in sizes {
        let model = match size {
            Some(_) => subject.model_if_sound(way, size)?,
            None => Ok(subject.without(way)),
        };
        match model {
            Ok(model) => {
                sound.push(size);
                models.push(model);
            }
            Err(of) => refused.extend(size.map(|value| Refusal { value, reason: of.reason() })),
        }
    }
    if models.is_empty() {
        return Ok((Vec::new(), true));
    }
    let most = models.iter().map(|model| model.trials.most()).sum();
    let (ran, end) = stage(stages, most, |tell| run_all(&models, control, tell))?;
    let cost = subject.design.study.cost.as_ref();
    let mut tried = Vec::new();
    let mut is_finished = end != End::Interrupted;
    for ((size, model), ran) in sound.into_iter().zip(&models).zip(ran) {
        let Some(ran) = ran.filter(|ran| !ran.is_cut) else { continue };
        match Made::of(model, ran, cost, control)? {
            Some(made) => tried.push(Tried { size, shares: Shares::of(model, &way.source), made }),
            None => is_finished = false,
        }
    }
    Ok((tried, is_finished))
}
