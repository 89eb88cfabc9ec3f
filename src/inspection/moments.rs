//! Mean and standard deviation of the parts before and behind an inspection.

use crate::math::scalar;
use crate::random::{Distribution, Inspected};

/// Mean and standard deviation of the delivered parts, over all lots.
pub(crate) fn delivered_moments(of: &Inspected) -> (f64, f64) {
    moments(&of.delivered, of.lot.as_ref())
}

/// The same of the accepted parts.
pub(crate) fn accepted_moments(of: &Inspected) -> (f64, f64) {
    let taken_lots = of.taken_lots.clone().map(Distribution::Sampled);
    moments(&of.accepted, taken_lots.as_ref().or(of.lot.as_ref()))
}

/// Mean and standard deviation of a distribution and another that adds to it.
fn moments(of: &Distribution, and: Option<&Distribution>) -> (f64, f64) {
    let (mean, sd) = and.map_or((0.0, 0.0), |and| (and.mean(), and.sd()));
    (of.mean() + mean, scalar::hypot(of.sd(), sd))
}
