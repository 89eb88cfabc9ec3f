//! The normal law.

use super::{Law, spread};
use crate::math::normal;

/// A normal law of mean zero: density exp(-x^2 / 2 sd^2) / (sd sqrt(2 pi)).
///
/// Source: any textbook; the quantile is Wichura's (see [`normal::quantile`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Normal {
    sd: f64,
}

impl Normal {
    /// A law of standard deviation `sd`.
    ///
    /// # Errors
    /// If `sd` is negative or not finite; the message says so.
    pub fn new(sd: f64) -> Result<Self, String> {
        let sd = spread("standard deviation", sd)?;
        Ok(Self { sd })
    }
}

impl Law for Normal {
    const NAME: &'static str = "normal";

    fn transform(&self, u: &mut [f64]) {
        normal::quantiles(u);
        for x in u {
            *x *= self.sd;
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        normal::probability(x / self.sd)
    }

    fn sd(&self) -> f64 {
        self.sd
    }

    fn range(&self) -> Option<(f64, f64)> {
        (self.sd == 0.0).then_some((0.0, 0.0))
    }

    fn scaled(&self, factor: f64) -> Self {
        Self { sd: self.sd * factor.abs() }
    }
}
