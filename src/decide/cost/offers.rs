//! What other parts that could be bought come to, and what they may cost.

use crate::decide::{Bill, Costed, Saving};
use crate::stats::Estimate;

/// An offer by its cheapest plan, beside the study by its own.
#[derive(Clone, Debug)]
pub struct OfferCase {
    /// Number of its design.
    pub design: usize,
    /// Its cheapest candidate.
    pub candidate: usize,
    /// The cheapest candidate of the study.
    pub own: usize,
    /// What a good unit costs less by the offer.
    pub saving: Saving,
    /// What the parts of one channel may cost at most for the offer to pay; below 0 where it pays at no price.
    pub most: Estimate,
}

impl Costed {
    /// All offers of which a unit is good, those that save most first; none where the study itself makes no good unit.
    pub fn offers(&self) -> Vec<OfferCase> {
        let Some(own) = self.cheapest_of(self.of_design(0)) else { return Vec::new() };
        let case = |design: usize| {
            let candidate = self.cheapest_of(self.of_design(design))?;
            let saving = self.saves(candidate, own)?;
            Some(OfferCase { design, candidate, own, saving, most: self.most_a_channel(design, own)? })
        };
        let mut cases: Vec<OfferCase> = (1..self.costs.len()).filter_map(case).collect();
        cases.sort_by(|a, b| b.saving.amount.value.total_cmp(&a.saving.amount.value));
        cases
    }

    /// The price of a channel at which the cheapest plan of a design costs what another candidate does.
    ///
    /// The cost is a straight line in that price for each plan and each thing that can be done with units that fail: its slope is the
    /// channels over the share that comes out good. The offer pays as long as one of the lines is below.
    fn most_a_channel(&self, design: usize, own: usize) -> Option<Estimate> {
        let cost = &self.costs[design];
        let lines = self.of_design(design).flat_map(|of| {
            let ways = Bill::ways(cost, &self.efforts[of], self.share(of));
            ways.into_iter().flatten().map(move |bill| (of, bill))
        });
        let price = |(of, bill): (usize, Bill)| {
            let a_channel = bill.good / self.efforts[of].channels as f64;
            let value = cost.channel.value + (self.total(own) - bill.total()) * a_channel;
            let saved = self.saves(of, own)?.amount;
            let end = |end: f64| value + (end - saved.value) * a_channel;
            Some(Estimate { value, low: end(saved.low), high: end(saved.high), ..saved })
        };
        lines.filter_map(price).max_by(|a, b| a.value.total_cmp(&b.value))
    }
}
