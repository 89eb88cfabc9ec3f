//! The gamma distribution: deviations to one side that are sums of many small ones.

use super::invalid::{finite, within};
use super::read::made;
use super::{InvalidDistribution, Stated, Univariate};
use crate::io::{Check, Difference, Key, Quantity, Special, Table, keys};
use crate::math::gamma;
use rand::Rng;

/// How a study states it.
const KEY: Key<Special> = distribution!("gamma", KEYS, "{ shape = 2, scale = \"0.1 mm\" }");

keys! {
    KEYS: "Deviations to one side, as sums of many small ones";
    SHAPE: Quantity = Key::number("shape", Check::Within(LEAST, MOST), "2",
        "Squared ratio of mean and standard deviation; 1 is exponential");
    SCALE: Difference = Key::difference("scale", Check::Any, "Mean over the shape; a negative one is downward");
}

/// Deviations from nominal upward, of a shape k and a scale s; of a negative scale downward.
///
/// Formula: the density is x^(k-1) exp(-x/s) / (Gamma(k) s^k), the mean k s and the variance k s^2; the probability of at most x is the regularised
/// incomplete gamma function P(k, x/s), see [`gamma::below`]. Shape 1 is the exponential distribution; the square of a normal deviation of standard
/// deviation d is of shape 1/2 and scale 2 d^2.
///
/// Units: the scale is in the unit of the quantity, the shape a number from 0.1 to 1,000.
///
/// Plain draws are those of `rand_distr` 0.6 (Marsaglia & Tsang, ACM Transactions on Mathematical Software 26, 2000) from the stream of each draw.
/// It takes logarithms and powers from the system, which may differ in the last of 53 bits from machine to machine: a draw is kept in 24. The
/// quantile that correlation, screening and mixtures ask for is inverted by iteration, with equal bits on every machine.
///
/// Source: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1 (1994), chapter 17 (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Gamma {
    shape: f64,
    /// Negative where deviations are downward.
    scale: f64,
    /// The same of scale 1.
    unit: rand_distr::Gamma<f64>,
}

/// Least and most that a shape can be: beyond them nearly all deviations are next to nothing, or the distribution is a normal one.
const LEAST: f64 = 0.1;
const MOST: f64 = 1000.0;

impl Gamma {
    /// A distribution of deviations to the side of the scale's sign.
    ///
    /// # Errors
    /// If `shape` is not from 0.1 to 1,000, or `scale` is not finite.
    pub(crate) fn new(shape: f64, scale: f64) -> Result<Self, InvalidDistribution> {
        let beyond = InvalidDistribution::Beyond { what: "the shape", from: LEAST, to: MOST };
        let shape = within("the shape", shape, LEAST, MOST)?;
        let unit = rand_distr::Gamma::new(shape, 1.0).map_err(|_| beyond)?;
        Ok(Self { shape, scale: finite("the scale", scale)?, unit })
    }
}

impl Univariate for Gamma {
    const NAME: &'static str = "gamma";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);
    const READS_STREAM: bool = true;

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        made(table, Self::new(table.read(&SHAPE), table.read(&SCALE.of(of.dimension))))
    }

    fn transform(&self, u: &mut [f64]) {
        let is_upward = self.scale > 0.0;
        for u in u {
            *u = self.scale * gamma::quantile(self.shape, if is_upward { *u } else { 1.0 - *u });
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        let size = x / self.scale;
        if self.scale > 0.0 { gamma::below(self.shape, size) } else { gamma::above(self.shape, size) }
    }

    fn mean(&self) -> f64 {
        self.shape * self.scale
    }

    fn sd(&self) -> f64 {
        self.shape.sqrt() * self.scale.abs()
    }

    fn range(&self) -> Option<(f64, f64)> {
        (self.scale == 0.0).then_some((0.0, 0.0))
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { scale: self.scale * factor, ..*self }
    }

    fn sample<R: Rng + ?Sized>(&self, words: &mut R) -> f64 {
        self.scale * rand_distr::Distribution::sample(&self.unit, words)
    }
}
