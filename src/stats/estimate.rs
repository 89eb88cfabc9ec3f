//! The form in which a statistic is passed on.

/// A value with the interval that holds the truth at the stated confidence.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
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
