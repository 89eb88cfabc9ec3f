//! The distribution of parts that passed an incoming inspection.

use super::weighted::{Weighted, even_ends, gauge_ends};
use super::{DISTRIBUTIONS, Distribution, InvalidDistribution, Stated, Univariate, read::made};
use crate::io::{Key, Nested, Special, Table, keys};
use crate::random::{Gauge, Window, gauge};
use std::sync::Arc;

/// How a study states it.
const KEY: Key<Special> = distribution!(
    "screened",
    KEYS,
    "{ at = \"0.1 mm\", of = { normal = { sd = \"0.1 mm\" } }, gauge = { sd = \"0.02 mm\" } }"
);

keys! {
    KEYS: "Parts of a distribution of which those are taken that a gauge reads within limits";
    AT: Special = Window::key("at", "What a reading has to keep: a deviation to either side, or from and to").needed();
    OF: Nested = Key::table("of", &DELIVERED, "{ normal = { sd = \"0.1 mm\" } }").needed();
    GAUGE: Nested = Key::table("gauge", &gauge::KEYS, "{ sd = \"0.02 mm\" }").needed();
}

keys! {
    DELIVERED: "The distribution of the delivered parts", with DISTRIBUTIONS;
}

/// Any distribution after an inspection that takes a part of deviation x when x + bias + sd z is from l to h, z standard normal: what the
/// gauge reads is the deviation with its own bias and repeatability.
///
/// A part is taken with probability a(x) = Phi((h - x - bias)/sd) - Phi((l - x - bias)/sd); the accepted parts are those
/// of the distribution, weighted by a, in the table of `weighted.rs`. Cells are no wider than 1/1024 in u and a quarter of the gauge's sd where a falls,
/// so a probability is off by less than 2e-6; with an exact gauge (sd 0) nothing is off. Mean and standard deviation are right to
/// 1e-6 of the sd.
///
/// Source: own derivation from the definition.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Screened {
    of: Box<Distribution>,
    accept: Window,
    gauge: Gauge,
    table: Arc<Weighted>,
}

/// Cells of equal width in u, but for those that are parted further.
const CELLS: u32 = 1024;
/// An inspection that takes fewer parts is a slip.
const FEWEST_TAKEN: f64 = 1e-6;

impl Screened {
    /// A distribution after an inspection that takes what reads within `accept`.
    ///
    /// # Errors
    /// If nothing is within `accept`, the gauge's sd is negative, one is not finite, or hardly a part in a million passes.
    pub(crate) fn new(of: Distribution, accept: Window, gauge: Gauge) -> Result<Self, InvalidDistribution> {
        let is_open = accept.low == f64::NEG_INFINITY && accept.high == f64::INFINITY;
        // NaN is none either.
        let is_window = accept.low < accept.high;
        if is_open || !is_window {
            return Err(InvalidDistribution::Acceptance);
        }
        if !(gauge.sd >= 0.0 && gauge.sd.is_finite() && gauge.bias.is_finite()) {
            return Err(InvalidDistribution::Gauge);
        }
        let distribution = Self::build(of, accept, gauge);
        if distribution.table.share() < FEWEST_TAKEN {
            return Err(InvalidDistribution::NothingPasses { what: "part" });
        }
        Ok(distribution)
    }

    /// The share of the delivered parts that is rejected.
    pub(crate) fn rejected(&self) -> f64 {
        1.0 - self.table.share()
    }

    fn build(of: Distribution, accept: Window, gauge: Gauge) -> Self {
        let ends = gauge_ends(&of, accept, gauge, &even_ends(CELLS), (0.0, 1.0));
        let table = Weighted::new(&of, ends, |x| taken(x, accept, gauge));
        Self { of: Box::new(of), accept, gauge, table: Arc::new(table) }
    }
}

/// The probability that a part is taken, of the parts in the cells.
fn taken(x: f64, accept: Window, gauge: Gauge) -> f64 {
    // Of an exact gauge the cells end at the cut.
    if gauge.is_exact() { 1.0 } else { gauge.probability_within(x, accept) }
}

impl Univariate for Screened {
    const NAME: &'static str = "screened";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        let delivered = table.required_table(OF, OF.example);
        let distribution = delivered.and_then(|table| Distribution::required(&table, of));
        let accept = Window::read(table, &AT, of.dimension);
        let gauge = table.required_table(GAUGE, GAUGE.example).map(|table| Gauge::read(&table, of));
        let (distribution, accept, gauge) = (distribution?, accept?, gauge?);
        // A stand-in must not be found to take nothing.
        let is_sound = [OF.name, AT.name, GAUGE.name].iter().all(|key| table.is_sound(key));
        is_sound.then(|| made(table, Self::new(distribution, accept, gauge)))?
    }

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
        if self.gauge.sd > 0.0 || self.of.is_exact() {
            return self.of.range();
        }
        let (lowest, highest) = (self.accept.low - self.gauge.bias, self.accept.high - self.gauge.bias);
        let (low, high) = self.of.range().unwrap_or((f64::NEG_INFINITY, f64::INFINITY));
        Some((low.max(lowest), high.min(highest))).filter(|(low, high)| low.is_finite() && high.is_finite())
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
        Self::build(of, self.accept.scaled(factor), gauge)
    }
}
