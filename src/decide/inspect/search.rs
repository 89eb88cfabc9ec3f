//! Searches over acceptances: the widest that meets a yield, and the cheapest.

use super::cheapest::{first_sizes, further_sizes};
use super::subject::{Notation, Subject, acceptance};
use super::{BuiltUnits, Cheapest, Search, Shares, TriedAcceptance, Widest};
use crate::decide::limit::{available, find_limit_of};
use crate::decide::{Demand, ProgressSink, Refusal, run_all, with_progress};
use crate::design::Result;
use crate::engine::{Control, End};
use crate::model::Model;

/// The widest acceptance that meets a yield.
pub(super) fn widest(
    subject: &Subject,
    notation: &Notation,
    demand: &Demand,
    control: Control,
    progress: &mut dyn ProgressSink,
) -> Result<Search> {
    let span = subject.reach(notation)?;
    let own = acceptance(&subject.design, &notation.source)
        .map(|window| notation.form.size_of(window, notation.one));
    let range =
        available(&span, own, &mut |size| Ok(subject.model_if_sound(notation, Some(size))?.map(drop)))?;
    let mut shares = Vec::new();
    let mut subject = subject.clone();
    subject.design.build_all();
    let found = find_limit_of(demand, range, own, control, progress, &mut |size| {
        let model = subject.model_if_sound(notation, Some(size))?;
        shares.extend(model.iter().map(|model| Shares::of(model, &notation.source)));
        Ok(model)
    })?;
    Ok(Search::Widest(Widest { found, shares }))
}

/// The acceptance of the least cost per good unit; the search includes no inspection.
pub(super) fn cheapest(
    subject: &Subject,
    notation: &Notation,
    control: Control,
    progress: &mut dyn ProgressSink,
) -> Result<Search> {
    let span = subject.reach(notation)?;
    let sizes = std::iter::once(None).chain(first_sizes(&span).into_iter().map(Some));
    let mut refused = Vec::new();
    let (first, is_finished) = try_all(subject, notation, sizes, control, progress, &mut refused)?;
    let first = match Cheapest::of(first, refused, is_finished) {
        Some(first) if is_finished => first,
        stopped => return Ok(Search::Cheapest(stopped)),
    };
    let further = further_sizes(&span, &first).into_iter().map(Some);
    let mut refused = first.refused;
    let (more, is_finished) = try_all(subject, notation, further, control, progress, &mut refused)?;
    let tried = first.tried.into_iter().chain(more).collect();
    Ok(Search::Cheapest(Cheapest::of(tried, refused, is_finished)))
}

/// Builds units with each acceptance that the study can have, and adds the others to `refused`; false after an interrupt.
fn try_all(
    subject: &Subject,
    notation: &Notation,
    sizes: impl Iterator<Item = Option<f64>>,
    control: Control,
    progress: &mut dyn ProgressSink,
    refused: &mut Vec<Refusal>,
) -> Result<(Vec<TriedAcceptance>, bool)> {
    let mut sound: Vec<Option<f64>> = Vec::new();
    let mut models: Vec<Model> = Vec::new();
    for size in sizes {
        let model = match size {
            Some(_) => subject.model_if_sound(notation, size)?,
            None => Ok(subject.without(notation)),
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
    let (ran, end) = with_progress(progress, most, |advance| run_all(&models, control, advance))?;
    let cost = subject.design.study.cost.as_ref();
    let mut tried = Vec::new();
    let mut is_finished = end != End::Interrupted;
    for ((size, model), ran) in sound.into_iter().zip(&models).zip(ran) {
        let Some(ran) = ran.filter(|ran| !ran.is_cut) else { continue };
        match BuiltUnits::of(model, ran, cost, control)? {
            Some(made) => {
                tried.push(TriedAcceptance { size, shares: Shares::of(model, &notation.source), made })
            }
            None => is_finished = false,
        }
    }
    Ok((tried, is_finished))
}
