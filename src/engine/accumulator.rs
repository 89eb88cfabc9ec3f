//! Sums over the outcomes of a chunk: the part of a summary that the thread that has the chunk can work out, so
//! that little is left to do in trial order.

use crate::bench::KINDS_OF_WORK;
use crate::engine::by_lot::ByLot;
use crate::engine::joint_misses::JointMisses;
use crate::engine::outcomes::{CHUNK, Failure, Outcomes, PlanOutcomes};
use crate::engine::places::Places;
use crate::model::Model;
use crate::stats::column::Room;
use crate::stats::{Column, Lots, Moments};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::mem::take;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Counts and moments over some units for one calibration plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Accumulator {
    /// Units that pass.
    pub passed: u64,
    /// Units that fail whatever their figures are, `[reason]`.
    pub failed: [u64; Failure::ALL.len()],
    /// One for each limit of the model.
    pub limits: Vec<LimitCounts>,
    /// Which limits the same units miss.
    pub alike: JointMisses,
    /// For each family of limits, the units that meet all of it.
    pub families_met: Vec<u64>,
    /// Which families the same units miss.
    pub families_alike: JointMisses,
    /// Units that pass at each of the model's places.
    pub places: Vec<u64>,
    /// Bench time, s.
    pub bench_seconds: Moments,
    /// The same by kind of work.
    pub split: [Moments; KINDS_OF_WORK.len()],
    /// One for each column of the model.
    pub columns: Vec<Moments>,
    /// The same by lots, where units share lots.
    pub by_lot: Option<ByLot>,
}

/// Counts for one limit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct LimitCounts {
    /// Units that meet it.
    pub met: u64,
    /// Units that miss it, and no limit before it.
    pub first_missed: u64,
    /// Units that miss it and no other.
    pub only_missed: u64,
}

impl Accumulator {
    /// Room that the outcomes of a chunk take for each calibration of a model, with their accumulator, bytes.
    pub(super) fn bytes_of_chunk(model: &Model) -> usize {
        let by_column = CHUNK * size_of::<f64>() + size_of::<Moments>();
        let by_limit = size_of::<LimitCounts>() + size_of::<[u64; 8]>();
        let by_unit = CHUNK * (1 + KINDS_OF_WORK.len()) * size_of::<f64>();
        let lots =
            model.limits.len() + model.family_count() + Places::of(model).count() + model.columns.len();
        let by_lot = if model.lot().is_some() { lots * size_of::<Lots>() } else { 0 };
        model.columns.len() * by_column
            + model.limits.len() * by_limit
            + by_unit
            + by_lot
            + size_of::<Accumulator>()
    }

    /// Of the units of a chunk, or a part of it, from a trial on.
    pub(super) fn of(model: &Model, first_trial: u64, outcomes: &PlanOutcomes) -> Accumulator {
        let families = outcomes.families_met(model);
        Accumulator {
            passed: count(outcomes.passed()),
            failed: Failure::ALL.map(|failure| count(outcomes.failed_for(failure))),
            limits: limits(outcomes),
            alike: JointMisses::of(outcomes.met(), outcomes.all()),
            families_alike: JointMisses::of(&families, outcomes.all()),
            families_met: families.into_iter().map(count).collect(),
            places: Places::of(model).passed(model, outcomes).into_iter().map(count).collect(),
            bench_seconds: Moments::of(outcomes.seconds()),
            split: std::array::from_fn(|kind| Moments::of(&outcomes.split()[kind])),
            columns: (0..model.columns.len()).map(|column| Moments::of(outcomes.values(column))).collect(),
            by_lot: ByLot::of(model, first_trial, outcomes),
        }
    }

    /// Moments of a column; where units share lots, with what lots know of the mean.
    pub(super) fn moments(&self, column: usize) -> Moments {
        let moments = self.columns[column];
        self.by_lot.as_ref().map_or(moments, |lots| lots.column(column, moments))
    }

    /// Adds the units that follow. The last bits of the moments depend on how the units were parted.
    pub(super) fn merge(&mut self, next: &Accumulator) {
        self.passed += next.passed;
        self.failed.iter_mut().zip(next.failed).for_each(|(mine, next)| *mine += next);
        for (mine, next) in self.limits.iter_mut().zip(&next.limits) {
            mine.met += next.met;
            mine.first_missed += next.first_missed;
            mine.only_missed += next.only_missed;
        }
        self.alike.merge(&next.alike);
        self.families_alike.merge(&next.families_alike);
        self.families_met.iter_mut().zip(&next.families_met).for_each(|(mine, next)| *mine += next);
        self.places.iter_mut().zip(&next.places).for_each(|(mine, next)| *mine += next);
        self.bench_seconds.merge(&next.bench_seconds);
        self.split.iter_mut().zip(&next.split).for_each(|(mine, next)| mine.merge(next));
        self.columns.iter_mut().zip(&next.columns).for_each(|(mine, next)| mine.merge(next));
        self.by_lot.iter_mut().zip(&next.by_lot).for_each(|(mine, next)| mine.merge(next));
    }
}

