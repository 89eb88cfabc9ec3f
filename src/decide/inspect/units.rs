//! What an inspection makes of the units that are built behind it.

use crate::decide::{Effort, Passes, Priced, Ran};
use crate::plan::Plan;
use crate::stats::{Estimate, Pairs};
use crate::study::Cost;

/// Units that were built, with or without the inspection.
#[derive(Clone, Debug)]
pub struct Made {
    /// Share that passes.
    pub yield_: Estimate,
    /// What is done for each of them.
    pub effort: Effort,
    /// What a good one costs, where prices are stated.
    pub priced: Option<Priced>,
    /// Whether a stop from outside came before their end.
    pub is_cut: bool,
    passes: Passes,
}

/// Units built with the inspection and without it, the same ones.
#[derive(Clone, Debug)]
pub struct Units {
    /// From the parts as they are delivered.
    pub without: Made,
    /// From the parts that are taken; `None` where nothing is turned away.
    pub with: Option<Made>,
}

impl Made {
    /// Of the first calibration plan of what ran; `None` without limits.
    pub fn of(plan: &Plan, ran: Ran, cost: Option<&Cost>) -> Option<Made> {
        let summary = ran.summary.calibrations.first()?;
        let yield_ = summary.yield_.clone()?;
        let effort = Effort::of(plan, 0, summary);
        let priced = cost.map(|cost| Priced::of(cost, &effort, &yield_));
        let passes = ran.passes.into_iter().next()?;
        Some(Made { yield_, effort, priced, is_cut: ran.is_cut, passes })
    }

    /// How these verdicts go together with others on the same units.
    pub fn beside(&self, other: &Made) -> Pairs {
        self.passes.beside(&other.passes)
    }

    /// What a good unit costs less than another way.
    pub fn saves(&self, other: &Made) -> Option<Estimate> {
        self.priced.as_ref()?.saves(other.priced.as_ref()?, &self.beside(other))
    }
}

impl Units {
    /// How much of the yield is the inspection's, with the interval of the units' own pairing.
    pub fn gain(&self) -> Option<Estimate> {
        let with = self.with.as_ref()?;
        Some(with.beside(&self.without).difference(with.yield_.confidence))
    }

    /// What a good unit costs less with the inspection than without.
    pub fn saving(&self) -> Option<Estimate> {
        self.with.as_ref()?.saves(&self.without)
    }
}
