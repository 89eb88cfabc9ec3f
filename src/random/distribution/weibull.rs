//! The Weibull distribution: deviations to one side, as wear and lifetimes have them.

use super::invalid::{finite, within};
use super::read::made;
use super::{InvalidDistribution, Stated, Univariate};
use crate::io::{Check, Difference, Key, Quantity, Special, Table, keys};
use crate::math::scalar;

/// How a study states it.
const KEY: Key<Special> = distribution!("weibull", KEYS, "{ shape = 1.5, scale = \"0.2 mm\" }");

keys! {
    KEYS: "Deviations to one side, as of wear and lifetimes";
    SHAPE: Quantity = Key::number("shape", Check::Within(LEAST, MOST), "1.5",
        "Weibull's exponent: small ones spread widely, 1 is exponential, 2 Rayleigh's");
    SCALE: Difference = Key::difference("scale", Check::Any, "Deviation that 63 % of the parts do not exceed; a negative one is downward");
}

/// Deviations from nominal upward, of a shape k and a scale s; of a negative scale downward.
///
/// Formula: the probability of at most x is 1 - exp(-(x/s)^k); the quantile of u is s (-ln(1 - u))^(1/k), the mean s g(1) and the variance
/// s^2 (g(2) - g(1)^2), with g(n) = Gamma(1 + n/k). Shape 1 is the exponential distribution, shape 2 Rayleigh's.
///
/// Units: the scale is in the unit of the quantity, the shape a number from 0.2 to 50.
///
/// The quantile has a closed form of two logarithms, which are the same bits on every machine, so draws are the quantile of a uniform and need
/// no stream.
///
/// Source: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1 (1994), chapter 21 (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Weibull {
    shape: f64,
    /// Negative where deviations are downward.
    scale: f64,
}

/// Least and most that a shape can be: beyond them a few parts have all of the spread, or the spread is a hundredth of the mean.
const LEAST: f64 = 0.2;
const MOST: f64 = 50.0;

impl Weibull {
    /// A distribution of deviations to the side of the scale's sign.
    ///
    /// # Errors
    /// If `shape` is not from 0.2 to 50, or `scale` is not finite.
    pub(crate) fn new(shape: f64, scale: f64) -> Result<Self, InvalidDistribution> {
        Ok(Self { shape: within("the shape", shape, LEAST, MOST)?, scale: finite("the scale", scale)? })
    }

    /// Gamma(1 + n/k), the mean of the n-th power at scale 1.
    fn moment(&self, n: f64) -> f64 {
        scalar::gamma(1.0 + n / self.shape)
    }
}

impl Univariate for Weibull {
    const NAME: &'static str = "Weibull";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        made(table, Self::new(table.read(&SHAPE), table.read(&SCALE.of(of.dimension))))
    }

    fn transform(&self, u: &mut [f64]) {
        let is_upward = self.scale > 0.0;
        for u in u {
            // The probability above the deviation, or below it where they are downward.
            let ln_beyond = if is_upward { scalar::ln_1p(-*u) } else { scalar::ln(*u) };
            *u = self.scale * scalar::pow(-ln_beyond, 1.0 / self.shape);
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        let size = (x / self.scale).max(0.0);
        let ln_beyond = -scalar::pow(size, self.shape);
        if self.scale > 0.0 { -scalar::expm1(ln_beyond) } else { scalar::exp(ln_beyond) }
    }

    fn mean(&self) -> f64 {
        self.scale * self.moment(1.0)
    }

    fn sd(&self) -> f64 {
        let mean = self.moment(1.0);
        self.scale.abs() * (self.moment(2.0) - mean * mean).sqrt()
    }

    fn range(&self) -> Option<(f64, f64)> {
        (self.scale == 0.0).then_some((0.0, 0.0))
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { scale: self.scale * factor, ..*self }
    }
}
