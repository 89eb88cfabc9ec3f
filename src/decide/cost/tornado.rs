//! Sensitivity of a cost, one input at a time: each at the ends of its range, all others as stated (a tornado chart).

use crate::decide::{Bill, CostResult};
use crate::study::Cost;

/// An input of a cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Input {
    /// A price, by its key in `[cost]`; with the number of the design where it is an offer's own.
    Price(String, Option<usize>),
    /// The yield of the candidate, at the ends of its interval.
    Yield,
}

/// The change of a cost with one input.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Swing {
    /// The input.
    pub input: Input,
    /// The ends of its range.
    pub ends: [f64; 2],
    /// Cost of a good unit at either end; infinite where none is good.
    pub costs: [f64; 2],
    /// Another candidate that is the cheapest at either end.
    pub instead: [Option<usize>; 2],
}

impl Swing {
    /// Difference of the two costs, absolute.
    pub(crate) fn width(&self) -> f64 {
        (self.costs[1] - self.costs[0]).abs()
    }
}

impl CostResult {
    /// The swings of a candidate's cost, the widest first: of every price that has a range and changes something, and of the yield.
    pub(crate) fn tornado(&self, candidate: usize) -> Vec<Swing> {
        let mut swings: Vec<Swing> = Vec::new();
        for (input, ends) in self.ranges() {
            let bills = ends.map(|end| self.bills(&self.priced_at(&input, end), |of| self.share(of)));
            swings.push(self.swing(candidate, input, ends, bills));
        }
        if let Some(share) = self.compared.yield_of(candidate) {
            let ends = [share.low, share.high];
            let own = |end: f64| move |of: usize| if of == candidate { end } else { self.share(of) };
            let bills = ends.map(|end| self.bills(&self.costs, own(end)));
            swings.push(self.swing(candidate, Input::Yield, ends, bills));
        }
        swings.retain(|swing| swing.width() != 0.0 || swing.instead != [None, None]);
        swings.sort_by(|a, b| b.width().total_cmp(&a.width()));
        swings
    }

    /// Every price with a range: those of the study, and those that an offer has of its own.
    fn ranges(&self) -> Vec<(Input, [f64; 2])> {
        let mut found = Vec::new();
        for (design, cost) in self.costs.iter().enumerate() {
            for (key, price) in cost.clone().prices_mut() {
                let Some((from, to)) = price.range else { continue };
                let is_studys =
                    design > 0 && self.costs[0].clone().prices_mut().contains(&(key.clone(), price));
                if !is_studys {
                    found.push((Input::Price(key, (design > 0).then_some(design)), [from, to]));
                }
            }
        }
        found
    }

    /// All prices with one at another value, in every design that takes it from the same table.
    fn priced_at(&self, input: &Input, value: f64) -> Vec<Cost> {
        let mut costs = self.costs.clone();
        let Input::Price(key, design) = input else { return costs };
        let found =
            |cost: &mut Cost| cost.prices_mut().into_iter().find(|of| of.0 == *key).map(|(_, price)| *price);
        let stated = found(&mut costs[design.unwrap_or(0)]);
        for (number, cost) in costs.iter_mut().enumerate() {
            let is_meant = design.is_none_or(|of| of == number);
            for (_, price) in cost.prices_mut().into_iter().filter(|of| of.0 == *key && is_meant) {
                if Some(&*price) == stated.as_ref() {
                    price.value = value;
                }
            }
        }
        costs
    }

    fn swing(&self, candidate: usize, input: Input, ends: [f64; 2], bills: [Vec<Option<Bill>>; 2]) -> Swing {
        let total = |bill: &Option<Bill>| bill.map_or(f64::INFINITY, |bill| bill.total());
        let instead = |bills: &Vec<Option<Bill>>| {
            let mut all =
                bills.iter().map(total).enumerate().filter(|(_, cost)| *cost < total(&bills[candidate]));
            let first = all.next()?;
            Some(all.fold(first, |best, next| if next.1 < best.1 { next } else { best }).0)
        };
        Swing {
            input,
            ends,
            costs: [total(&bills[0][candidate]), total(&bills[1][candidate])],
            instead: [instead(&bills[0]), instead(&bills[1])],
        }
    }
}
