//! From outcomes to estimates: what a run says, before it is worded or written.

use crate::engine::accumulator::{Accumulator, Counted};
use crate::engine::by_lot::ByLot;
use crate::engine::outcomes::{CHUNK, Outcomes};
use crate::engine::partial::Partial;
use crate::engine::places::{Place, Places};
use crate::engine::settled::SettledColumn;
use crate::figure::{Figure, Residual, SmallErrors};
use crate::model::{Limit, Model};
use crate::stats::{ByLots, Column, Estimate, Histogram, Lots, Moments, clopper_pearson, yield_is_tight};
use crate::study::Trials;
use std::cmp::Ordering;
use std::ops::ControlFlow;

/// Percentiles that are reported.
pub(crate) const PERCENTILES: [u32; 5] = [1, 5, 50, 95, 99];

/// Trials between checks of the stopping rule: a constant, so that a run stops at the same trial everywhere.
const CHECK_EVERY: u64 = 1024;

/// What a run says.
#[derive(Clone, Debug)]
pub(crate) struct Summary {
    /// Trials that count.
    pub trials: u64,
    /// One for each calibration plan.
    pub calibrations: Vec<CalibrationSummary>,
}

/// What a run says of one calibration plan.
#[derive(Clone, Debug)]
pub(crate) struct CalibrationSummary {
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
    /// One for each limit of the model.
    pub limits: Vec<LimitSummary>,
    /// Limits that units miss, those that the same units miss together: by how many units miss them, then by how many miss nothing
    /// else. Of equals the order is that of figures, beams, conditions and bounds, whatever the order of the study's limits.
    pub misses: Vec<MissSummary>,
    /// The same of whole families of limits, each a figure at a beam: a unit misses one that misses any of its limits. Of each those
    /// limits are listed that some unit misses.
    pub families: Vec<MissSummary>,
    /// Places where the model has limits, other than all of them together: beams first, then frequencies, then temperatures, each before
    /// those it is made of.
    pub places: Vec<PlaceSummary>,
    /// One for each column of the model.
    pub figures: Vec<FigureSummary>,
}

/// What a run says of one limit.
#[derive(Clone, Debug)]
pub(crate) struct LimitSummary {
    /// The limit.
    pub limit: Limit,
    /// Share of the units that meet it.
    pub yield_: Estimate,
    /// Units that miss it, and no limit before it in the study.
    pub first_missed: u64,
    /// Units that miss it and no other.
    pub only_missed: u64,
}

/// What a run says of limits that the very same units miss.
#[derive(Clone, Debug)]
pub(crate) struct MissSummary {
    /// Numbers of the limits.
    pub limits: Vec<usize>,
    /// Share of the units that miss them.
    pub missed: Estimate,
    /// Share of the units that miss them and no other limit.
    pub nothing_else: Estimate,
}

/// What a run says of one beam, one frequency, one temperature, or of several of them.
#[derive(Clone, Debug)]
pub(crate) struct PlaceSummary {
    /// Number of the beam; `None` for all.
    pub beam: Option<usize>,
    /// The frequency, Hz; `None` for all.
    pub frequency: Option<f64>,
    /// The temperature, K; `None` for all.
    pub temperature: Option<f64>,
    /// Share of the units that meet every limit here. A unit that fails whatever its figures are fails everywhere.
    pub yield_: Estimate,
}

/// What a run says of one figure at one beam point.
#[derive(Clone, Debug)]
pub(crate) struct FigureSummary {
    /// Number of the model's column.
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
    pub(crate) fn histogram(&self) -> Option<Histogram> {
        let ends = [self.percentiles.first()?.value, self.percentiles.last()?.value];
        self.values.histogram(&self.moments, ends)
    }
}

/// Gathers the results of chunks, in trial order, and knows when there are enough.
#[derive(Clone, Debug)]
pub(super) struct Reducer<'p> {
    model: &'p Model,
    partial: Partial,
    /// Trials gathered, and those before them that count for the stopping rule.
    trials: u64,
    before: u64,
    next_check: u64,
    /// Units that pass, `[calibration]`.
    passed: Vec<u64>,
    /// How passing varies, where units share lots; else none.
    by_lot: Vec<Lots>,
}

