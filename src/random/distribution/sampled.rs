//! The distribution of lots that were taken by a sample.

use super::weighted::{Weighted, even_ends, gauge_ends, refined, share_within};
use super::{Distribution, InvalidDistribution, Univariate};
use crate::random::{Gauge, Sampling, Window};
use std::sync::Arc;

/// What shifts the parts of a lot, of lots of which a sample was gauged and few enough parts failed.
///
/// With p(s) the share of the parts of a lot shifted by s whose reading is outside of the acceptance, a lot is taken with the
/// probability that of n such parts no more than c fail, the binomial tail a(s) = P(X <= c), X of n and p(s). The lots that are taken
/// are those of the distribution, weighted by a, in the table of `weighted.rs`. Lots are large beside the sample, so the parts in it do not change what is left.
/// Cells are parted until a, changing over a cell, moves a probability by less than 2e-6.
///
/// Source: definition; ISO 2859-1 calls a over p the operating characteristic of type B (from memory).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Sampled {
    of: Box<Distribution>,
    parts: Box<Distribution>,
    accept: Window,
    gauge: Gauge,
    plan: Sampling,
    table: Arc<Weighted>,
}

/// Cells of equal width in u, of the lots and of the parts of one, but for those that are parted further.
const CELLS: u32 = 256;
const CELLS_OF_PARTS: u32 = 64;

/// A plan that takes fewer lots is a slip.
const FEWEST_TAKEN: f64 = 1e-6;

impl Sampled {
    /// A distribution of lots, of `parts` about their lot's shift, after a plan that gauges some of each.
    ///
    /// # Errors
    /// If hardly a lot in a million is taken.
    pub(crate) fn new(
        of: Distribution,
        parts: Distribution,
        accept: Window,
        gauge: Gauge,
        plan: Sampling,
    ) -> Result<Self, InvalidDistribution> {
        let distribution = Self::build(of, parts, accept, gauge, plan);
        // NaN is refused too.
        if distribution.table.share() >= FEWEST_TAKEN {
            Ok(distribution)
        } else {
            Err(InvalidDistribution::NothingPasses { what: "lot" })
        }
    }

    /// The share of the delivered lots that is rejected.
    pub(crate) fn rejected(&self) -> f64 {
        1.0 - self.table.share()
    }

    fn build(of: Distribution, parts: Distribution, accept: Window, gauge: Gauge, plan: Sampling) -> Self {
        // What a lot's readings spread by, about its shift.
        let readings = gauge.widened(parts.sd());
        let in_a_lot = even_ends(CELLS_OF_PARTS);
        let taken = |shift: f64| {
            if readings.is_exact() {
                // The cells end at the cut.
                return 1.0;
            }
            plan.accepts(1.0 - share_within(&parts, accept.shifted(-shift), gauge, &in_a_lot))
        };
        let ends = refined(&of, gauge_ends(&of, accept, readings, &even_ends(CELLS), (0.0, 1.0)), taken);
        let table = Weighted::new(&of, ends, taken);
        Self { of: Box::new(of), parts: Box::new(parts), accept, gauge, plan, table: Arc::new(table) }
    }
}

impl Univariate for Sampled {
    const NAME: &'static str = "sampled";
    const TAKEN: &'static str = "lots";

    fn transform(&self, u: &mut [f64]) {
        self.table.transform(&self.of, u);
    }

    fn cdf(&self, x: f64) -> f64 {
        self.table.share_below(self.of.cdf(x))
    }

    fn mean(&self) -> f64 {
        if self.of.is_exact() { 0.0 } else { self.table.mean }
    }

    fn sd(&self) -> f64 {
        if self.of.is_exact() { 0.0 } else { self.table.sd }
    }

    fn range(&self) -> Option<(f64, f64)> {
        self.of.range()
    }

    fn rejected(&self) -> Option<f64> {
        Some(self.rejected())
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        let of = self.of.scaled(factor);
        if factor == 0.0 {
            return Self { of: Box::new(of), ..self.clone() };
        }
        let gauge = Gauge { bias: factor * self.gauge.bias, sd: factor.abs() * self.gauge.sd };
        Self::build(of, self.parts.scaled(factor), self.accept.scaled(factor), gauge, self.plan)
    }
}
