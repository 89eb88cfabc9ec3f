//! The symmetric triangular distribution.

use super::invalid::size;
use super::plus_or_minus::Within;
use super::read::made;
use super::{Distribution, InvalidDistribution, Stated, Univariate, symmetric, uniform};
use crate::io::{Difference, Key, Special, Table, keys};

/// How a study states it.
const KEY: Key<Special> = distribution!("triangular", KEYS, "{ half_width = \"0.1 mm\" }");

keys! {
    KEYS: "Small deviations more likely than large ones, none beyond the limits";
    HALF_WIDTH: Difference = uniform::HALF_WIDTH;
}

/// A density that falls in a straight line from zero deviation to nothing at plus and minus
/// `half_width`: the sum of two equal uniform deviations. With t the smaller of u and 1 - u, the
/// size of the quantile is half_width (1 - sqrt(2t)); standard deviation half_width / sqrt(6).
///
/// Source: JCGM 101:2008, clause 6.4.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Triangular {
    half_width: f64,
}

impl Triangular {
    /// A distribution over plus and minus `half_width`.
    ///
    /// # Errors
    /// If `half_width` is negative or not finite.
    pub(crate) fn new(half_width: f64) -> Result<Self, InvalidDistribution> {
        Ok(Self { half_width: size("half width", half_width)? })
    }
}

impl Univariate for Triangular {
    const NAME: &'static str = "triangular";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);
    const WITHIN: Option<Within> =
        Some(Within { takes_sigmas: false, make: |limit, _| Self::new(limit).map(Distribution::Triangular) });

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        made(table, Self::new(table.read(&HALF_WIDTH.of(of.dimension))))
    }

    fn transform(&self, u: &mut [f64]) {
        for u in u {
            let below = *u < 0.5;
            let tail = if below { *u } else { 1.0 - *u };
            let size = self.half_width * (1.0 - (2.0 * tail).sqrt());
            *u = if below { -size } else { size };
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        let from_edge = (1.0 - x.abs() / self.half_width).max(0.0);
        let tail = 0.5 * from_edge * from_edge;
        if x < 0.0 { tail } else { 1.0 - tail }
    }

    fn sd(&self) -> f64 {
        self.half_width / 6.0_f64.sqrt()
    }

    fn range(&self) -> Option<(f64, f64)> {
        symmetric(self.half_width)
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { half_width: self.half_width * factor.abs() }
    }
}
