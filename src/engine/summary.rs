//! From outcomes to estimates: what a run says, before it is worded or written.

use crate::engine::by_lot::ByLot;
use crate::engine::outcomes::Outcomes;
use crate::engine::tally::{Columns, Tally};
use crate::figure::{Figure, SmallErrors};
use crate::plan::{Limit, Plan};
use crate::stats::column::EXACT;
use crate::stats::{ByLots, Column, Estimate, Histogram, Moments, clopper_pearson, yield_is_tight};
use crate::study::Trials;
use rayon::prelude::*;
use std::ops::ControlFlow;

/// Percentiles that are reported.
pub const PERCENTILES: [u32; 5] = [1, 5, 50, 95, 99];

/// Trials between looks at the stopping rule: a constant, so that a run stops at the same trial everywhere.
const LOOK_EVERY: u64 = 1024;

/// What a run says.
#[derive(Clone, Debug)]
pub struct Summary {
    /// Trials that count.
    pub trials: u64,
    /// One for each calibration plan.
    pub calibrations: Vec<CalibrationSummary>,
}

/// What a run says of one calibration plan.
#[derive(Clone, Debug)]
pub struct CalibrationSummary {
    /// Name of the plan.
    pub name: String,
    /// Share of the units that meet every limit; `None` without limits.
    pub yield_: Option<Estimate>,
    /// Bench time a unit, s.
    pub bench_seconds: Moments,
    /// The same by kind of work, in the order of [`KINDS_OF_WORK`](crate::bench::KINDS_OF_WORK).
    pub split_seconds: [Moments; 4],
    /// Units that fail whatever their figures are, by reason, in the order of [`Failure::ALL`](crate::engine::Failure::ALL).
    pub failed: [u64; 3],
    /// One for each limit of the plan.
    pub limits: Vec<LimitSummary>,
    /// One for each column of the plan.
    pub figures: Vec<FigureSummary>,
}

/// What a run says of one limit.
#[derive(Clone, Debug)]
pub struct LimitSummary {
    /// The limit.
    pub limit: Limit,
    /// Share of the units that meet it.
    pub yield_: Estimate,
    /// Units that miss it, and no limit before it in the study.
    pub first_missed: u64,
    /// Units that miss it and no other.
    pub only_missed: u64,
}

/// What a run says of one figure at one look.
#[derive(Clone, Debug)]
pub struct FigureSummary {
    /// Number of the plan's column.
    pub column: usize,
    /// Count, mean, spread.
    pub moments: Moments,
    /// Mean by the small-error formula, where there is one.
    pub predicted_mean: Option<f64>,
    /// Percentiles with their intervals, in the order of [`PERCENTILES`].
    pub percentiles: Vec<Estimate>,
    /// The values, from which its histogram is counted where one is wanted.
    pub values: Column,
}

impl FigureSummary {
    /// Counts in round bins, and by them the cumulative curve; `None` without values, or once they are forgotten.
    pub fn histogram(&self) -> Option<Histogram> {
        let ends = [self.percentiles.first()?.value, self.percentiles.last()?.value];
        self.values.histogram(&self.moments, ends)
    }
}

impl Summary {
    /// Forgets the values of the figures, which take far more room than the rest: for runs of many designs.
    pub fn forget_values(&mut self) {
        let figures = self.calibrations.iter_mut().flat_map(|of| &mut of.figures);
        figures.for_each(|figure| figure.values = Column::new());
    }
}

/// Gathers what chunks come to, in trial order.
#[derive(Clone, Debug)]
pub(super) struct Gatherer<'p> {
    plan: &'p Plan,
    trials: u64,
    next_look: u64,
    plans: Vec<Tally>,
    /// The same by lots, where units share lots; else none.
    by_lot: Vec<ByLot>,
    /// Values of the first trials.
    kept: Columns,
}

