//! Why numbers are those of no distribution.

use thiserror::Error;

/// Why numbers give no distribution, and what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub(crate) enum InvalidDistribution {
    /// A size is negative or not finite.
    #[error("the {what} must be finite and not negative")]
    Size {
        /// What it is the size of, such as "half width".
        what: &'static str,
    },
    /// A size is zero where nothing would be left.
    #[error("the {what} must be above zero")]
    Zero {
        /// What it is the size of.
        what: &'static str,
    },
    /// A number is beyond its bounds, or none.
    #[error("{what} must be from {from} to {to}")]
    Beyond {
        /// The number, with its article.
        what: &'static str,
        /// The smallest that it can be.
        from: f64,
        /// The largest.
        to: f64,
    },
    /// A number that may have either sign is not finite.
    #[error("{what} must be finite")]
    NotFinite {
        /// The number, with its article.
        what: &'static str,
    },
    /// Two ends are not in order.
    #[error("the lower end must be below the upper one")]
    Ends,
    /// A share would leave nothing of one of two kinds of parts.
    #[error("the share of the first part must be above none and below all")]
    Share,
    /// A factor has no nominal value to multiply.
    #[error("a log-normal distribution is a factor on a nominal value, which must not be zero")]
    ZeroNominal,
    /// Too few parts were measured.
    #[error("{found} parts are too few for a distribution; at least {fewest}")]
    TooFewParts {
        /// Parts that were measured.
        found: usize,
        /// Fewest that can be.
        fewest: usize,
    },
    /// An acceptance has no limit, or nothing is within it.
    #[error("the acceptance needs a limit, and the lower one below the upper one")]
    Acceptance,
    /// A gauge's numbers are not finite, or its standard deviation is negative.
    #[error("the gauge's bias and sd must be finite, the sd not negative")]
    Gauge,
    /// An inspection takes next to nothing.
    #[error("hardly a {what} in a million passes this inspection")]
    NothingPasses {
        /// What it inspects: "part" or "lot".
        what: &'static str,
    },
}

/// `value` if it can be a size; NaN cannot.
pub(super) fn size(what: &'static str, value: f64) -> Result<f64, InvalidDistribution> {
    if value >= 0.0 && value.is_finite() { Ok(value) } else { Err(InvalidDistribution::Size { what }) }
}

/// `value` if it is within two bounds; NaN is not.
pub(super) fn within(what: &'static str, value: f64, from: f64, to: f64) -> Result<f64, InvalidDistribution> {
    if (from..=to).contains(&value) { Ok(value) } else { Err(InvalidDistribution::Beyond { what, from, to }) }
}

/// `value` if it is finite.
pub(super) fn finite(what: &'static str, value: f64) -> Result<f64, InvalidDistribution> {
    if value.is_finite() { Ok(value) } else { Err(InvalidDistribution::NotFinite { what }) }
}
