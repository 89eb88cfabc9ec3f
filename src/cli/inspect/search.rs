//! Trying one acceptance after another: the widest that meets a yield, the one of the least cost.

use super::subject::{Subject, Way, acceptance};
use crate::cli::progress::Progress;
use crate::decide::inspect::{Cheapest, Made, Search, Shares, Tried, Widest, first_sizes, further_sizes};
use crate::decide::{Demand, find_limit, run_all, try_on_units};
use crate::engine::{Control, End};
use crate::error::Result;
use crate::plan::Plan;

/// The widest acceptance that meets a yield.
pub(super) fn widest(
    subject: &Subject,
    way: &Way,
    demand: &Demand,
    control: Control,
    is_quiet: bool,
) -> Result<Search> {
    let span = subject.reach(way)?;
    let own = acceptance(&subject.opened, &way.source).map(|window| way.form.size_of(window, way.one));
    for end in [span.from, span.to] {
        subject.plan(way, Some(end))?;
    }
    let mut shares = Vec::new();
    let found = find_limit(demand, &span, own, &mut |size, units| {
        let plan = subject.plan(way, Some(size))?;
        shares.push(Shares::of(&plan, &way.source));
        let mut progress = Progress::new(demand.units, is_quiet);
        let tried = try_on_units(plan, control, units, &mut |done| progress.at(done));
        progress.end();
        tried
    })?;
    Ok(Search::Widest(Widest { found, shares }))
}

/// The acceptance of the least cost per good unit, no inspection among those that are tried.
pub(super) fn cheapest(subject: &Subject, way: &Way, control: Control, is_quiet: bool) -> Result<Search> {
    let span = subject.reach(way)?;
    let sizes = std::iter::once(None).chain(first_sizes(&span).into_iter().map(Some));
    let (first, is_finished) = try_all(subject, way, sizes, control, is_quiet)?;
    let first = match Cheapest::of(first, is_finished) {
        Some(first) if is_finished => first,
        stopped => return Ok(Search::Cheapest(stopped)),
    };
    let further = further_sizes(&span, &first);
    let (more, is_finished) = try_all(subject, way, further.into_iter().map(Some), control, is_quiet)?;
    let tried = first.tried.into_iter().chain(more).collect();
    Ok(Search::Cheapest(Cheapest::of(tried, is_finished)))
}

/// Builds units with each acceptance; false when it was stopped.
fn try_all(
    subject: &Subject,
    way: &Way,
    sizes: impl Iterator<Item = Option<f64>>,
    control: Control,
    is_quiet: bool,
) -> Result<(Vec<Tried>, bool)> {
    let sizes: Vec<Option<f64>> = sizes.collect();
    let plan = |size: &Option<f64>| match size {
        Some(_) => subject.plan(way, *size),
        None => Ok(subject.without(way)),
    };
    let plans: Vec<Plan> = sizes.iter().map(plan).collect::<Result<_>>()?;
    if plans.is_empty() {
        return Ok((Vec::new(), true));
    }
    let most = plans.iter().map(|plan| plan.trials.most()).sum();
    let mut progress = Progress::new(most, is_quiet);
    let ran = run_all(&plans, control, &mut |done| progress.at(done));
    progress.end();
    let (ran, end) = ran?;
    let cost = subject.opened.study.cost.as_ref();
    let tried = sizes.into_iter().zip(&plans).zip(ran).filter_map(|((size, plan), ran)| {
        let ran = ran.filter(|ran| !ran.is_cut)?;
        Some(Tried { size, shares: Shares::of(plan, &way.source), made: Made::of(plan, ran, cost)? })
    });
    Ok((tried.collect(), end != End::Interrupted))
}
