//! The effect of an inspection on the units.

use crate::decide::{DesignRun, Effort, Passes, ReworkResult, UnitCost, mend};
use crate::engine::Control;
use crate::error::Error;
use crate::model::Model;
use crate::stats::{Estimate, Pairs};
use crate::study::Cost;

/// Units built with or without the inspection.
#[derive(Clone, Debug)]
pub(crate) struct BuiltUnits {
    /// Share that passes.
    pub yield_: Estimate,
    /// Effort for each of them.
    pub effort: Effort,
    /// Cost of a good one, where the study has prices.
    pub priced: Option<UnitCost>,
    /// Whether an interrupt came before their end.
    pub is_cut: bool,
    passes: Passes,
}

/// Units built with the inspection and without it, the same ones.
#[derive(Clone, Debug)]
pub(crate) struct Units {
    /// From the parts as delivered.
    pub without: BuiltUnits,
    /// From the accepted parts; `None` where no part is turned away.
    pub with: Option<BuiltUnits>,
}

impl BuiltUnits {
    /// Of the first calibration plan of a run, with rework of the failing units where parts are replaced; `None` without limits, and after
    /// an interrupt. Errors: as [`mend`].
    pub(crate) fn of(
        model: &Model,
        ran: DesignRun,
        cost: Option<&Cost>,
        control: Control,
    ) -> Result<Option<BuiltUnits>, Error> {
        let Some(summary) = ran.summary.calibrations.first() else { return Ok(None) };
        let (Some(yield_), Some(passes)) = (summary.yield_.clone(), ran.passes.first()) else {
            return Ok(None);
        };
        let rework = cost.and_then(|cost| cost.rework.as_ref());
        let mended = mend(model, rework, &[passes], yield_.confidence, control, &mut |_| ())?;
        let Some(mended) = mended.and_then(|mut all| all.pop()) else { return Ok(None) };
        let effort = Effort { mended, ..Effort::of(model, 0, summary) };
        let priced = cost.map(|cost| UnitCost::of(cost, &effort, &yield_));
        Ok(Some(BuiltUnits { yield_, effort, priced, is_cut: ran.is_cut, passes: passes.clone() }))
    }

    /// Which units are good: after rework, where parts are replaced and that is cheaper.
    fn good(&self) -> &Passes {
        let bill = self.priced.as_ref().and_then(|priced| priced.bill);
        match &self.effort.mended {
            Some(ReworkResult { passes, .. }) if bill.is_some_and(|bill| bill.reworks) => passes,
            _ => &self.passes,
        }
    }

    /// These verdicts paired with others on the same units.
    pub(crate) fn beside(&self, other: &BuiltUnits) -> Pairs {
        self.passes.beside(&other.passes)
    }

    /// Saving on a good unit over others.
    pub(crate) fn saves(&self, other: &BuiltUnits) -> Option<Estimate> {
        let pairs = self.good().beside(other.good());
        self.priced.as_ref()?.saves(other.priced.as_ref()?, &pairs)
    }
}

impl Units {
    /// Yield with the inspection minus yield without it, paired unit by unit.
    pub(crate) fn gain(&self) -> Option<Estimate> {
        let with = self.with.as_ref()?;
        Some(with.beside(&self.without).difference(with.yield_.confidence))
    }

    /// Saving on a good unit by the inspection.
    pub(crate) fn saving(&self) -> Option<Estimate> {
        self.with.as_ref()?.saves(&self.without)
    }
}
