//! What a sampling plan tells good lots from bad ones by.

use crate::inspection::Lots;
use crate::random::Sampling;

/// Points of the curve.
const POINTS: u32 = 40;

/// The curve ends where a lot is taken with this chance.
const LEAST: f64 = 0.001;

/// The operating characteristic of a sampling plan.
#[derive(Clone, Debug)]
pub struct Operating {
    /// The plan.
    pub sampling: Sampling,
    /// Chance to be taken, and the share of failing parts of a lot that has it.
    pub marks: [(f64, f64); 3],
    /// Share of failing parts, and the chance of such a lot to be taken.
    pub curve: Vec<(f64, f64)>,
    /// Share of the delivered parts that fails.
    pub delivered: f64,
    /// Chance of a delivered lot to be taken; over all lots, where they differ.
    pub taken: f64,
    /// Share of the parts in those that does not conform.
    pub escapes: f64,
}

impl Operating {
    /// Of a plan, for parts of which the share `delivered` fails at the gauge, and what becomes of their lots.
    pub fn of(sampling: Sampling, delivered: f64, lots: Lots) -> Operating {
        let last = sampling.quality(LEAST);
        let qualities = (0..=POINTS).map(|i| last * f64::from(i) / f64::from(POINTS));
        Operating {
            sampling,
            marks: [0.95, 0.5, 0.1].map(|chance| (chance, sampling.quality(chance))),
            curve: qualities.map(|quality| (quality, sampling.accepts(quality))).collect(),
            delivered,
            taken: lots.taken,
            escapes: lots.escapes,
        }
    }
}
