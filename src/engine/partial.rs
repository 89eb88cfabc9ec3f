//! The results of some trials of a model: they can be written down, and merged with those of others. However a run is split into
//! ranges of trials, and in any order of merging, the result is that of the run in one piece, bit for bit.

use crate::engine::accumulator::{Accumulator, Counted, Kept, no_columns, room};
use crate::engine::outcomes::{CHUNK, Outcomes};
use crate::engine::tree::Tree;
use crate::model::Model;
use crate::stats::Column;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::Range;
use thiserror::Error;

/// The results of some trials of a model.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Partial {
    study_hash: String,
    seed: u64,
    /// Of whole chunks, `[calibration]`.
    whole: Tree<Vec<Accumulator>>,
    /// Chunks that lack trials, by their first.
    pieces: BTreeMap<u64, Outcomes>,
    /// Values of whole chunks among the first ones.
    kept: Kept,
    /// Values of the other whole chunks, or of all, `[calibration][column]`.
    counted: Vec<Vec<Column>>,
}

/// Why results of trials cannot be merged.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum CannotMerge {
    /// They are not of the same study, or of another seed.
    #[error("the trials are of another study or of another seed")]
    OtherUnits,
    /// Some trials are in both.
    #[error("trials {} to {} are in both", .0.start, .0.end - 1)]
    Overlap(Range<u64>),
}

impl Partial {
    /// Of no trials.
    pub(crate) fn new(model: &Model) -> Partial {
        Partial {
            study_hash: model.study_hash.clone(),
            seed: model.seed,
            whole: Tree::default(),
            pieces: BTreeMap::new(),
            kept: Kept::default(),
            counted: no_columns(model),
        }
    }

    /// Takes outcomes of trials that are not there yet, with their accumulator for each calibration. Values of a whole chunk that are not kept
    /// one by one are counted elsewhere.
    pub(super) fn take(&mut self, model: &Model, outcomes: &Outcomes, accumulators: Vec<Accumulator>) {
        if !outcomes.is_whole() {
            return self.take_piece(model, outcomes.clone());
        }
        self.whole.insert(outcomes.chunk(), accumulators, |before, after| join(before, after));
        if outcomes.first_trial < room(model).exact {
            self.kept.keep(model, outcomes);
        }
    }

    fn take_piece(&mut self, model: &Model, mut piece: Outcomes) {
        let before = self.pieces.range(..piece.first_trial).next_back();
        let before =
            before.filter(|(at, of)| *at + of.trials == piece.first_trial && of.chunk() == piece.chunk());
        if let Some(mut before) = before.map(|(at, _)| *at).and_then(|at| self.pieces.remove(&at)) {
            before.append(&piece);
            piece = before;
        }
        let end = piece.first_trial + piece.trials;
        if let Some(after) = self.pieces.remove(&end) {
            if after.chunk() == piece.chunk() {
                piece.append(&after);
            } else {
                self.pieces.insert(end, after);
            }
        }
        if !piece.is_whole() {
            self.pieces.insert(piece.first_trial, piece);
            return;
        }
        self.take(model, &piece, accumulators(model, &piece));
        if piece.first_trial >= room(model).exact {
            count(&mut self.counted, &piece);
        }
    }

    /// Values that were counted elsewhere.
    pub(super) fn add_counted(&mut self, counted: Counted) {
        merge_columns(&mut self.counted, &counted.columns());
    }

    /// The values that were kept one by one, in case there are others, which are only counted; units that share lots need them to the end.
    pub(super) fn release_kept(&mut self, model: &Model) -> Vec<Vec<Vec<Column>>> {
        let is_beyond = |chunks: Range<u64>| chunks.end * CHUNK as u64 > room(model).exact;
        let is_given_up = model.lot().is_none() && self.whole.ranges().any(is_beyond);
        if is_given_up { self.kept.drain().collect() } else { Vec::new() }
    }

    /// Adds the results of other trials of the same model.
    ///
    /// # Errors
    /// If they are of another study or seed, or if some trials are in both; nothing is added then.
    pub(crate) fn merge(&mut self, model: &Model, other: Partial) -> Result<(), CannotMerge> {
        if (&self.study_hash, self.seed) != (&other.study_hash, other.seed) {
            return Err(CannotMerge::OtherUnits);
        }
        if let Some(both) = overlap(&self.ranges(), &other.ranges()) {
            return Err(CannotMerge::Overlap(both));
        }
        self.whole.merge(other.whole, |before, after| join(before, after));
        self.kept.merge(other.kept);
        merge_columns(&mut self.counted, &other.counted);
        other.pieces.into_values().for_each(|piece| self.take_piece(model, piece));
        for kept in self.release_kept(model) {
            merge_columns(&mut self.counted, &in_bins(model, &kept));
        }
        Ok(())
    }

