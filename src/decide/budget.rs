//! What mending each cause of failing would gain, and who owns the failures and the spread of the figures.
//!
//! Causes are ranked by the points of yield gained when each is made perfect, on the same units. Beside that stand shares of variance. A
//! cause that is drawn is read from a second sample while all others stay: see [`crate::stats::sensitivity`]. What is fixed (a
//! display's resolution, a rounding) makes no two units differ by itself, so it has no share; like any other cause it is switched
//! off, and yield and spread are those of the same units without it.

mod accumulators;
mod asked;
mod gains;

pub use asked::{causes_of, refuse_unfit};
pub use gains::{Gain, Gains, Group, Rival};

use crate::bench::Calibration;
use crate::decide::{Keeper, Passes, run_all};
use crate::engine::{Control, End, Summary, pool, run_together};
use crate::error::Error;
use crate::figure::Figure;
use crate::model::vary::{Cause, from_second_sample, without};
use crate::model::{Column, Model};
use crate::random::{Key, Scope, draw};
use crate::stats::{Estimate, Lead, Moments, Pairs, Resamples, Share, sensitivity};
use accumulators::Accumulators;
use gains::{Together, without_all};
use rayon::prelude::*;

/// Fewest units that intervals are made from.
const FEWEST_UNITS: u64 = 1024;

/// The same in lots, where a draw is shared by a lot: then lots take the units' place.
pub const FEWEST_LOTS: u64 = 64;

/// Fewest failing units, and fewest that pass, both samples together, for failing to be shared out.
const FEWEST_FAILURES: f64 = 20.0;

/// Below this a standard deviation is what rounding leaves, in the units of the figures (deg, dB).
const NOTHING: f64 = 1e-9;

/// Resamples for the intervals.
const RESAMPLES: u64 = 999;

/// Causes that are read from the second sample side by side, beside both samples.
const AT_ONCE: usize = 6;

/// Who owns what.
#[derive(Clone, Debug)]
pub struct Budget {
    /// Units of each sample.
    pub units: u64,
    /// Units that were asked for.
    pub planned: u64,
    /// The causes, in the order of the plan.
    pub causes: Vec<Cause>,
    /// One for each calibration plan.
    pub calibrations: Vec<CalibrationBudget>,
    /// Why it ended.
    pub end: End,
}

/// Who owns what after one calibration plan.
#[derive(Clone, Debug)]
pub struct CalibrationBudget {
    /// Name of the plan.
    pub name: String,
    /// Share of the first sample's units that pass; `None` without limits.
    pub yield_: Option<Estimate>,
    /// Of failing; `None` without limits.
    pub failures: Option<Owned>,
    /// Of every figure that was asked for, at every look.
    pub figures: Vec<FigureBudget>,
    /// For each figure its worst look, as a number of `figures`.
    pub worst: Vec<usize>,
    /// What it would be without each cause, `[cause]`; `None` where that was not run to its end.
    pub perfect: Vec<Option<Perfect>>,
    /// The causes by what the yield gains without them; empty without limits.
    pub gains: Gains,
}

/// Who owns a variance.
#[derive(Clone, Debug)]
pub struct Owned {
    /// Standard deviation, both samples together; `None` where there is none.
    pub sd: Option<f64>,
    /// Units that do not count, as they have no number in one of the samples.
    pub left_out: u64,
    /// Shares, `[cause]`; `None` for what is not drawn, what was not run to its end, and where nothing is shared out.
    pub shares: Vec<Option<Share>>,
    /// Sum of what the causes own alone; `None` where one is missing.
    pub alone: Option<Estimate>,
    /// What several own together and none alone: the rest.
    pub together: Option<Estimate>,
    /// The largest share in all over the next, by numbers of causes.
    pub lead: Option<Lead>,
}

/// Who owns the spread of a figure at a look.
#[derive(Clone, Debug)]
pub struct FigureBudget {
    /// Number of the plan's column.
    pub column: usize,
    /// Its values in the first sample.
    pub moments: Moments,
    /// Who owns its variance.
    pub owned: Owned,
}

/// The same units without a cause.
#[derive(Clone, Debug)]
pub struct Perfect {
    /// Share of the units that pass; `None` without limits.
    pub yield_: Option<Estimate>,
    /// The same less the yield with the cause, from the units' own pairing.
    pub gain: Option<Estimate>,
    /// How passing without it and with it go together.
    pub pairs: Pairs,
    /// Values of each figure, in the order of [`CalibrationBudget::figures`].
    pub moments: Vec<Moments>,
}

/// The fewest units that a budget of a plan takes.
pub fn fewest_units(model: &Model) -> u64 {
    match block(model) {
        1 => FEWEST_UNITS,
        lot => FEWEST_UNITS.max(lot.saturating_mul(FEWEST_LOTS)),
    }
}

/// Whether units of a lot share a draw.
pub fn has_lots(model: &Model) -> bool {
    model.sources.list().iter().any(|source| source.scope == Scope::Lot)
}

