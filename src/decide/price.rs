//! The cost of a good unit: the cost of all units built, over the good ones.

use crate::decide::ReworkResult;
use crate::engine::CalibrationSummary;
use crate::inspection;
use crate::math::normal;
use crate::model::Model;
use crate::stats::{Estimate, Pairs, student};
use crate::study::{Cost, Rework, Success};

/// The effort for each unit built, without prices.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Effort {
    /// Channels.
    pub channels: usize,
    /// Time at the gauge for the parts of a unit, s.
    pub gauge_seconds: f64,
    /// Parts turned away for each unit, by inspected source.
    pub turned_away: Vec<(String, f64)>,
    /// Mean time on the bench, s.
    pub bench_seconds: f64,
    /// Standard error of that; by lots, widened by Student's t over the normal deviate.
    pub bench_error: f64,
    /// Name of the calibration plan.
    pub calibration: String,
    /// Whether it calibrates at all.
    pub calibrates: bool,
    /// Rework of units that fail, where their parts are replaced.
    pub mended: Option<ReworkResult>,
}

/// Effort and success of reworking a unit that fails.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Mending {
    /// Share of the failing units that is good in the end.
    success: f64,
    /// Attempts for each of them.
    attempts: f64,
    /// Bench time for each of them, s.
    seconds: f64,
}

/// The cost of a good unit by item; the currency is the study's.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Bill {
    /// Its parts.
    pub parts: f64,
    /// Parts turned away.
    pub turned_away: f64,
    /// Time at the gauge.
    pub gauge: f64,
    /// Time on the bench.
    pub bench: f64,
    /// Rework of units that failed.
    pub rework: f64,
    /// Cost of scrapped units, less the value recovered.
    pub scrap: f64,
    /// Its part of the one-time payments.
    pub set_up: f64,
    /// Good units for each unit built, reworked ones included.
    pub good: f64,
    /// Bench time for each good unit, including failed units and rework, s.
    pub bench_seconds: f64,
    /// Whether units that fail are reworked: the study allows it, and it is cheaper than scrap.
    pub reworks: bool,
}

/// A cost with its interval.
#[derive(Clone, Debug)]
pub(crate) struct UnitCost {
    /// At the estimated yield; `None` where no unit is good.
    pub bill: Option<Bill>,
    /// Cost of a good unit, from the yield's interval and that of the bench time; the high end is infinite where the yield's low end is 0
    /// and nothing is reworked. `None` where there is no bill.
    pub total: Option<Estimate>,
    /// The same at the ends of the yield's interval alone.
    by_yield: (f64, f64),
    /// Half-width from the interval of the bench time.
    by_bench: f64,
}

impl Effort {
    /// Of a calibration plan.
    pub(crate) fn of(model: &Model, calibration: usize, summary: &CalibrationSummary) -> Effort {
        let inspected =
            model.sources.list().iter().filter_map(|source| Some((source, source.inspected.as_deref()?)));
        let (mut turned_away, mut gauge_seconds) = (Vec::new(), 0.0);
        for (source, of) in inspected {
            let parts = source.groups as f64;
            turned_away.push((source.name.clone(), parts * inspection::turned_away(of, source.slots)));
            gauge_seconds += parts * inspection::gauged(of, source.slots) * of.inspection.seconds;
        }
        let lots =
            summary.bench_seconds.lots.map_or(1.0, |lots| student::widening(model.confidence, lots.count));
        let error = summary.bench_seconds.standard_error() * lots;
        Effort {
            channels: model.channels(),
            gauge_seconds,
            turned_away,
            bench_seconds: summary.bench_seconds.mean,
            // One unit has none, nor has one lot.
            bench_error: if error.is_finite() { error } else { 0.0 },
            calibration: model.calibrations[calibration].name.clone(),
            calibrates: !model.calibrations[calibration].is_none(),
            mended: None,
        }
    }

