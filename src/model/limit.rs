//! A line of the spec at one beam and one frequency.

use crate::study::Bound;

/// A bound on one column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Limit {
    /// Number of the column it bounds.
    pub column: usize,
    /// The bound, in the unit of the figure.
    pub bound: Bound,
    /// True when the bound is on the size of a signed figure.
    pub on_size: bool,
    /// Number of the study's limit it comes from.
    pub of: usize,
}

impl Limit {
    /// Whether a value meets the limit; a value that is no number does not.
    pub(crate) fn is_met_by(&self, value: f64) -> bool {
        let value = if self.on_size { value.abs() } else { value };
        match self.bound {
            Bound::AtMost(most) => value <= most,
            Bound::AtLeast(least) => value >= least,
        }
    }
}