/// Neighbouring units that share a draw.
fn block(model: &Model) -> u64 {
    model.sources.grouping().lot.filter(|_| has_lots(model)).unwrap_or(1)
}

/// Shares out failures and figures of a plan of all its units, however soon their yield is known, among causes: the one figure that is
/// asked for, or all that have a limit, or all. `progress` is
/// told the units that are done and those that are due. `None` when a stop from outside left fewer than [`fewest_units`].
///
/// Errors: as [`run_together`].
pub fn budget(
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
    let perfect_plans: Vec<Model> = match sampled.end {
        End::Interrupted => Vec::new(),
        _ => {
            let each = causes.iter().map(|cause| without(model, cause));
            each.chain([without_all(model, &causes)]).collect()
        }
    };
    let before = sampled.done;
    let (perfect, end) = run_all(&perfect_plans, control, &mut |done| progress(before + done))?;
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
        // Units that are not calibrated fail for want of it.
        let counts = all_leave || !model.calibrations[number].is_none();
        let each: Option<Vec<&Passes>> = (0..causes.len()).map(|cause| passing(number, cause)).collect();
        let Some((each, all)) = each.zip(passing(number, causes.len())) else { continue };
        if end == End::Interrupted || !counts || !Together::is_worthwhile(of) {
            continue;
        }
        let (model, with) = (model.with_calibration(number), &sampled.kept.passes()[number]);
        let together = Together { model, causes: &causes, with, each, all, control };
        let in_all = |cause: usize| Some(of.failures.as_ref()?.shares[cause].as_ref()?.in_all.value);
        let shares: Vec<f64> = (0..causes.len()).map(|cause| in_all(cause).unwrap_or(0.0)).collect();
        let (groups, ended) = together.groups(&shares)?;
        of.gains.groups = groups;
        end = if ended == End::Interrupted { ended } else { end };
    }
    Ok(Some(Budget { units: first.trials, planned: model.trials.most(), causes, calibrations, end }))
}

impl CalibrationBudget {
    /// Units after which enough of both samples would fail, and enough pass, for failing to be shared out, if the yield is as found;
    /// `None` where nothing fails or all does.
    pub fn units_to_share(&self) -> Option<u64> {
        let share = self.yield_.as_ref()?.value;
        let units = 0.5 * FEWEST_FAILURES / share.min(1.0 - share);
        units.is_finite().then(|| units.ceil() as u64)
    }
}

/// Units that a budget builds in all, but for those that show what pays only together.
pub fn units_due(model: &Model, causes: &[Cause]) -> u64 {
    let drawn = causes.iter().filter(|cause| cause.is_drawn()).count();
    let models = 2 * drawn.div_ceil(AT_ONCE) + drawn + causes.len() + 1;
    models as u64 * model.trials.most()
}

/// Columns that are shared out. A figure that is limited counts where it is: at no other beam, frequency or temperature.
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

/// What both samples and all that is mixed of them came to.
struct Sampled {
    /// What the first sample's trials say.
    first: Option<Summary>,
    /// Which units of the first sample pass.
    kept: Keeper,
    accumulators: Accumulators,
    /// Units that were built.
    done: u64,
    end: End,
}

/// Runs the first sample, the second, and the first with each drawn cause from the second, a few causes at a time.
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
        kept: Keeper::new(model),
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

/// Shares every accumulator out, `[calibration]`, failures before the columns.
fn shared_out(
    model: &Model,
    accumulators: &Accumulators,
    drawn: &[usize],
    causes: usize,
    units: u64,
    control: Control,
) -> Result<Vec<Vec<Owned>>, Error> {
    let key = Key::new(model.seed, "budget.resamples");
    let resamples = Resamples::new(accumulators.parcels(), RESAMPLES, |number, row| {
        draw::fill::<1>(key, number, 0, row);
    });
    let share_out = |of: &accumulators::Accumulator, is_failing: bool| {
        let sd = of.samples.sd().filter(|sd| *sd > NOTHING);
        let failing = of.samples.sum();
        let is_rare = is_failing
            && (failing < FEWEST_FAILURES || 2.0 * of.samples.count() as f64 - failing < FEWEST_FAILURES);
        let mixed: Vec<&sensitivity::Mixed> = of.mixed.iter().collect();
        let shared = || sensitivity::shares(&of.samples, &mixed, &resamples, model.confidence);
        let shared = sd.filter(|_| !is_rare).and_then(|_| shared());
        let mut owned = Owned {
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
    Ok(pool(control.threads)?.install(|| {
        let of_calibration = |of: &Vec<accumulators::Accumulator>| {
            of.par_iter().enumerate().map(|(number, of)| share_out(of, number == 0)).collect()
        };
        accumulators.calibrations().iter().map(of_calibration).collect()
    }))
}

/// For each figure the look whose limit fewest units meet; where that does not decide, the one where it spreads most.
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