impl<'p> Reducer<'p> {
    /// Nothing gathered yet; the first trial is `first`. `before` has the verdicts on all trials before it for the stopping rule, a bit for
    /// each, `[calibration]`; where it is `None` no rule holds.
    pub(super) fn new(model: &'p Model, first: u64, before: Option<&[&[u64]]>) -> Reducer<'p> {
        let size = CHUNK as u64;
        let units = |number: usize| size.min(first - number as u64 * size) as usize;
        let lots = |words: &[u64], of: u64| {
            let mut lots = Lots::starting(of, 0);
            words.iter().enumerate().for_each(|(number, word)| lots.push_word(units(number), *word));
            lots
        };
        let before = before.unwrap_or_default();
        let passed = |words: &&[u64]| words.iter().map(|word| u64::from(word.count_ones())).sum();
        Reducer {
            model,
            partial: Partial::new(model),
            trials: 0,
            before: first,
            next_check: (first / CHECK_EVERY + 1) * CHECK_EVERY,
            passed: before.iter().map(passed).collect(),
            by_lot: model.lot().map_or(Vec::new(), |of| before.iter().map(|words| lots(words, of)).collect()),
        }
    }

    /// Takes the next chunk, with its accumulator for each calibration plan; breaks when the study's stopping rule is
    /// met.
    pub(super) fn take(
        &mut self,
        outcomes: &Outcomes,
        accumulators: Vec<Accumulator>,
        counted: &Counted,
    ) -> ControlFlow<()> {
        self.passed.iter_mut().zip(&accumulators).for_each(|(passed, of)| *passed += of.passed);
        let by_lot = self.by_lot.iter_mut().zip(&outcomes.calibrations);
        by_lot.for_each(|(lots, of)| lots.push_word(outcomes.trials as usize, of.passed()));
        self.partial.take(self.model, outcomes, accumulators);
        self.partial.release_kept(self.model).into_iter().for_each(|kept| counted.count_kept(kept));
        self.trials += outcomes.trials;
        self.check()
    }

    fn check(&mut self) -> ControlFlow<()> {
        let Trials::UntilYield { half_width, .. } = self.model.trials else {
            return ControlFlow::Continue(());
        };
        let trials = self.before + self.trials;
        if trials < self.next_check {
            return ControlFlow::Continue(());
        }
        self.next_check += CHECK_EVERY;
        let confidence = self.model.confidence;
        let is_tight = |passed: &u64| yield_is_tight(*passed, trials, confidence, half_width);
        let by_lots = |of: &Lots| of.by_lots().is_tight(confidence, half_width);
        if self.passed.iter().all(is_tight) && self.by_lot.iter().all(by_lots) {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    }

    /// Trials gathered.
    pub(super) fn trials(&self) -> u64 {
        self.trials
    }

    /// All that was gathered; `counted` are the values of the trials that were not kept.
    pub(super) fn finish(mut self, counted: Counted) -> Partial {
        self.partial.add_counted(counted);
        self.partial
    }
}

/// Estimates from what was gathered.
pub(super) struct Estimating<'p> {
    pub model: &'p Model,
    pub trials: u64,
    /// `[calibration]`
    pub plans: Vec<Accumulator>,
}

impl Estimating<'_> {
    pub(super) fn calibration(&self, number: usize, columns: Vec<SettledColumn>) -> CalibrationSummary {
        let model = self.model;
        let partial = &self.plans[number];
        let lots = partial.by_lot.as_ref();
        let share = |count, by_lots| self.share(count, by_lots);
        let limits = model.limits.iter().zip(&partial.limits).enumerate();
        let limits = limits.map(|(number, (limit, of))| LimitSummary {
            limit: *limit,
            yield_: share(of.met, lots.map(|lots| lots.limit(number))),
            first_missed: of.first_missed,
            only_missed: of.only_missed,
        });
        let all = model.columns.iter().zip(columns).enumerate();
        let figures = all.map(|(column, (of, SettledColumn { percentiles, values }))| {
            let errors = self.small_errors(number, of.point);
            FigureSummary {
                column,
                moments: partial.moments(column),
                predicted_mean: errors
                    .and_then(|errors| of.figure.predicted_mean(&model.points[of.point], &errors)),
                percentiles,
                values,
            }
        });
        CalibrationSummary {
            name: model.calibrations[number].name.clone(),
            yield_: (!model.limits.is_empty()).then(|| share(partial.passed, lots.map(ByLot::passed))),
            bench_seconds: lots.map_or(partial.bench_seconds, |lots| lots.seconds(partial.bench_seconds)),
            split_seconds: partial.split,
            failed: partial.failed,
            limits: limits.collect(),
            misses: self.misses(number),
            families: self.families(number),
            places: self.places(number),
            figures: figures.collect(),
        }
    }

    /// A share of the units, by lots where they share them.
    fn share(&self, count: u64, by_lots: Option<ByLots>) -> Estimate {
        match by_lots {
            Some(of) => of.share(self.model.confidence),
            None => clopper_pearson(count, self.trials, self.model.confidence),
        }
    }

    fn misses(&self, number: usize) -> Vec<MissSummary> {
        let partial = &self.plans[number];
        let lots = partial.by_lot.as_ref();
        let of_group = |(limits, alone): (Vec<usize>, u64)| {
            let first = limits[0];
            let missed = self.trials - partial.limits[first].met;
            self.miss(limits, [missed, alone], lots.map(|lots| lots.limit(first)))
        };
        self.ranked(partial.alike.groups().map(of_group).collect())
    }

