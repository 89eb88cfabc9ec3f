//! What an inspection makes of the units that are built behind it.

use crate::decide::{Effort, Mended, Passes, Priced, Ran, mend};
use crate::engine::Control;
use crate::error::Error;
use crate::model::Model;
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
    /// Of the first calibration plan of what ran, the units that fail mended where parts are replaced; `None` without limits, and where
    /// a stop came before the end of that. Errors: as [`mend`].
    pub fn of(model: &Model, ran: Ran, cost: Option<&Cost>, control: Control) -> Result<Option<Made>, Error> {
        let Some(summary) = ran.summary.calibrations.first() else { return Ok(None) };
        let (Some(yield_), Some(passes)) = (summary.yield_.clone(), ran.passes.first()) else {
            return Ok(None);
        };
        let rework = cost.and_then(|cost| cost.rework.as_ref());
        let mended = mend(model, rework, &[passes], yield_.confidence, control, &mut |_| ())?;
        let Some(mended) = mended.and_then(|mut all| all.pop()) else { return Ok(None) };
        let effort = Effort { mended, ..Effort::of(model, 0, summary) };
        let priced = cost.map(|cost| Priced::of(cost, &effort, &yield_));
        Ok(Some(Made { yield_, effort, priced, is_cut: ran.is_cut, passes: passes.clone() }))
    }

    /// Which units are good: after rework, where parts are replaced and that is cheaper.
    fn good(&self) -> &Passes {
        let bill = self.priced.as_ref().and_then(|priced| priced.bill);
        match &self.effort.mended {
            Some(Mended { passes, .. }) if bill.is_some_and(|bill| bill.reworks) => passes,
            _ => &self.passes,
        }
    }

    /// How these verdicts go together with others on the same units.
    pub fn beside(&self, other: &Made) -> Pairs {
        self.passes.beside(&other.passes)
    }

    /// What a good unit costs less than another way.
    pub fn saves(&self, other: &Made) -> Option<Estimate> {
        let pairs = self.good().beside(other.good());
        self.priced.as_ref()?.saves(other.priced.as_ref()?, &pairs)
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
