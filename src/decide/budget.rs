//! The error budget: what the yield gains without each cause, and what share each cause has in the failures and in the spread of the
//! figures.
//!
//! Causes are ranked by the points of yield gained when each is made perfect, on the same units. Shares of variance stand beside the
//! gains: pick-freeze draws one cause from a second sample and freezes all others, see [`crate::stats::sensitivity`]. A fixed cause (a
//! display's resolution, a rounding) has no share, as it makes no two units differ. It is switched off like any other, and yield and
//! spread are those of the same units without it.

mod accumulators;
mod checks;
mod gains;

pub(crate) use checks::{causes_of, refuse_unfit};
pub(crate) use gains::{Gain, Gains, Group};

use crate::bench::Calibration;
use crate::decide::{PassCollector, Passes, run_all};
use crate::engine::{Control, End, Pool, Summary, in_parallel, run_together};
use crate::error::Error;
use crate::figure::Figure;
use crate::model::vary::{Cause, from_second_sample, without};
use crate::model::{Column, Model};
use crate::random::{Key, Scope, Stream};
use crate::stats::{Estimate, Lead, Moments, Pairs, Resamples, Share, sensitivity};
use accumulators::Accumulators;
use gains::{GroupSearch, without_all};

/// Fewest units for an interval.
const FEWEST_UNITS: u64 = 1024;

/// Fewest lots for an interval, where the units of a lot share a draw.
pub(crate) const FEWEST_LOTS: u64 = 64;

/// Fewest units that fail, and fewest that pass, in both samples together, for shares of the failures.
const FEWEST_FAILURES: f64 = 20.0;

/// A standard deviation below this is rounding error, in the units of the figures (deg, dB).
const NOTHING: f64 = 1e-9;

/// Resamples for the intervals.
const RESAMPLES: u64 = 999;

/// Causes that run at once from the second sample, beside both samples.
const AT_ONCE: usize = 6;

/// The error budget of a study.
#[derive(Clone, Debug)]
pub(crate) struct Budget {
    /// Units of each sample.
    pub units: u64,
    /// Units that the study asks for.
    pub planned: u64,
    /// The causes, in the order of the study.
    pub causes: Vec<Cause>,
    /// One for each calibration plan.
    pub calibrations: Vec<CalibrationBudget>,
    /// Why it ended.
    pub end: End,
}

/// The error budget after one calibration plan.
#[derive(Clone, Debug)]
pub(crate) struct CalibrationBudget {
    /// Name of the plan.
    pub name: String,
    /// Share of the first sample's units that pass; `None` without limits.
    pub yield_: Option<Estimate>,
    /// Shares of the failures; `None` without limits.
    pub failures: Option<VarianceShares>,
    /// Each budgeted figure at each operating point.
    pub figures: Vec<FigureBudget>,
    /// The worst operating point of each figure, as a number of `figures`.
    pub worst: Vec<usize>,
    /// Yield and spread without each cause, `[cause]`; `None` where that run did not end.
    pub perfect: Vec<Option<Perfect>>,
    /// The causes, ranked by the gain of yield without each; empty without limits.
    pub gains: Gains,
}

/// The shares of the causes in one variance.
#[derive(Clone, Debug)]
pub(crate) struct VarianceShares {
    /// Standard deviation, both samples together; `None` where there is none.
    pub sd: Option<f64>,
    /// Units left out, because one of the samples has no number for them.
    pub left_out: u64,
    /// Share of each cause, alone (first-order index) and in all (total index), `[cause]`; `None` for a cause that is not drawn, a run that
    /// did not end, and where there are no shares.
    pub shares: Vec<Option<Share>>,
    /// Sum of the shares alone (first-order indices); `None` where one is missing.
    pub alone: Option<Estimate>,
    /// The remainder: the share of interactions between causes.
    pub together: Option<Estimate>,
    /// By how much the largest share in all (total index) leads the next, by numbers of causes.
    pub lead: Option<Lead>,
}

/// Shares of the spread of a figure at an operating point.
#[derive(Clone, Debug)]
pub(crate) struct FigureBudget {
    /// Number of the model's column.
    pub column: usize,
    /// Its values in the first sample.
    pub moments: Moments,
    /// Shares of its variance.
    pub owned: VarianceShares,
}