    fn families(&self, number: usize) -> Vec<MissSummary> {
        let partial = &self.plans[number];
        let lots = partial.by_lot.as_ref();
        let of_group = |(families, alone): (Vec<usize>, u64)| {
            let first = families[0];
            let missed = self.trials - partial.families_met[first];
            let is_missed = |limit: &usize| partial.limits[*limit].met < self.trials;
            let is_in = |limit: &usize| families.contains(&self.model.families[*limit]) && is_missed(limit);
            let limits = (0..self.model.limits.len()).filter(is_in).collect();
            self.miss(limits, [missed, alone], lots.map(|lots| lots.family(first)))
        };
        self.ranked(partial.families_alike.groups().map(of_group).collect())
    }

    /// Limits, how many units miss them, and how many miss nothing else. How the latter vary from lot to lot is not gathered; it is taken
    /// to be as for all that miss them.
    fn miss(&self, limits: Vec<usize>, counts: [u64; 2], met: Option<ByLots>) -> MissSummary {
        let at = |count: u64| met.map(|of| of.at_share(count as f64 / self.trials as f64));
        let [missed, nothing_else] = counts.map(|count| self.share(count, at(count)));
        MissSummary { limits, missed, nothing_else }
    }

    /// Those that some unit misses, in order.
    fn ranked(&self, mut all: Vec<MissSummary>) -> Vec<MissSummary> {
        let model = self.model;
        all.retain(|of| of.missed.value > 0.0 && !of.limits.is_empty());
        all.iter_mut().for_each(|of| of.limits.sort_by(|a, b| in_order(model, *a, *b)));
        all.sort_by(|a, b| {
            let by_count = |of: fn(&MissSummary) -> f64| of(b).total_cmp(&of(a));
            let by_count = by_count(|of| of.missed.value).then(by_count(|of| of.nothing_else.value));
            by_count.then_with(|| in_order(model, a.limits[0], b.limits[0]))
        });
        all
    }

    fn places(&self, number: usize) -> Vec<PlaceSummary> {
        let model = self.model;
        let places = Places::of(model);
        let partial = &self.plans[number];
        let passed = partial.places.iter().zip(places.limited(model)).enumerate();
        let lots = partial.by_lot.as_ref();
        let summary = |(at, (passed, is_limited)): (usize, (&u64, bool))| {
            let place = places.place(at);
            let [beam, frequency, temperature]: Place = place;
            let conditions = |kind: usize, number: usize| {
                let point = model.points.iter().find(|point| point.numbers()[kind] == number)?;
                Some(&model.conditions[point.conditions])
            };
            (is_limited && place != [None; 3]).then(|| PlaceSummary {
                beam,
                frequency: frequency.and_then(|of| conditions(1, of)).map(|of| of.frequency),
                temperature: temperature.and_then(|of| conditions(2, of)).map(|of| of.temperature),
                yield_: self.share(*passed, lots.map(|lots| lots.place(at))),
            })
        };
        passed.filter_map(summary).collect()
    }

    /// Residual errors at a beam point as the small-error formulas take them; `None` where they were not measured.
    fn small_errors(&self, calibration: usize, point: usize) -> Option<SmallErrors> {
        let mean_square = |residual: Residual| {
            let is_of =
                |c: &crate::model::Column| c.figure.rms_residual() == Some(residual) && c.point == point;
            let column = self.model.columns.iter().position(is_of)?;
            let moments = self.plans[calibration].columns[column];
            let count = moments.count as f64;
            (count > 0.0).then(|| moments.mean * moments.mean + moments.m2 / count)
        };
        Some(SmallErrors::new(
            &self.model.points[point],
            mean_square(Residual::Phase)?,
            mean_square(Residual::Amplitude)?,
            self.model.channels(),
            1.0 - self.model.dead.probability,
            self.model.calibrations[calibration].level.is_none(),
        ))
    }
}

/// The order of two limits by what they say: by figure, beam, frequency, temperature, bound.
fn in_order(model: &Model, a: usize, b: usize) -> Ordering {
    let (a, b) = (&model.limits[a], &model.limits[b]);
    let of = |limit: &Limit| model.columns[limit.column];
    let figure = |limit: &Limit| Figure::ALL.iter().position(|figure| *figure == of(limit).figure);
    let beam = |limit: &Limit| &model.beams[model.points[of(limit).point].beam].name;
    let place = |limit: &Limit| {
        let conditions = model.conditions_of(of(limit).point);
        [conditions.frequency, conditions.temperature, limit.bound.value()]
    };
    let by_place = place(a).into_iter().zip(place(b)).map(|(a, b)| a.total_cmp(&b));
    figure(a)
        .cmp(&figure(b))
        .then_with(|| beam(a).cmp(beam(b)))
        .then_with(|| by_place.fold(Ordering::Equal, Ordering::then))
}
