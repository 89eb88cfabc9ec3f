//! One plan with more and fewer readings averaged.

use crate::decide::{CostStep, Costed};

/// A plan at several numbers of averages, on the same units.
#[derive(Clone, Debug)]
pub struct Ladder {
    /// Readings averaged for each one used, ascending, `[candidate]`.
    pub averages: Vec<u32>,
    /// Place of the plan as it is stated.
    pub own: usize,
    /// One candidate for each.
    pub costed: Costed,
}

impl Ladder {
    /// Numbers of averages that are tried, beside the plan's own.
    const TRIED: [u32; 5] = [1, 2, 4, 8, 16];

    /// The numbers of averages to try for a plan with its own, ascending.
    pub fn averages(own: u32) -> Vec<u32> {
        let mut averages = Ladder::TRIED.to_vec();
        averages.push(own);
        averages.sort_unstable();
        averages.dedup();
        averages
    }

    /// What more averaging saves, each step from the last that saved something.
    pub fn steps(&self) -> Vec<CostStep> {
        self.costed.climb(self.costed.all().collect())
    }

    /// The place up to which more averaging is shown to save.
    pub fn pays_up_to(&self) -> Option<usize> {
        let last = self.steps().iter().rfind(|step| step.saving.pays_off()).map(|step| step.to);
        last.or_else(|| self.costed.all().find(|of| self.costed.priced[*of].bill.is_some()))
    }
}