    /// Rework of a unit that fails; `None` where it is simulated and no unit built failed.
    fn mending(&self, rework: &Rework) -> Option<Mending> {
        match (&rework.success, &self.mended) {
            (Success::Stated(share), _) => {
                Some(Mending { success: share.value, attempts: 1.0, seconds: rework.seconds })
            }
            (Success::Replacing(_), Some(mended)) => {
                let attempts = mended.attempts_each()?;
                let seconds = attempts * rework.seconds + mended.seconds_each()?;
                Some(Mending { success: mended.success()?, attempts, seconds })
            }
            (Success::Replacing(_), None) => None,
        }
    }

    /// Share of the failing units that rework mends, from the shares of all units that pass at first and are good in the end.
    fn success_at(share: f64, good: f64) -> f64 {
        if share < 1.0 { ((good - share) / (1.0 - share)).clamp(0.0, 1.0) } else { 1.0 }
    }
}

impl Bill {
    /// Of an effort at a yield; `None` where no unit is good.
    ///
    /// Each unit built costs B, its parts, inspection and bench time, whether it passes or not. Of those that fail, 1 - Y, all are
    /// scrapped, or all are reworked for R each and the share s of them passes: G = Y + (1 - Y) s units are good, and the rest
    /// recovers some value. So a good unit costs (B + (1 - Y) R - (1 - G) recovered)/G, plus its part of the one-time payments. Units are
    /// reworked where that is cheaper. With a stated success R is that of one attempt; where parts are replaced, s and R are those of the
    /// simulated attempts: their parts, their time, and the bench time of the new calibration. Own derivation.
    pub(crate) fn of(cost: &Cost, effort: &Effort, share: f64) -> Option<Bill> {
        Bill::mending(cost, effort, share, None)
    }

    /// The same where another share of the failing units is mended.
    fn mending(cost: &Cost, effort: &Effort, share: f64, success: Option<f64>) -> Option<Bill> {
        let [scrapped, reworked] = Bill::ways_mending(cost, effort, share, success);
        match (scrapped, reworked) {
            (Some(scrapped), Some(reworked)) if reworked.total() < scrapped.total() => Some(reworked),
            (None, reworked) => reworked,
            (scrapped, _) => scrapped,
        }
    }

    /// With every unit that fails scrapped, and with every one reworked where that is allowed.
    pub(super) fn ways(cost: &Cost, effort: &Effort, share: f64) -> [Option<Bill>; 2] {
        Bill::ways_mending(cost, effort, share, None)
    }

    fn ways_mending(cost: &Cost, effort: &Effort, share: f64, success: Option<f64>) -> [Option<Bill>; 2] {
        let reworked = cost.rework.as_ref().and_then(|rework| {
            let mending = effort.mending(rework)?;
            let mending = Mending { success: success.unwrap_or(mending.success), ..mending };
            Bill::with(cost, effort, share, Some((rework, mending)))
        });
        [Bill::with(cost, effort, share, None), reworked]
    }

    /// With every unit that fails scrapped, or reworked.
    fn with(cost: &Cost, effort: &Effort, share: f64, rework: Option<(&Rework, Mending)>) -> Option<Bill> {
        let failing = 1.0 - share;
        let good = share + rework.map_or(0.0, |(_, of)| failing * of.success);
        if good <= 0.0 {
            return None;
        }
        let minutes = |seconds: f64, price: f64| seconds / 60.0 * price;
        let parts = effort.channels as f64 * cost.channel.value + cost.unit.value;
        let rejected = |sum: f64, (of, parts): &(String, f64)| sum + parts * cost.rejected_part(of);
        let turned_away = effort.turned_away.iter().fold(0.0, rejected);
        let gauge = minutes(effort.gauge_seconds, cost.gauge_minute.value);
        let bench = minutes(effort.bench_seconds, cost.bench_minute.value);
        let built = parts + turned_away + gauge + bench;
        let attempts = rework.map_or(0.0, |(rework, of)| {
            minutes(of.seconds, cost.bench_minute.value) + of.attempts * rework.parts.value
        });
        let mending = rework.map_or(0.0, |(_, of)| failing * of.seconds);
        Some(Bill {
            parts,
            turned_away,
            gauge,
            bench,
            rework: failing * attempts / good,
            scrap: (built - cost.recovered.value) * (1.0 - good) / good,
            set_up: cost.set_up(&effort.calibration, effort.calibrates) / cost.units_a_year,
            good,
            bench_seconds: (effort.bench_seconds + mending) / good,
            reworks: rework.is_some(),
        })
    }

