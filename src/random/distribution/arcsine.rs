//! The arcsine distribution, U-shaped: near its ends most of the time.

use super::invalid::size;
use super::plus_or_minus::Within;
use super::read::made;
use super::{Distribution, InvalidDistribution, Stated, Univariate, symmetric, uniform};
use crate::io::{Difference, Key, Special, Table, keys};
use crate::math::{PI, scalar};

/// How a study states it.
const KEY: Key<Special> = distribution!("arcsine", KEYS, "{ half_width = \"0.1 mm\" }");

keys! {
    KEYS: "Large deviations more likely than small ones, none beyond the limits";
    HALF_WIDTH: Difference = uniform::HALF_WIDTH;
}

/// The distribution of a sinusoid at a random moment: quantile -half_width cos(pi u), standard deviation half_width / sqrt(2).
/// Mismatch of random phase is spread so.
///
/// Source: JCGM 101:2008, clause 6.4.6.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Arcsine {
    half_width: f64,
}

impl Arcsine {
    /// A distribution over plus and minus `half_width`.
    ///
    /// # Errors
    /// If `half_width` is negative or not finite.
    pub(crate) fn new(half_width: f64) -> Result<Self, InvalidDistribution> {
        Ok(Self { half_width: size("half width", half_width)? })
    }
}

impl Univariate for Arcsine {
    const NAME: &'static str = "arcsine";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);
    const WITHIN: Option<Within> =
        Some(Within { takes_sigmas: false, make: |limit, _| Self::new(limit).map(Distribution::Arcsine) });

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        made(table, Self::new(table.read(&HALF_WIDTH.of(of.dimension))))
    }

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

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { half_width: self.half_width * factor.abs() }
    }
}
