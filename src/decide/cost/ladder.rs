//! One calibration plan at several numbers of averages.

use crate::decide::{CostResult, CostStep};

/// A plan at several numbers of averages, on the same units.
#[derive(Clone, Debug)]
pub(crate) struct Ladder {
    /// Readings averaged into one, ascending, `[candidate]`.
    pub averages: Vec<u32>,
    /// Index of the plan as the study states it.
    pub own: usize,
    /// One candidate for each.
    pub costed: CostResult,
}

impl Ladder {
    /// Numbers of averages to try, beside the plan's own.
    const TRIED: [u32; 5] = [1, 2, 4, 8, 16];

    /// All numbers of averages to try, ascending.
    pub(crate) fn averages(own: u32) -> Vec<u32> {
        let mut averages = Ladder::TRIED.to_vec();
        averages.push(own);
        averages.sort_unstable();
        averages.dedup();
        averages
    }

    /// Savings by more averaging, each step from the last that saved something.
    pub(crate) fn steps(&self) -> Vec<CostStep> {
        self.costed.climb(self.costed.all().collect())
    }

    /// Index of the last candidate up to which more averaging is shown to save.
    pub(crate) fn pays_up_to(&self) -> Option<usize> {
        let last = self.steps().iter().rfind(|step| step.saving.pays_off()).map(|step| step.to);
        last.or_else(|| self.costed.all().find(|of| self.costed.priced[*of].bill.is_some()))
    }
}