/// All limits of a chunk, its units side by side in a word.
fn limits(outcomes: &PlanOutcomes) -> Vec<LimitCounts> {
    let (mut missed_one, mut missed_more) = (0, 0);
    for met in outcomes.met() {
        missed_more |= missed_one & !met;
        missed_one |= !met;
    }
    let mut met_so_far = outcomes.all();
    let accumulator = |met: &u64| {
        let first_missed = met_so_far & !met;
        met_so_far &= met;
        LimitCounts {
            met: count(*met),
            first_missed: count(first_missed),
            only_missed: count(first_missed & !missed_more),
        }
    };
    outcomes.met().iter().map(accumulator).collect()
}

fn count(units: u64) -> u64 {
    u64::from(units.count_ones())
}

/// The order statistics of every column of a model, `[calibration][column]`, for all threads to count in: the order does not matter.
pub(super) struct Counted {
    room: Room,
    columns: Vec<Vec<Mutex<Column>>>,
}

impl Counted {
    /// Without values.
    pub(super) fn new(model: &Model) -> Counted {
        let room = room(model);
        let column = || Mutex::new(Column::within(room));
        let columns = || model.columns.iter().map(|_| column()).collect();
        Counted { room, columns: model.calibrations.iter().map(|_| columns()).collect() }
    }

    /// Whether the values of some outcomes are to be counted in bins by whichever thread is free: those of whole chunks that are not
    /// kept one by one.
    pub(super) fn takes(&self, outcomes: &Outcomes) -> bool {
        outcomes.is_whole() && outcomes.first_trial >= self.room.exact
    }

    /// Counts values that were kept so far.
    pub(super) fn count_kept(&self, kept: Vec<Vec<Column>>) {
        for (column, counted) in kept.iter().flatten().zip(self.columns.iter().flatten()) {
            lock(counted).count(column.first());
        }
    }

    /// Counts the values of some chunks in bins.
    pub(super) fn count(&self, chunks: &[&Outcomes]) {
        for (calibration, columns) in self.columns.iter().enumerate() {
            for (number, column) in columns.iter().enumerate() {
                let mut column = lock(column);
                chunks.iter().for_each(|of| column.count(of.calibrations[calibration].values(number)));
            }
        }
    }

    /// The columns, `[calibration][column]`.
    pub(super) fn columns(self) -> Vec<Vec<Column>> {
        let column = |of: Mutex<Column>| of.into_inner().unwrap_or_else(PoisonError::into_inner);
        self.columns.into_iter().map(move |of| of.into_iter().map(column).collect()).collect()
    }
}

/// A thread that panicked with it ends the run anyway.
fn lock(column: &Mutex<Column>) -> MutexGuard<'_, Column> {
    column.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The room of each column of a model.
pub(super) fn room(model: &Model) -> Room {
    Room::of_each(model.calibrations.len() * model.columns.len())
}

/// The values of trials one by one, in their order: stretches of trials that follow each other.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct Kept {
    /// By the first trial.
    stretches: BTreeMap<u64, Stretch>,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
struct Stretch {
    trials: u64,
    /// `[calibration][column]`
    columns: Vec<Vec<Column>>,
}

impl Kept {
    /// Takes in values that are not there yet, one by one.
    pub(super) fn keep(&mut self, model: &Model, outcomes: &Outcomes) {
        let first = outcomes.first_trial;
        let before = self.stretches.range(..first).next_back().filter(|(at, of)| *at + of.trials == first);
        let at = before.map_or(first, |(at, _)| *at);
        let none = || Stretch { trials: 0, columns: no_columns(model) };
        let stretch = self.stretches.entry(at).or_insert_with(none);
        for (columns, of) in stretch.columns.iter_mut().zip(&outcomes.calibrations) {
            columns.iter_mut().enumerate().for_each(|(number, column)| column.keep(of.values(number)));
        }
        stretch.trials += outcomes.trials;
        self.join(at);
    }

    /// Adds those of other trials.
    pub(super) fn merge(&mut self, other: Kept) {
        for (first, stretch) in other.stretches {
            self.stretches.insert(first, stretch);
            let before = self.stretches.range(..first).next_back().map(|(at, _)| *at);
            self.join(first);
            before.into_iter().for_each(|at| self.join(at));
        }
    }

