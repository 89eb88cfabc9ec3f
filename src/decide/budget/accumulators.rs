//! Sums for the shares of variance, accumulated chunk by chunk.

use crate::engine::Outcomes;
use crate::model::Model;
use crate::stats::{Mixed, PickFreeze};
use std::ops::Range;

/// Sums of one result: of failures, or of a column.
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
    /// `[calibration]`, failures before the columns.
    calibrations: Vec<Vec<Accumulator>>,
}

impl Accumulators {
    /// Empty, for some columns of a model and some groups of causes; each block of `block` neighbouring units shares draws.
    pub(super) fn new(model: &Model, columns: &[usize], groups: usize, block: u64) -> Accumulators {
        let accumulator =
            Accumulator { samples: PickFreeze::new(block), mixed: vec![Mixed::new(block); groups] };
        let of_plan = vec![accumulator; 1 + columns.len()];
        Accumulators { columns: columns.to_vec(), calibrations: vec![of_plan; model.calibrations.len()] }
    }

    /// Adds a chunk: the first sample, the second, and one mixed sample for each of some groups. `counts_samples` adds the first two
    /// themselves, which a run does once.
    pub(super) fn take(&mut self, outcomes: &[Outcomes], groups: Range<usize>, counts_samples: bool) {
        let [first, second, mixed @ ..] = outcomes else { return };
        for (calibration, of) in self.calibrations.iter_mut().enumerate() {
            let passed = |of: &Outcomes| of.calibrations[calibration].passed();
            let fails = |word: u64, unit: usize| f64::from(u8::from(word >> unit & 1 == 0));
            let (a, b) = (passed(first), passed(second));
            let Some((failing, figures)) = of.split_first_mut() else { return };
            for unit in 0..first.trials as usize {
                let (a, b) = (fails(a, unit), fails(b, unit));
                if counts_samples {
                    failing.samples.push(a, b);
                }
                for (mixed, to) in mixed.iter().zip(&mut failing.mixed[groups.clone()]) {
                    to.push(a, b, fails(passed(mixed), unit));
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

    /// Parcels of each sum.
    pub(super) fn parcels(&self) -> usize {
        self.calibrations.first().map_or(0, |of| of[0].samples.parcels().count())
    }

    /// The sums, `[calibration]`, failures before the columns.
    pub(super) fn calibrations(&self) -> &[Vec<Accumulator>] {
        &self.calibrations
    }
}
