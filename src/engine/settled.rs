//! Results with their percentiles: what is left to keep once there are no more trials to add.

use crate::engine::accumulator::Accumulator;
use crate::engine::partial::{Partial, Whole};
use crate::engine::summary::{Estimating, PERCENTILES, Summary};
use crate::engine::threads::in_parallel;
use crate::model::Model;
use crate::stats::{Column, Estimate};
use serde::{Deserialize, Serialize};

impl Partial {
    /// The estimates; `None` without trials, or where some that share lots are missing between others.
    pub(crate) fn summary(self, model: &Model) -> Option<Summary> {
        Some(self.settle(model)?.summary(model))
    }

    /// The results once there are no more trials to add; `None` as for [`Partial::summary`].
    pub(crate) fn settle(self, model: &Model) -> Option<Settled> {
        let Whole { trials, accumulators, kept_trials, first, others } = self.whole(model)?;
        let values: Vec<(Vec<Column>, Vec<Column>)> = first.into_iter().zip(others).collect();
        let p = PERCENTILES.map(|p| f64::from(p) / 100.0);
        let plans = accumulators.into_iter().zip(values).collect();
        let columns = in_parallel(plans, |(plan, (first, others)): (Accumulator, _)| {
            let columns: Vec<(Column, Column)> = first.into_iter().zip(others).collect();
            let columns =
                in_parallel(columns.into_iter().enumerate().collect(), |(column, (first, others))| {
                    Settling { model, kept_trials, plan: &plan }.column(column, &p, first, others)
                });
            (plan, columns)
        });
        let (plans, columns) = columns.into_iter().unzip();
        Some(Settled { trials, plans, columns })
    }
}

/// The results of trials, with percentiles beside the values, which can be forgotten then: they take far more room than all else.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Settled {
    trials: u64,
    /// `[calibration]`
    plans: Vec<Accumulator>,
    /// `[calibration][column]`
    columns: Vec<Vec<SettledColumn>>,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct SettledColumn {
    /// In the order of [`PERCENTILES`].
    pub percentiles: Vec<Estimate>,
    /// Empty where they are forgotten.
    pub values: Column,
}

impl Settled {
    /// Forgets the values of the figures: for runs of many designs.
    pub(crate) fn forget_values(&mut self) {
        self.columns.iter_mut().flatten().for_each(|column| column.values = Column::new());
    }

    /// The estimates.
    pub(crate) fn summary(self, model: &Model) -> Summary {
        let Settled { trials, plans, columns } = self;
        let all = Estimating { model, trials, plans };
        let calibration = |(number, columns)| all.calibration(number, columns);
        let calibrations = in_parallel(columns.into_iter().enumerate().collect(), calibration);
        Summary { trials, calibrations }
    }
}

/// What percentiles are taken from.
struct Settling<'p> {
    model: &'p Model,
    /// Trials of which values are kept one by one.
    kept_trials: u64,
    plan: &'p Accumulator,
}

impl Settling<'_> {
    /// A column of the model; `first` are the values that are kept in trial order, `values` the others.
    fn column(&self, column: usize, p: &[f64], mut first: Column, mut values: Column) -> SettledColumn {
        let (model, lots) = (self.model, self.plan.by_lot.as_ref());
        let moments = self.plan.moments(column);
        if lots.is_none() {
            values.merge(&std::mem::take(&mut first));
        } else {
            values.merge(&first);
        }
        let effect = |at: f64| {
            // In trial order, which lots need.
            let (first, units) = (first.first(), self.kept_trials);
            lots.map_or(1.0, |of| of.design_effect(column, first, units, at, model.confidence))
        };
        let percentiles = match lots {
            None => values.percentiles(&moments, p, model.confidence),
            Some(_) => values.percentiles_by_lots(&moments, p, model.confidence, effect),
        };
        SettledColumn { percentiles, values }
    }
}
