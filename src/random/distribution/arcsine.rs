//! The arcsine distribution, U-shaped: near its ends most of the time.

use super::{Univariate, spread, symmetric};
use crate::math::{PI, scalar};

/// The distribution of a sinusoid met at a random moment: quantile -half_width cos(pi u), standard deviation half_width / sqrt(2).
/// Mismatch of random phase is spread so.
///
/// Source: JCGM 101:2008, clause 6.4.6.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arcsine {
    half_width: f64,
}

impl Arcsine {
    /// A distribution over plus and minus `half_width`.
    ///
    /// # Errors
    /// If `half_width` is negative or not finite; the message says so.
    pub fn new(half_width: f64) -> Result<Self, String> {
        let half_width = spread("half width", half_width)?;
        Ok(Self { half_width })
    }
}

impl Univariate for Arcsine {
    const NAME: &'static str = "arcsine";

    fn transform(&self, u: &mut [f64]) {
        for u in u {
            *u = -self.half_width * scalar::cos(PI * *u);
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        scalar::acos(-(x / self.half_width).clamp(-1.0, 1.0)) / PI
    }

    fn sd(&self) -> f64 {
        self.half_width * std::f64::consts::FRAC_1_SQRT_2
    }

    fn range(&self) -> Option<(f64, f64)> {
        symmetric(self.half_width)
    }

    fn scaled(&self, factor: f64) -> Self {
        Self { half_width: self.half_width * factor.abs() }
    }
}
