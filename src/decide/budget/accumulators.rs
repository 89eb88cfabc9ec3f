//! Sums of all that is shared out, gathered as the outcomes come in.

use crate::engine::Outcomes;
use crate::model::Model;
use crate::stats::{Mixed, PickFreeze};
use std::ops::Range;

/// Sums of one result: of failing, or of a column.
#[derive(Clone, Debug)]
pub(super) struct Accumulator {
    pub samples: PickFreeze,
    /// `[group]`
    pub mixed: Vec<Mixed>,
}

/// Sums of all results of all calibration plans.
#[derive(Clone, Debug)]
pub(super) struct Accumulators {
    columns: Vec<usize>,
    /// `[calibration]`, failing before the columns.
    calibrations: Vec<Vec<Accumulator>>,
}

impl Accumulators {
    /// None yet, for some columns of a plan and some groups; `block` neighbouring units hang together.
    pub fn new(model: &Model, columns: &[usize], groups: usize, block: u64) -> Accumulators {
        let accumulator =
            Accumulator { samples: PickFreeze::new(block), mixed: vec![Mixed::new(block); groups] };
        let of_plan = vec![accumulator; 1 + columns.len()];
        Accumulators { columns: columns.to_vec(), calibrations: vec![of_plan; model.calibrations.len()] }
    }

    /// Adds a chunk: the first sample, the second, and one for each of some groups. The samples themselves count but once.
    pub fn take(&mut self, outcomes: &[Outcomes], groups: Range<usize>, counts_samples: bool) {
        let [first, second, mixed @ ..] = outcomes else { return };
        for (calibration, of) in self.calibrations.iter_mut().enumerate() {
            let plans = |of: &Outcomes| of.calibrations[calibration].passed();
            let fails = |passed: u64, unit: usize| f64::from(u8::from(passed >> unit & 1 == 0));
            let (a, b) = (plans(first), plans(second));
            let Some((failing, figures)) = of.split_first_mut() else { return };
            for unit in 0..first.trials as usize {
                let (a, b) = (fails(a, unit), fails(b, unit));
                if counts_samples {
                    failing.samples.push(a, b);
                }
                for (mixed, to) in mixed.iter().zip(&mut failing.mixed[groups.clone()]) {
                    to.push(a, b, fails(plans(mixed), unit));
                }
            }
            for (column, figure) in self.columns.iter().zip(figures) {
                let a = first.calibrations[calibration].values(*column);
                let b = second.calibrations[calibration].values(*column);
                if counts_samples {
                    a.iter().zip(b).for_each(|(a, b)| figure.samples.push(*a, *b));
                }
                for (mixed, to) in mixed.iter().zip(&mut figure.mixed[groups.clone()]) {
                    let c = mixed.calibrations[calibration].values(*column);
                    a.iter().zip(b).zip(c).for_each(|((a, b), c)| to.push(*a, *b, *c));
                }
            }
        }
    }

    /// Parcels that every sum is kept in.
    pub fn parcels(&self) -> usize {
        self.calibrations.first().map_or(0, |of| of[0].samples.parcels().count())
    }

    /// The sums, `[calibration]`, failing before the columns.
    pub fn calibrations(&self) -> &[Vec<Accumulator>] {
        &self.calibrations
    }
}
