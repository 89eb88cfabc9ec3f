//! How well a sampling plan separates good lots from bad ones.

use crate::inspection::Lots;
use crate::random::Sampling;

/// Points of the curve.
const POINTS: u32 = 40;

/// The curve ends where a lot is accepted with this probability.
const LEAST: f64 = 0.001;

/// The operating characteristic of a sampling plan.
#[derive(Clone, Debug)]
pub(crate) struct Operating {
    /// The plan.
    pub sampling: Sampling,
    /// Probability of acceptance, and the share of failing parts of a lot with that probability.
    pub marks: [(f64, f64); 3],
    /// Share of failing parts, and the probability that such a lot is accepted.
    pub curve: Vec<(f64, f64)>,
    /// Share of the delivered parts that fail.
    pub delivered: f64,
    /// Probability that a delivered lot is accepted; over all lots, where they differ.
    pub taken: f64,
    /// Share of nonconforming parts in accepted lots.
    pub escapes: f64,
}

impl Operating {
    /// Of a sampling plan, for parts of which the share `delivered` fails at the gauge, and for their lots.
    pub(crate) fn of(sampling: Sampling, delivered: f64, lots: Lots) -> Operating {
        let last = sampling.quality(LEAST);
        let qualities = (0..=POINTS).map(|i| last * f64::from(i) / f64::from(POINTS));
        Operating {
            sampling,
            marks: [0.95, 0.5, 0.1].map(|probability| (probability, sampling.quality(probability))),
            curve: qualities.map(|quality| (quality, sampling.accepts(quality))).collect(),
            delivered,
            taken: lots.taken,
            escapes: lots.escapes,
        }
    }
}
