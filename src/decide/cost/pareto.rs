//! Dominated candidates: another takes no more and yields no less.

use crate::decide::CostResult;
use std::cmp::Ordering;

/// The quantity against which the Pareto front sets the yield.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pareto {
    /// Bench time of a unit, among the plans of one design.
    Minutes,
    /// Cost of a good unit, among all.
    Cost,
}

impl CostResult {
    /// For each candidate, another that dominates it: it takes no more, and its yield is not shown to be lower. `None` for candidates on
    /// the front. Of several, the one with the cheapest good units, from those on the front if any is.
    pub(crate) fn dominated(&self, pareto: Pareto) -> Vec<Option<usize>> {
        let all: Vec<Vec<usize>> = self.all().map(|of| self.dominators(of, pareto)).collect();
        let best = |of: &Vec<usize>| {
            let on_front = of.iter().copied().filter(|other| all[*other].is_empty());
            let least = |of: &mut dyn Iterator<Item = usize>| {
                of.min_by(|a, b| self.total(*a).total_cmp(&self.total(*b)))
            };
            least(&mut on_front.into_iter()).or_else(|| least(&mut of.iter().copied()))
        };
        all.iter().map(best).collect()
    }

    fn dominators(&self, candidate: usize, pareto: Pareto) -> Vec<usize> {
        let design = |of: usize| self.compared.candidates[of].design;
        let takes = |of: usize| match pareto {
            Pareto::Minutes => self.compared.seconds(of),
            Pareto::Cost => self.total(of),
        };
        let is_rival =
            |of: &usize| *of != candidate && (pareto == Pareto::Cost || design(*of) == design(candidate));
        let dominates = |of: &usize| match takes(*of).total_cmp(&takes(candidate)) {
            Ordering::Greater => false,
            _ if self.is_shown_higher(candidate, *of) => false,
            Ordering::Less => true,
            // Of two that take the same and whose yields do not differ significantly, one has to stay.
            Ordering::Equal => {
                let (other, own) = (self.share(*of), self.share(candidate));
                other > own || other == own && *of < candidate
            }
        };
        self.all().filter(is_rival).filter(dominates).collect()
    }

    /// Whether the units show the yield of a candidate to be above that of another.
    fn is_shown_higher(&self, candidate: usize, other: usize) -> bool {
        self.compared.yield_difference(candidate, other).is_some_and(|of| of.difference.low > 0.0)
    }
}