    /// Total of all items.
    pub(crate) fn total(&self) -> f64 {
        self.parts + self.turned_away + self.gauge + self.bench + self.rework + self.scrap + self.set_up
    }

    /// Total without one-time payments.
    #[cfg(test)]
    pub(crate) fn running(&self) -> f64 {
        self.total() - self.set_up
    }
}

impl UnitCost {
    /// Of an effort at an estimated yield.
    ///
    /// The cost falls as the yield rises (a scrapped unit brings no more than its parts cost), so the ends of the yield's interval become
    /// those of the cost. Where failing units get new parts the yield after rework is another estimate from the same units: its low end
    /// goes with that of the yield, as if both were fully correlated, so the interval is conservative. The standard error of the mean bench
    /// time is added in quadrature.
    pub(crate) fn of(cost: &Cost, effort: &Effort, share: &Estimate) -> UnitCost {
        let total = |bill: Option<Bill>| bill.map_or(f64::INFINITY, |bill| bill.total());
        let end = |share: f64, good: fn(&Estimate) -> f64| {
            let success = effort.mended.as_ref().map(|of| Effort::success_at(share, good(&of.good)));
            total(Bill::mending(cost, effort, share, success))
        };
        let bill = Bill::of(cost, effort, share.value);
        let value = total(bill);
        let by_yield =
            (end(share.high, |good| good.high).min(value), end(share.low, |good| good.low).max(value));
        let z = normal::quantile(0.5 + 0.5 * share.confidence);
        let good = bill.map_or(1.0, |bill| bill.good);
        let by_bench = z * effort.bench_error / 60.0 * cost.bench_minute.value / good;
        let total = bill.map(|_| Estimate {
            value,
            low: value - together(value - by_yield.0, by_bench),
            high: value + together(by_yield.1 - value, by_bench),
            confidence: share.confidence,
            method: match share.method {
                "Clopper-Pearson" => "Clopper-Pearson, mapped",
                _ => "Clopper-Pearson by lots, mapped",
            },
            count: share.count,
        });
        UnitCost { bill, total, by_yield, by_bench }
    }

    /// Saving on a good unit over another candidate, on the same units: `pairs` has this one's verdicts first. `None` where one of the two
    /// has no good unit.
    ///
    /// Zou & Donner, Statistics in Medicine 27 (2008), 1693-1702 (from memory): the half-widths of either cost's own interval in quadrature, less
    /// their covariance by the correlation of the verdicts. Bench times are taken as independent.
    pub(crate) fn saves(&self, other: &UnitCost, pairs: &Pairs) -> Option<Estimate> {
        let (mine, theirs) = (self.total.as_ref()?, other.total.as_ref()?);
        let value = theirs.value - mine.value;
        let shared = pairs.correlation();
        let bench = together(self.by_bench, other.by_bench);
        let miss = |one: f64, two: f64| {
            if one.is_infinite() || two.is_infinite() {
                return f64::INFINITY;
            }
            together((one * one + two * two - 2.0 * shared * one * two).max(0.0).sqrt(), bench)
        };
        let (below, above) = (mine.value - self.by_yield.0, self.by_yield.1 - mine.value);
        let (their_below, their_above) = (theirs.value - other.by_yield.0, other.by_yield.1 - theirs.value);
        Some(Estimate {
            value,
            low: value - miss(their_below, above),
            high: value + miss(their_above, below),
            confidence: mine.confidence,
            method: if pairs.lots.is_some() { "MOVER, paired, by lots" } else { "MOVER, paired" },
            count: pairs.count(),
        })
    }
}

/// Two independent half-widths in quadrature; exactly the other where one is 0.
fn together(one: f64, two: f64) -> f64 {
    match () {
        _ if two == 0.0 => one,
        _ if one == 0.0 => two,
        _ => (one * one + two * two).sqrt(),
    }
}

#[cfg(test)]
pub(in crate::decide) mod tests;
