//! Results of units that share lots, lot by lot, gathered by trial: one calibration plan's verdicts and values.

use crate::engine::outcomes::{CHUNK, PlanOutcomes};
use crate::engine::places::Places;
use crate::model::Model;
use crate::stats::{ByLots, Lots, MeanByLots, Moments};
use serde::{Deserialize, Serialize};

/// Sums over lots.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct ByLot {
    size: u64,
    first_trial: u64,
    passed: Lots,
    /// `[limit]`
    limits: Vec<Lots>,
    /// For each family of limits.
    families: Vec<Lots>,
    /// At each of the model's places.
    places: Vec<Lots>,
    seconds: Lots,
    /// `[column]`
    columns: Vec<Lots>,
}

impl ByLot {
    /// Of the units of a chunk, or a part of it, from one on; `None` where the model's units share no lots.
    pub(super) fn of(model: &Model, first_trial: u64, of: &PlanOutcomes) -> Option<ByLot> {
        let mut by_lot = ByLot::starting(model, first_trial)?;
        by_lot.take(model, of);
        Some(by_lot)
    }

    fn starting(model: &Model, first_trial: u64) -> Option<ByLot> {
        let size = model.lot()?;
        let lots = Lots::starting(size, first_trial);
        Some(ByLot {
            size,
            first_trial,
            passed: lots,
            limits: vec![lots; model.limits.len()],
            families: vec![lots; model.family_count()],
            places: vec![lots; Places::of(model).count()],
            seconds: lots,
            columns: vec![lots; model.columns.len()],
        })
    }

    /// Adds the units that follow.
    pub(super) fn merge(&mut self, next: &ByLot) {
        self.passed.merge(&next.passed);
        self.seconds.merge(&next.seconds);
        let all = |of: [&mut Vec<Lots>; 4], next: [&Vec<Lots>; 4]| {
            let each = of.into_iter().flatten().zip(next.into_iter().flatten());
            each.for_each(|(of, next)| of.merge(next));
        };
        let ByLot { limits, families, places, columns, .. } = self;
        all([limits, families, places, columns], [&next.limits, &next.families, &next.places, &next.columns]);
    }

    fn take(&mut self, model: &Model, of: &PlanOutcomes) {
        let units = of.seconds().len();
        self.passed.push_word(units, of.passed());
        self.limits.iter_mut().zip(of.met()).for_each(|(lots, met)| lots.push_word(units, *met));
        let families = of.families_met(model);
        self.families.iter_mut().zip(families).for_each(|(lots, met)| lots.push_word(units, met));
        let places = Places::of(model).passed(model, of);
        self.places.iter_mut().zip(places).for_each(|(lots, passed)| lots.push_word(units, passed));
        self.seconds.push_values(of.seconds());
        self.columns.iter_mut().enumerate().for_each(|(column, lots)| lots.push_values(of.values(column)));
    }

    /// How passing varies.
    pub(super) fn passed(&self) -> ByLots {
        self.passed.by_lots()
    }

    /// How meeting a limit varies.
    pub(super) fn limit(&self, limit: usize) -> ByLots {
        self.limits[limit].by_lots()
    }

    /// How meeting a family of limits varies.
    pub(super) fn family(&self, family: usize) -> ByLots {
        self.families[family].by_lots()
    }

    /// How passing at a place varies.
    pub(super) fn place(&self, place: usize) -> ByLots {
        self.places[place].by_lots()
    }

    /// Moments of the bench time, with what lots know of their mean.
    pub(super) fn seconds(&self, of: Moments) -> Moments {
        with(of, &self.seconds)
    }

    /// Units that tell as much of a column's quantile as one independent unit does, by the first of its values. Where some have no number,
    /// it is not known which units they are of, and lots count as if their units were all alike.
    pub(super) fn design_effect(
        &self,
        column: usize,
        first: &[f64],
        units: u64,
        at: f64,
        confidence: f64,
    ) -> f64 {
        if units == 0 || (first.len() as u64) < units {
            let of = self.columns[column].by_lots();
            return of.units / of.equal_lots;
        }
        let mut lots = Lots::starting(self.size, self.first_trial);
        for values in first.chunks(CHUNK) {
            let below = values.iter().rev().fold(0, |word, x| word << 1 | u64::from(*x <= at));
            lots.push_word(values.len(), below);
        }
        lots.by_lots().design_effect(confidence)
    }

    /// Moments of a column likewise.
    pub(super) fn column(&self, column: usize, of: Moments) -> Moments {
        with(of, &self.columns[column])
    }
}

fn with(moments: Moments, lots: &Lots) -> Moments {
    let of = lots.by_lots();
    Moments { lots: Some(MeanByLots { count: of.lots, error: of.variance.sqrt() }), ..moments }
}