impl<'p> Gatherer<'p> {
    /// Nothing gathered yet.
    pub fn new(plan: &'p Plan) -> Gatherer<'p> {
        let plans = vec![Tally::new(plan); plan.calibrations.len()];
        let by_lot = ByLot::new(plan).map_or(Vec::new(), |of| vec![of; plan.calibrations.len()]);
        Gatherer { plan, trials: 0, next_look: LOOK_EVERY, plans, by_lot, kept: Columns::new(plan) }
    }

    /// Takes the next chunk, with its tally for each calibration plan; breaks when the study's stopping rule is
    /// met.
    pub fn take(&mut self, outcomes: &Outcomes, tallies: &[Tally]) -> ControlFlow<()> {
        if Columns::keeps(outcomes) {
            self.kept.keep(outcomes);
        }
        self.plans.iter_mut().zip(tallies).for_each(|(gathered, next)| gathered.merge(next));
        self.by_lot.iter_mut().zip(&outcomes.plans).for_each(|(of, outcomes)| of.take(outcomes));
        self.trials += outcomes.trials;
        self.look()
    }

    fn look(&mut self) -> ControlFlow<()> {
        let Trials::UntilYield { half_width, .. } = self.plan.trials else {
            return ControlFlow::Continue(());
        };
        if self.trials < self.next_look {
            return ControlFlow::Continue(());
        }
        self.next_look += LOOK_EVERY;
        let confidence = self.plan.confidence;
        let is_tight =
            |gathered: &Tally| yield_is_tight(gathered.passed, self.trials, confidence, half_width);
        let by_lots = |of: &ByLot| of.passed().is_tight(confidence, half_width);
        if self.plans.iter().all(is_tight) && self.by_lot.iter().all(by_lots) {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    }

    /// Trials gathered.
    pub fn trials(&self) -> u64 {
        self.trials
    }

    /// The estimates; `None` before the first trial. `counted` are the values of the trials that were not kept.
    pub fn summary(mut self, counted: &Columns) -> Option<Summary> {
        // In trial order, which lots need; later values are only counted.
        let first = if self.by_lot.is_empty() { Columns::default() } else { self.kept.clone() };
        let mut first = first.each_plan();
        self.kept.merge(counted);
        let values = std::mem::take(&mut self.kept).each_plan().enumerate();
        (self.trials > 0).then(|| Summary {
            trials: self.trials,
            calibrations: values
                .map(|(number, values)| self.calibration(number, values, &first.next().unwrap_or_default()))
                .collect(),
        })
    }

    fn calibration(&self, number: usize, values: Vec<Column>, first: &[Column]) -> CalibrationSummary {
        let plan = self.plan;
        let gathered = &self.plans[number];
        let lots = self.by_lot.get(number);
        let share = |count, by_lots: Option<ByLots>| match by_lots {
            Some(of) => of.share(plan.confidence),
            None => clopper_pearson(count, self.trials, plan.confidence),
        };
        let limits = plan.limits.iter().zip(&gathered.limits).enumerate();
        let limits = limits.map(|(number, (limit, of))| LimitSummary {
            limit: *limit,
            yield_: share(of.met, lots.map(|lots| lots.limit(number))),
            first_missed: of.first_missed,
            only_missed: of.only_missed,
        });
        let percentiles: Vec<f64> = PERCENTILES.iter().map(|p| f64::from(*p) / 100.0).collect();
        let figures = plan.columns.par_iter().zip(values).enumerate().map(|(column, (of, values))| {
            let moments = gathered.columns[column];
            let moments = lots.map_or(moments, |lots| lots.column(column, moments));
            let errors = self.small_errors(number, of.look);
            let effect = |at: f64| {
                let first = first.get(column).map_or(&[][..], Column::first);
                let units = self.trials.min(EXACT);
                lots.map_or(1.0, |of| of.design_effect(column, first, units, at, plan.confidence))
            };
            let percentiles = match lots {
                None => values.percentiles(&moments, &percentiles, plan.confidence),
                Some(_) => values.percentiles_by_lots(&moments, &percentiles, plan.confidence, effect),
            };
            FigureSummary {
                column,
                moments,
                predicted_mean: errors
                    .and_then(|errors| of.figure.predicted_mean(&plan.looks[of.look], &errors)),
                percentiles,
                values,
            }
        });
        CalibrationSummary {
            name: plan.calibrations[number].name.clone(),
            yield_: (!plan.limits.is_empty()).then(|| share(gathered.passed, lots.map(ByLot::passed))),
            bench_seconds: lots.map_or(gathered.bench_seconds, |lots| lots.seconds(gathered.bench_seconds)),
            split_seconds: gathered.split,
            failed: gathered.failed,
            limits: limits.collect(),
            figures: figures.collect(),
        }
    }

    /// Residual errors at a look as the small-error formulas take them; `None` where they were not measured.
    fn small_errors(&self, calibration: usize, look: usize) -> Option<SmallErrors> {
        let mean_square = |figure: Figure| {
            let column = self.plan.columns.iter().position(|c| c.figure == figure && c.look == look)?;
            let moments = self.plans[calibration].columns[column];
            let count = moments.count as f64;
            (count > 0.0).then(|| moments.mean * moments.mean + moments.m2 / count)
        };
        Some(SmallErrors::new(
            &self.plan.looks[look],
            mean_square(Figure::ResidualPhaseRms)?,
            mean_square(Figure::ResidualAmplitudeRms)?,
            self.plan.channels(),
            1.0 - self.plan.dead.probability,
            self.plan.calibrations[calibration].level.is_none(),
        ))
    }
}