/// The same units without a cause.
#[derive(Clone, Debug)]
pub(crate) struct Perfect {
    /// Share of the units that pass; `None` without limits.
    pub yield_: Option<Estimate>,
    /// That yield minus the yield with the cause, paired unit by unit.
    pub gain: Option<Estimate>,
    /// The units by both verdicts, without the cause first.
    pub pairs: Pairs,
    /// Values of each figure, in the order of [`CalibrationBudget::figures`].
    pub moments: Vec<Moments>,
}

/// The fewest units for a budget of a model.
pub(crate) fn fewest_units(model: &Model) -> u64 {
    match block(model) {
        1 => FEWEST_UNITS,
        lot => FEWEST_UNITS.max(lot.saturating_mul(FEWEST_LOTS)),
    }
}

/// Whether units of a lot share a draw.
pub(crate) fn has_lots(model: &Model) -> bool {
    model.sources.list().iter().any(|source| source.scope == Scope::Lot)
}

/// Units of a block that shares draws.
fn block(model: &Model) -> u64 {
    model.sources.grouping().lot.filter(|_| has_lots(model)).unwrap_or(1)
}

/// Apportions the failures and the variance of figures among causes: of `figure`, else of all that have a limit, else of all. It builds
/// all units of the model, even if their yield is known sooner. `progress` gets the number of units built so far. `None` when an
/// interrupt left fewer than [`fewest_units`].
///
/// Errors: as [`run_together`].
pub(crate) fn budget(
    model: &Model,
    causes: Vec<Cause>,
    figure: Option<Figure>,
    control: Control,
    progress: &mut (dyn FnMut(u64) + Send),
) -> Result<Option<Budget>, Error> {
    let columns = columns(model, figure);
    let drawn: Vec<usize> = (0..causes.len()).filter(|cause| causes[*cause].is_drawn()).collect();
    let mut sampled = sample(model, &causes, &drawn, &columns, control, progress)?;
    let Some(first) = sampled.first.take().filter(|of| of.trials >= fewest_units(model)) else {
        return Ok(None);
    };
    let perfect_models: Vec<Model> = match sampled.end {
        End::Interrupted => Vec::new(),
        _ => {
            let each = causes.iter().map(|cause| without(model, cause));
            each.chain([without_all(model, &causes)]).collect()
        }
    };
    let before = sampled.done;
    let (perfect, end) = run_all(&perfect_models, control, &mut |done| progress(before + done))?;
    let end = if sampled.end == End::Interrupted { End::Interrupted } else { end };
    let has_limits = !model.limits.is_empty();
    let ran = |number: usize| perfect.get(number)?.as_ref().filter(|ran| ran.summary.trials == first.trials);
    let perfect = |calibration: usize, cause: usize| {
        let ran = ran(cause)?;
        let Gain { yield_, gain, pairs } =
            Gain::of(&ran.passes[calibration], &sampled.kept.passes()[calibration], model.confidence);
        let figures = &ran.summary.calibrations[calibration].figures;
        Some(Perfect {
            yield_: has_limits.then_some(yield_),
            gain: has_limits.then_some(gain),
            pairs,
            moments: columns.iter().map(|column| figures[*column].moments).collect(),
        })
    };
    let passing = |calibration: usize, number: usize| Some(&ran(number)?.passes[calibration]);
    let gains = |calibration: usize| {
        let each: Vec<Option<&Passes>> = (0..causes.len()).map(|cause| passing(calibration, cause)).collect();
        let all = passing(calibration, causes.len());
        gains::ranked(&sampled.kept.passes()[calibration], &each, all, model.confidence)
    };

    let owned = shared_out(model, &sampled.accumulators, &drawn, causes.len(), first.trials, control)?;
    let calibrations = owned.into_iter().zip(&first.calibrations).enumerate();
    let calibrations = calibrations.map(|(number, (mut owned, of))| {
        let failures = owned.remove(0);
        let figures = columns.iter().zip(owned).map(|(column, owned)| FigureBudget {
            column: *column,
            moments: of.figures[*column].moments,
            owned,
        });
        let figures: Vec<FigureBudget> = figures.collect();
        CalibrationBudget {
            name: of.name.clone(),
            yield_: of.yield_.clone(),
            failures: of.yield_.as_ref().map(|_| failures),
            worst: worst(model, &first, number, &figures),
            figures,
            perfect: (0..causes.len()).map(|cause| perfect(number, cause)).collect(),
            gains: if has_limits { gains(number) } else { Gains::default() },
        }
    });
    let mut calibrations: Vec<CalibrationBudget> = calibrations.collect();
    let mut end = end;
    let all_leave = model.calibrations.iter().all(Calibration::is_none);
    for (number, of) in calibrations.iter_mut().enumerate() {
        // Without calibration, units fail because of that, and not because of the causes.
        let counts = all_leave || !model.calibrations[number].is_none();
        let each: Option<Vec<&Passes>> = (0..causes.len()).map(|cause| passing(number, cause)).collect();
        let Some((each, all)) = each.zip(passing(number, causes.len())) else { continue };
        if end == End::Interrupted || !counts || !GroupSearch::is_worthwhile(of) {
            continue;
        }
        let (model, with) = (model.with_calibration(number), &sampled.kept.passes()[number]);
        let search = GroupSearch { model, causes: &causes, with, each, all, control };
        let in_all = |cause: usize| Some(of.failures.as_ref()?.shares[cause].as_ref()?.in_all.value);
        let shares: Vec<f64> = (0..causes.len()).map(|cause| in_all(cause).unwrap_or(0.0)).collect();
        let (groups, ended) = search.groups(&shares)?;
        of.gains.groups = groups;
        end = if ended == End::Interrupted { ended } else { end };
    }
    Ok(Some(Budget { units: first.trials, planned: model.trials.most(), causes, calibrations, end }))
}

