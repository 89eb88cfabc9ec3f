//! What a good unit costs: the sum of what each unit takes, over those that come out good.

use crate::engine::CalibrationSummary;
use crate::plan::Plan;
use crate::stats::{Estimate, Pairs};
use crate::study::Cost;

/// What is done for each unit that is built, whatever it costs.
#[derive(Clone, Debug, PartialEq)]
pub struct Effort {
    /// Channels.
    pub channels: usize,
    /// Time at the gauge for the parts of a unit, s.
    pub gauge_seconds: f64,
    /// Parts turned away for those of a unit, by inspected source.
    pub turned_away: Vec<(String, f64)>,
    /// Mean time on the bench, s.
    pub bench_seconds: f64,
    /// Standard error of that.
    pub bench_error: f64,
    /// Name of the calibration plan.
    pub calibration: String,
    /// Whether it does anything at all.
    pub calibrates: bool,
}

/// What a good unit costs, by what it is paid for; the currency is the study's.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bill {
    /// Its parts.
    pub parts: f64,
    /// Parts that were turned away for it.
    pub turned_away: f64,
    /// Time at the gauge.
    pub gauge: f64,
    /// Time on the bench.
    pub bench: f64,
    /// Attempts to mend units that failed.
    pub rework: f64,
    /// What the units that are scrapped for it had cost, less what they bring.
    pub scrap: f64,
    /// Its part of what is paid once.
    pub set_up: f64,
    /// Good units of each that is built, those mended included.
    pub good: f64,
    /// Bench time for each good unit, that of failed ones and of rework included, s.
    pub bench_seconds: f64,
    /// Whether units that fail are reworked: where that is allowed and cheaper than scrapping them.
    pub reworks: bool,
}

/// A cost with its interval.
#[derive(Clone, Debug)]
pub struct Priced {
    /// At the yield found; `None` where no unit passed.
    pub bill: Option<Bill>,
    /// Cost of a good unit, from the yield's interval and that of the bench time; the high end is infinite where the yield's low end is 0
    /// and nothing is reworked.
    pub total: Option<Estimate>,
}

impl Effort {
    /// Of a calibration plan.
    pub fn of(plan: &Plan, calibration: usize, summary: &CalibrationSummary) -> Effort {
        let _ = (plan, calibration, summary);
        unimplemented!()
    }
}

impl Bill {
    /// Of an effort at a yield above 0.
    pub fn of(cost: &Cost, effort: &Effort, share: f64) -> Bill {
        let _ = (cost, effort, share);
        unimplemented!()
    }

    /// All of it.
    pub fn total(&self) -> f64 {
        self.parts + self.turned_away + self.gauge + self.bench + self.rework + self.scrap + self.set_up
    }
}

impl Priced {
    /// Of an effort at an estimated yield.
    pub fn of(cost: &Cost, effort: &Effort, share: &Estimate) -> Priced {
        let _ = (cost, effort, share);
        unimplemented!()
    }

    /// What a good unit costs less than after another way to make it, on the same units: `pairs` has this one's verdicts first.
    pub fn saves(&self, other: &Priced, pairs: &Pairs) -> Option<Estimate> {
        let _ = (other, pairs);
        unimplemented!()
    }
}
