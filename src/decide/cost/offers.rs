//! Offers of other parts: what each saves, and the most that its parts may cost.

use crate::decide::{Bill, CostResult, Saving};
use crate::stats::Estimate;

/// An offer with its cheapest plan, beside the study with its own.
#[derive(Clone, Debug)]
pub(crate) struct OfferCase {
    /// Number of its design.
    pub design: usize,
    /// Its cheapest candidate.
    pub candidate: usize,
    /// The cheapest candidate of the study.
    pub own: usize,
    /// What the offer saves on a good unit.
    pub saving: Saving,
    /// Price of the parts of one channel below which the offer pays; negative where it pays at no price.
    pub most: Estimate,
}

impl CostResult {
    /// All offers with a good unit, the largest saving first; none where the study itself has no good unit.
    pub(crate) fn offers(&self) -> Vec<OfferCase> {
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

    /// The price of a channel at which the cheapest plan of a design costs as much as another candidate.
    ///
    /// For each plan, with failing units scrapped or reworked, the cost is a straight line in that price: its slope is the number of
    /// channels over the share of good units. The offer pays as long as one of the lines is below. Own derivation.
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
