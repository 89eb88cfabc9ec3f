//! The cost of a good unit after each calibration plan, of the study and of its offers.

mod designs;
mod ladder;
mod offers;
mod pareto;
mod saving;
mod throughput;
mod tornado;

pub(crate) use designs::{compared, designs, ladder, mended, without_limits};
pub(crate) use ladder::Ladder;
pub(crate) use offers::OfferCase;
pub(crate) use pareto::Pareto;
pub(crate) use saving::{Pays, Saving};
pub(crate) use tornado::{Input, Swing};

use crate::decide::{Bill, CompareResult, Effort, Passes, UnitCost};
use crate::study::Cost;

/// All candidates of a comparison with the costs of their good units; the first design is the study itself.
#[derive(Clone, Debug)]
pub(crate) struct CostResult {
    /// The candidates, which all have a yield.
    pub compared: CompareResult,
    /// Prices, `[design]`.
    pub costs: Vec<Cost>,
    /// Effort for each unit, `[candidate]`.
    pub efforts: Vec<Effort>,
    /// Cost of a good unit, `[candidate]`.
    pub priced: Vec<UnitCost>,
}

/// A step from one candidate to another that takes more bench time.
#[derive(Clone, Debug)]
pub(crate) struct CostStep {
    /// Number of the candidate where the step begins.
    pub from: usize,
    /// Number of the candidate where it ends.
    pub to: usize,
    /// Additional bench time, s.
    pub seconds: f64,
    /// What it saves on a good unit.
    pub saving: Saving,
}

impl CostResult {
    /// Prices all candidates; `None` where one has no yield.
    pub(crate) fn new(compared: CompareResult, costs: Vec<Cost>, efforts: Vec<Effort>) -> Option<CostResult> {
        let priced = |(number, effort): (usize, &Effort)| {
            let cost = &costs[compared.candidates[number].design];
            Some(UnitCost::of(cost, effort, compared.yield_of(number)?))
        };
        let priced: Option<Vec<UnitCost>> = efforts.iter().enumerate().map(priced).collect();
        Some(CostResult { priced: priced?, compared, costs, efforts })
    }

    /// Numbers of all candidates.
    pub(crate) fn all(&self) -> std::ops::Range<usize> {
        0..self.priced.len()
    }

    /// Numbers of the candidates of a design.
    pub(crate) fn of_design(&self, design: usize) -> impl Iterator<Item = usize> + '_ {
        self.all().filter(move |of| self.compared.candidates[*of].design == design)
    }

    /// The prices of a candidate.
    pub(crate) fn cost(&self, candidate: usize) -> &Cost {
        &self.costs[self.compared.candidates[candidate].design]
    }

    /// Cost of a good unit of a candidate; infinite where none is good.
    pub(crate) fn total(&self, candidate: usize) -> f64 {
        self.priced[candidate].bill.map_or(f64::INFINITY, |bill| bill.total())
    }

    /// The cheapest of some candidates, of equals the first; `None` where none has a good unit.
    pub(crate) fn cheapest_of(&self, candidates: impl Iterator<Item = usize>) -> Option<usize> {
        let good = candidates.filter(|of| self.priced[*of].bill.is_some());
        good.min_by(|a, b| self.total(*a).total_cmp(&self.total(*b)))
    }

    /// The cheapest of all.
    pub(crate) fn cheapest(&self) -> Option<usize> {
        self.cheapest_of(self.all())
    }

    /// Saving on a good unit of a candidate over another, on the same units; `None` where one has no good unit.
    pub(crate) fn saves(&self, candidate: usize, other: usize) -> Option<Saving> {
        let pairs = self.verdicts(candidate).beside(self.verdicts(other));
        let (mine, theirs) = (&self.priced[candidate], &self.priced[other]);
        let amount = mine.saves(theirs, &pairs)?;
        let set_up = |of: usize| {
            let effort = &self.efforts[of];
            self.cost(of).set_up(&effort.calibration, effort.calibrates)
        };
        let once = mine.bill?.set_up - theirs.bill?.set_up;
        Some(Saving { amount, once, extra: set_up(candidate) - set_up(other), pairs })
    }

    /// Which units of a candidate are good: after rework, where parts are replaced and that is cheaper.
    fn verdicts(&self, candidate: usize) -> &Passes {
        let reworks = self.priced[candidate].bill.is_some_and(|bill| bill.reworks);
        match &self.efforts[candidate].mended {
            Some(mended) if reworks => &mended.passes,
            _ => self.compared.passes(candidate),
        }
    }

    /// What each further step of bench time saves in a design, each from the last plan that saved something. Empty where the bench
    /// takes no time.
    pub(crate) fn steps(&self, design: usize) -> Vec<CostStep> {
        let mut order: Vec<usize> = self.of_design(design).collect();
        order.sort_by(|a, b| self.compared.seconds(*a).total_cmp(&self.compared.seconds(*b)));
        if order.iter().all(|of| self.compared.seconds(*of) == 0.0) {
            return Vec::new();
        }
        self.climb(order)
    }

    /// Steps through candidates in order, each from the last that saved something; it skips candidates without a good unit.
    fn climb(&self, order: Vec<usize>) -> Vec<CostStep> {
        let mut steps = Vec::new();
        let mut order = order.into_iter().filter(|of| self.priced[*of].bill.is_some());
        let Some(mut from) = order.next() else { return steps };
        for to in order {
            let Some(saving) = self.saves(to, from) else { continue };
            let seconds = self.compared.seconds(to) - self.compared.seconds(from);
            let step = CostStep { from, to, seconds, saving };
            if step.saving.pays_off() {
                from = to;
            }
            steps.push(step);
        }
        steps
    }

    /// The bills of all candidates with other prices, `[design]`, and another yield where one is given.
    fn bills(&self, costs: &[Cost], share: impl Fn(usize) -> f64) -> Vec<Option<Bill>> {
        let bill =
            |of: usize| Bill::of(&costs[self.compared.candidates[of].design], &self.efforts[of], share(of));
        self.all().map(bill).collect()
    }

    /// The estimated yield.
    fn share(&self, candidate: usize) -> f64 {
        self.compared.yield_of(candidate).map_or(0.0, |share| share.value)
    }
}

#[cfg(test)]
mod tests;
