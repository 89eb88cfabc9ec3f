//! What parts and minutes cost.

use std::collections::BTreeMap;

/// Prices, in the study's currency, and what is done with units that fail.
#[derive(Clone, Debug)]
pub struct Cost {
    /// What prices are in: a label, nothing is converted.
    pub currency: String,
    /// Good units that are due in a year.
    pub units_a_year: f64,
    /// Parts of one channel, as they are built in.
    pub channel: Price,
    /// Parts of a unit beside those of its channels.
    pub unit: Price,
    /// What one part that is turned away costs, by the source that is inspected; [`Cost::EVERY`] for those not named.
    pub rejected_part: BTreeMap<String, Price>,
    /// A minute at the gauge.
    pub gauge_minute: Price,
    /// A minute on the bench.
    pub bench_minute: Price,
    /// What it takes once to have a calibration plan, by plan; [`Cost::EVERY`] for those not named. Nothing for plans that do nothing.
    pub set_up: BTreeMap<String, Price>,
    /// What a unit that is scrapped still brings.
    pub recovered: Price,
    /// What can be done with a unit that fails, beside scrapping it.
    pub rework: Option<Rework>,
    /// Hours that a bench works in a day, s.
    pub bench_day: f64,
    /// Days that it works in a year.
    pub days_a_year: f64,
}

/// One attempt to mend a unit that fails; one that fails again is scrapped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rework {
    /// The share of the attempts that end with a good unit.
    pub success: Price,
    /// Bench time of an attempt, s.
    pub seconds: f64,
    /// Parts that an attempt takes.
    pub parts: Price,
}

/// A number that the cost rests on, and between which it may lie where that is stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Price {
    /// The number that is reckoned with.
    pub value: f64,
    /// The lowest and the highest that it may be.
    pub range: Option<(f64, f64)>,
}

impl Cost {
    /// Key of what is not named.
    pub const EVERY: &'static str = "";
}
