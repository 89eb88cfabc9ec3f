//! Good units of a bench, and the number of benches for a year's units.

use crate::decide::{Bill, CostResult};
use crate::stats::Estimate;

/// Throughput of one bench, and the benches for a year's units.
#[derive(Clone, Debug)]
pub(crate) struct Throughput {
    /// Good units of one bench on one day, with the time of failed units and of rework.
    pub a_day: Estimate,
    /// Benches for the units of a year.
    pub benches: u64,
    /// The same at the ends of the yield's interval, the higher yield first; `None` where no number is enough.
    pub within: [Option<u64>; 2],
}

impl CostResult {
    /// Throughput of a candidate; `None` where its bench takes no time, or no unit is good.
    pub(crate) fn throughput(&self, candidate: usize) -> Option<Throughput> {
        let (cost, effort) = (self.cost(candidate), &self.efforts[candidate]);
        let share = self.compared.yield_of(candidate)?;
        let a_day = |share: f64| {
            let bill = Bill::of(cost, effort, share).filter(|bill| bill.bench_seconds > 0.0);
            bill.map_or(0.0, |bill| cost.bench_day / bill.bench_seconds)
        };
        let benches = |a_day: f64| {
            // Room for rounding, so that a number that just suffices is not rounded up.
            let benches = (cost.units_a_year / (a_day * cost.days_a_year) * (1.0 - 1e-12)).ceil();
            benches.is_finite().then_some(benches as u64)
        };
        let (value, ends) = (a_day(share.value), [a_day(share.low), a_day(share.high)]);
        // Where failed units are mended at one end and scrapped at the other, the bench may be slower at the higher yield.
        let (low, high) = (ends[0].min(ends[1]).min(value), ends[0].max(ends[1]).max(value));
        Some(Throughput {
            benches: benches(value).filter(|_| value > 0.0)?,
            within: [benches(high), benches(low)],
            a_day: Estimate { value, low, high, ..share.clone() },
        })
    }
}
