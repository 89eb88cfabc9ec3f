//! The normal distribution.

use super::{Univariate, spread};
use crate::math::{bivariate, normal, scalar};

/// A normal distribution of mean zero: density exp(-x^2 / 2 sd^2) / (sd sqrt(2 pi)).
///
/// Source: any textbook; the quantile is Wichura's (see [`normal::quantile`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Normal {
    sd: f64,
}

impl Normal {
    /// A distribution of standard deviation `sd`.
    ///
    /// # Errors
    /// If `sd` is negative or not finite; the message says so.
    pub fn new(sd: f64) -> Result<Self, String> {
        let sd = spread("standard deviation", sd)?;
        Ok(Self { sd })
    }
}

impl Normal {
    /// The distribution of the sum of two normal deviations.
    pub(crate) fn and(&self, other: &Normal) -> Normal {
        Normal { sd: scalar::hypot(self.sd, other.sd) }
    }
}

impl Univariate for Normal {
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

    /// Deviation and reading are two normal values, of correlation sd over the standard deviation of the readings.
    fn read_below(&self, x: f64, reading: f64, gauge: f64) -> Option<f64> {
        let readings = scalar::hypot(self.sd, gauge);
        Some(bivariate::probability(x / self.sd, reading / readings, self.sd / readings))
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