    /// Joins a stretch with the next, if that follows it.
    fn join(&mut self, at: u64) {
        let Some(end) = self.stretches.get(&at).map(|of| at + of.trials) else { return };
        let (Some(next), Some(stretch)) = (self.stretches.remove(&end), self.stretches.get_mut(&at)) else {
            return;
        };
        stretch.trials += next.trials;
        let columns = stretch.columns.iter_mut().flatten().zip(next.columns.iter().flatten());
        columns.for_each(|(column, next)| column.merge(next));
    }

    /// Takes all of them out.
    pub(super) fn drain(&mut self) -> impl Iterator<Item = Vec<Vec<Column>>> {
        take(&mut self.stretches).into_values().map(|of| of.columns)
    }

    /// How many trials there are values of.
    pub(super) fn trials(&self) -> u64 {
        self.stretches.values().map(|of| of.trials).sum()
    }
}

/// Columns without values, `[calibration][column]`.
pub(super) fn no_columns(model: &Model) -> Vec<Vec<Column>> {
    vec![vec![Column::within(room(model)); model.columns.len()]; model.calibrations.len()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::outcomes::tests::*;

    /// Units by a fixed rule, of every kind.
    fn units(count: usize) -> Vec<[f64; 4]> {
        let kinds = [GOOD, POINTS_AWAY, LOBES, LOBES_AND_AWAY, UNMEASURED, NO_POINTING];
        (0..count).map(|i| kinds[(i * i + i / 7) % 6].map(|x| x + 1e-4 * (i % 97) as f64)).collect()
    }

    fn accumulator(model: &Model, units: &[[f64; 4]]) -> Accumulator {
        let chunks = units.chunks(CHUNK).enumerate();
        let of =
            |(number, chunk)| Accumulator::of(model, (number * CHUNK) as u64, &judged::<16>(model, chunk));
        let join = |mut whole: Accumulator, next: Accumulator| {
            whole.merge(&next);
            whole
        };
        chunks.map(of).reduce(join).expect("some units")
    }

    #[test]
    fn counts_are_those_of_units_taken_one_by_one() {
        let model = model();
        for count in [1, 64, 1000] {
            let units = units(count);
            let found = accumulator(&model, &units);
            let met = |unit: &[f64; 4]| -> Vec<bool> {
                model.limits.iter().map(|limit| limit.is_met_by(unit[limit.column])).collect()
            };
            let measured = |unit: &&[f64; 4]| unit.iter().all(|value| value.is_finite());
            let number = |is: &dyn Fn(&[f64; 4]) -> bool| units.iter().filter(|unit| is(unit)).count() as u64;
            for (i, limit) in found.limits.iter().enumerate() {
                assert_eq!(limit.met, number(&|unit| met(unit)[i]));
                assert_eq!(
                    limit.first_missed,
                    number(&|unit| met(unit).iter().position(|met| !met) == Some(i))
                );
                let only =
                    |unit: &[f64; 4]| !met(unit)[i] && met(unit).iter().filter(|met| !**met).count() == 1;
                assert_eq!(limit.only_missed, number(&only));
            }
            assert_eq!(found.passed, number(&|unit| measured(&unit) && met(unit).iter().all(|met| *met)));
            assert_eq!(found.failed, [0, 0, number(&|unit| !measured(&unit))]);
            for (column, moments) in found.columns.iter().enumerate() {
                let finite = number(&|unit| unit[column].is_finite());
                assert_eq!(moments.count, finite, "{column}");
            }
            assert_eq!(found.bench_seconds.count, count as u64);
        }
    }

    #[test]
    fn tallies_of_parts_cut_between_chunks_are_the_tally_of_all() {
        let model = model();
        let units = units(1000);
        let whole = accumulator(&model, &units);
        for cut in [CHUNK, 5 * CHUNK, 15 * CHUNK] {
            let mut joined = accumulator(&model, &units[..cut]);
            joined.merge(&accumulator(&model, &units[cut..]));
            assert_eq!((joined.passed, joined.failed), (whole.passed, whole.failed), "{cut}");
            assert_eq!(joined.limits, whole.limits, "{cut}");
            assert_eq!((&joined.alike, &joined.places), (&whole.alike, &whole.places), "{cut}");
            assert_eq!(joined.families_met, whole.families_met, "{cut}");
            assert_eq!(joined.families_alike, whole.families_alike, "{cut}");
            for (joined, whole) in joined.columns.iter().zip(&whole.columns) {
                assert_eq!((joined.count, joined.min, joined.max), (whole.count, whole.min, whole.max));
                assert!((joined.mean / whole.mean - 1.0).abs() < 1e-13, "{cut}");
                assert!((joined.m2 / whole.m2 - 1.0).abs() < 1e-12, "{cut}");
            }
        }
    }
}