    /// The trials, as ranges in ascending order that do not touch.
    pub(crate) fn ranges(&self) -> Vec<Range<u64>> {
        let size = CHUNK as u64;
        let whole = self.whole.ranges().map(|chunks| chunks.start * size..chunks.end * size);
        let mut all: Vec<Range<u64>> =
            whole.chain(self.pieces.iter().map(|(at, of)| *at..at + of.trials)).collect();
        all.sort_by_key(|range| range.start);
        let mut joined: Vec<Range<u64>> = Vec::new();
        for range in all {
            match joined.last_mut() {
                Some(last) if last.end == range.start => last.end = range.end,
                _ => joined.push(range),
            }
        }
        joined
    }

    /// How many trials there are.
    pub(crate) fn trials(&self) -> u64 {
        self.ranges().iter().map(|range| range.end - range.start).sum()
    }

    /// All of it put together; `None` without trials, or where some are missing between others and units share lots: a lot whose units are
    /// in part missing has no sum.
    pub(super) fn whole(mut self, model: &Model) -> Option<Whole> {
        let trials = self.trials();
        if model.lot().is_some() && self.ranges().len() > 1 {
            return None;
        }
        let pieces = std::mem::take(&mut self.pieces);
        let mut parts: BTreeMap<u64, Vec<Accumulator>> = BTreeMap::new();
        for piece in pieces.values() {
            parts.insert(piece.first_trial, accumulators(model, piece));
            if piece.first_trial < room(model).exact {
                self.kept.keep(model, piece);
            } else {
                count(&mut self.counted, piece);
            }
        }
        parts.extend(self.whole.branches().map(|(chunks, of)| (chunks.start * CHUNK as u64, of)));
        let accumulators = parts.into_values().reduce(|mut before, after| {
            join(&mut before, &after);
            before
        })?;
        let kept_trials = self.kept.trials();
        let first = self.kept.drain().reduce(|mut before, after| {
            merge_columns(&mut before, &after);
            before
        });
        let first = first.unwrap_or_else(|| no_columns(model));
        Some(Whole { trials, accumulators, kept_trials, first, others: self.counted })
    }
}

/// The merged results of trials.
pub(super) struct Whole {
    /// How many.
    pub trials: u64,
    /// `[calibration]`
    pub accumulators: Vec<Accumulator>,
    /// Trials of which values are kept one by one.
    pub kept_trials: u64,
    /// These values in the order of trials, `[calibration][column]`.
    pub first: Vec<Vec<Column>>,
    /// Those of all others.
    pub others: Vec<Vec<Column>>,
}

/// The accumulators of a chunk, or a part of it, `[calibration]`.
pub(super) fn accumulators(model: &Model, outcomes: &Outcomes) -> Vec<Accumulator> {
    outcomes.calibrations.iter().map(|of| Accumulator::of(model, outcomes.first_trial, of)).collect()
}

fn join(before: &mut [Accumulator], after: &[Accumulator]) {
    before.iter_mut().zip(after).for_each(|(before, after)| before.merge(after));
}

fn count(counted: &mut [Vec<Column>], outcomes: &Outcomes) {
    for (columns, of) in counted.iter_mut().zip(&outcomes.calibrations) {
        columns.iter_mut().enumerate().for_each(|(number, column)| column.count(of.values(number)));
    }
}

fn in_bins(model: &Model, kept: &[Vec<Column>]) -> Vec<Vec<Column>> {
    let mut counted = no_columns(model);
    let columns = counted.iter_mut().flatten().zip(kept.iter().flatten());
    columns.for_each(|(counted, kept)| counted.count(kept.first()));
    counted
}

fn merge_columns(mine: &mut [Vec<Column>], other: &[Vec<Column>]) {
    mine.iter_mut().flatten().zip(other.iter().flatten()).for_each(|(mine, other)| mine.merge(other));
}

/// The first range that is in both of two lists.
fn overlap(some: &[Range<u64>], others: &[Range<u64>]) -> Option<Range<u64>> {
    let both = |a: &Range<u64>, b: &Range<u64>| a.start.max(b.start)..a.end.min(b.end);
    some.iter().flat_map(|a| others.iter().map(move |b| both(a, b))).find(|both| both.start < both.end)
}

#[cfg(test)]
mod tests;