impl CalibrationBudget {
    /// Units for enough failures and enough passes in both samples to apportion the failures, at the estimated yield; `None` where all
    /// units pass or all fail.
    pub(crate) fn units_to_share(&self) -> Option<u64> {
        let share = self.yield_.as_ref()?.value;
        let units = 0.5 * FEWEST_FAILURES / share.min(1.0 - share);
        units.is_finite().then(|| units.ceil() as u64)
    }
}

/// Units that a budget builds in total, except those of the search for groups of causes.
pub(crate) fn units_to_build(model: &Model, causes: &[Cause]) -> u64 {
    let drawn = causes.iter().filter(|cause| cause.is_drawn()).count();
    let models = 2 * drawn.div_ceil(AT_ONCE) + drawn + causes.len() + 1;
    models as u64 * model.trials.most()
}

/// The columns of the budget. A limited figure counts only at the beams, frequencies and temperatures of its limits.
fn columns(model: &Model, figure: Option<Figure>) -> Vec<usize> {
    let has_limit = |of: Figure| model.limits.iter().any(|limit| model.columns[limit.column].figure == of);
    let is_asked = |column: &Column| match figure {
        Some(figure) => column.figure == figure,
        None => model.limits.is_empty() || has_limit(column.figure),
    };
    let is_limited = |number: usize| model.limits.iter().any(|limit| limit.column == number);
    let counts = |number: &usize| {
        let column = &model.columns[*number];
        is_asked(column) && (is_limited(*number) || !has_limit(column.figure))
    };
    (0..model.columns.len()).filter(counts).collect()
}

/// Sums over both samples and over those that mix them.
struct Sampled {
    /// Summary of the first sample.
    first: Option<Summary>,
    /// Which units of the first sample pass.
    kept: PassCollector,
    accumulators: Accumulators,
    /// Units built.
    done: u64,
    end: End,
}

