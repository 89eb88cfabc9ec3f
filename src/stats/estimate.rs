//! The form in which a statistic is passed on.

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize};

/// A value with the interval that holds the truth at the stated confidence.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// The estimated value.
    pub value: f64,
    /// The lower end of the interval.
    pub low: f64,
    /// The upper end of the interval.
    pub high: f64,
    /// The confidence that the interval has at least.
    pub confidence: f64,
    /// How the interval was made.
    pub method: &'static str,
    /// How many observations it rests on.
    pub count: u64,
}

impl Estimate {
    /// The estimate of the value with the other sign.
    pub fn negated(&self) -> Estimate {
        Estimate { value: -self.value, low: -self.high, high: -self.low, ..self.clone() }
    }
}

/// Ways to make the interval of a share, a mean or a quantile.
pub(super) const CLOPPER_PEARSON: &str = "Clopper-Pearson";
pub(super) const CLOPPER_PEARSON_BY_LOTS: &str = "Clopper-Pearson, by lots";
pub(super) const ORDER_STATISTICS: &str = "order statistics";
pub(super) const ORDER_STATISTICS_BY_LOTS: &str = "order statistics, by lots";
pub(super) const RANGE: &str = "range of all values (too few for the confidence asked)";
pub(super) const RANGE_BY_LOTS: &str = "range of all values (too few lots for the confidence asked)";

/// An estimate as it is read.
#[derive(Deserialize)]
struct Written {
    value: f64,
    low: f64,
    high: f64,
    confidence: f64,
    method: String,
    count: u64,
}

impl<'de> Deserialize<'de> for Estimate {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Estimate, D::Error> {
        let Written { value, low, high, confidence, method, count } = Written::deserialize(from)?;
        let of_shares = [CLOPPER_PEARSON, CLOPPER_PEARSON_BY_LOTS];
        let of_values = [ORDER_STATISTICS, ORDER_STATISTICS_BY_LOTS, RANGE, RANGE_BY_LOTS];
        let known = of_shares.into_iter().chain(of_values).find(|of| *of == method);
        let method = known.ok_or_else(|| D::Error::custom(format!("`{method}` makes no interval")))?;
        Ok(Estimate { value, low, high, confidence, method, count })
    }
}