/// Runs the first sample, the second, and the first with each drawn cause taken from the second, a few causes at a time.
fn sample(
    model: &Model,
    causes: &[Cause],
    drawn: &[usize],
    columns: &[usize],
    control: Control,
    progress: &mut (dyn FnMut(u64) + Send),
) -> Result<Sampled, Error> {
    let mut sampled = Sampled {
        first: None,
        kept: PassCollector::new(model),
        accumulators: Accumulators::new(model, columns, drawn.len(), block(model)),
        done: 0,
        end: End::Done,
    };
    let second = from_second_sample(model, causes);
    // Without a cause that is drawn there is still the first sample.
    let batches = (0..drawn.len().max(1)).step_by(AT_ONCE);
    for first_group in batches {
        let groups = first_group..drawn.len().min(first_group + AT_ONCE);
        let mut models = vec![model.clone(), second.clone()];
        models.extend(groups.clone().map(|group| from_second_sample(model, [&causes[drawn[group]]])));
        let is_first = first_group == 0;
        let Sampled { kept, accumulators, done, .. } = &mut sampled;
        let together = run_together(&models, control, |outcomes| {
            if is_first {
                kept.take(&outcomes[0]);
            }
            accumulators.take(outcomes, groups.clone(), is_first);
            *done += outcomes.iter().map(|of| of.trials).sum::<u64>();
            progress(*done);
            Ok(())
        })?;
        if is_first {
            sampled.first = together.summaries.map(|mut of| of.swap_remove(0));
        }
        if together.end == End::Interrupted {
            sampled.end = End::Interrupted;
            break;
        }
    }
    Ok(sampled)
}

/// Shares of every accumulated variance, `[calibration]`, failures before the columns.
fn shared_out(
    model: &Model,
    accumulators: &Accumulators,
    drawn: &[usize],
    causes: usize,
    units: u64,
    control: Control,
) -> Result<Vec<Vec<VarianceShares>>, Error> {
    let key = Key::new(model.seed, "budget.resamples");
    let resamples =
        Resamples::new(accumulators.parcels(), RESAMPLES, |number| Stream::of_plain_draws(key, number, 0));
    let share_out = |of: &accumulators::Accumulator, is_failing: bool| {
        let sd = of.samples.sd().filter(|sd| *sd > NOTHING);
        let failing = of.samples.sum();
        let is_rare = is_failing
            && (failing < FEWEST_FAILURES || 2.0 * of.samples.count() as f64 - failing < FEWEST_FAILURES);
        let mixed: Vec<&sensitivity::Mixed> = of.mixed.iter().collect();
        let shared = || sensitivity::shares(&of.samples, &mixed, &resamples, model.confidence);
        let shared = sd.filter(|_| !is_rare).and_then(|_| shared());
        let mut owned = VarianceShares {
            sd,
            left_out: units - of.samples.count(),
            shares: vec![None; causes],
            alone: None,
            together: None,
            lead: None,
        };
        if let Some(shared) = shared {
            drawn.iter().zip(shared.groups).for_each(|(cause, share)| owned.shares[*cause] = share);
            (owned.alone, owned.together) = (shared.alone, shared.together);
            let of_causes =
                |lead: Lead| Lead { first: drawn[lead.first], second: drawn[lead.second], ..lead };
            owned.lead = shared.lead.map(of_causes);
        }
        owned
    };
    Ok(Pool::new(control.threads)?.install(|| {
        let of_calibration = |of: &Vec<accumulators::Accumulator>| {
            in_parallel(of.iter().enumerate().collect(), |(number, of)| share_out(of, number == 0))
        };
        accumulators.calibrations().iter().map(of_calibration).collect()
    }))
}

/// For each figure the operating point whose limit the fewest units meet; of equals, the one with the largest spread.
fn worst(model: &Model, first: &Summary, calibration: usize, figures: &[FigureBudget]) -> Vec<usize> {
    let limits = &first.calibrations[calibration].limits;
    let met = |of: &FigureBudget| {
        let limits = limits.iter().filter(|limit| limit.limit.column == of.column);
        limits.map(|limit| limit.yield_.value).fold(1.0, f64::min)
    };
    let sd = |of: &FigureBudget| of.owned.sd.unwrap_or(0.0);
    let mut worst: Vec<usize> = Vec::new();
    for (number, of) in figures.iter().enumerate() {
        let figure = |number: usize| model.columns[figures[number].column].figure;
        match worst.last_mut().filter(|last| figure(**last) == figure(number)) {
            None => worst.push(number),
            Some(last) => {
                let so_far = &figures[*last];
                let order = met(of).total_cmp(&met(so_far)).then(sd(so_far).total_cmp(&sd(of)));
                *last = if order.is_lt() { number } else { *last };
            }
        }
    }
    worst
}
