//! The uniform distribution.

use super::invalid::size;
use super::plus_or_minus::Within;
use super::read::made;
use super::{Distribution, InvalidDistribution, Stated, Univariate, symmetric};
use crate::io::{Check, Difference, Key, Special, Table, keys};
use crate::math::bivariate::NODES;
use crate::math::normal;

/// How a study states it.
const KEY: Key<Special> = distribution!("uniform", KEYS, "{ half_width = \"0.1 mm\" }");

keys! {
    KEYS: "All deviations within the limits equally likely";
    pub(super) HALF_WIDTH: Difference = Key::difference("half_width", Check::NonNegative, "Largest deviation to either side");
}

/// Evenly over plus and minus `half_width`: quantile half_width (2u - 1), standard deviation
/// half_width / sqrt(3).
///
/// Source: JCGM 101:2008, clause 6.4.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Uniform {
    half_width: f64,
}

impl Uniform {
    /// A distribution over plus and minus `half_width`.
    ///
    /// # Errors
    /// If `half_width` is negative or not finite.
    pub(crate) fn new(half_width: f64) -> Result<Self, InvalidDistribution> {
        Ok(Self { half_width: size("half width", half_width)? })
    }
}

/// Over less than this Gauss and Legendre's rule of five points has the digits of Phi's integral that a difference would lose.
const NARROW: f64 = 0.5;

impl Univariate for Uniform {
    const NAME: &'static str = "uniform";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);
    const WITHIN: Option<Within> =
        Some(Within { takes_sigmas: false, make: |limit, _| Self::new(limit).map(Distribution::Uniform) });

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        made(table, Self::new(table.read(&HALF_WIDTH.of(of.dimension))))
    }

    fn transform(&self, u: &mut [f64]) {
        for u in u {
            *u = self.half_width * (2.0 * *u - 1.0);
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        (0.5 + 0.5 * x / self.half_width).clamp(0.0, 1.0)
    }

    /// The mean of Phi((reading - t)/gauge) over t: z Phi(z) + phi(z) has the derivative Phi(z).
    fn joint_cdf(&self, x: f64, reading: f64, gauge: f64) -> Option<f64> {
        let to = x.clamp(-self.half_width, self.half_width);
        let (low, high) = ((reading - to) / gauge, (reading + self.half_width) / gauge);
        let integral = if high - low < NARROW {
            let at = |(node, weight)| weight * normal::probability(low + node * (high - low));
            (high - low) * NODES.into_iter().map(at).sum::<f64>()
        } else {
            let whole = |z: f64| z * normal::probability(z) + normal::density(z);
            (whole(high) - whole(low)).max(0.0)
        };
        Some(0.5 * integral * gauge / self.half_width)
    }

    fn sd(&self) -> f64 {
        self.half_width / 3.0_f64.sqrt()
    }

    fn range(&self) -> Option<(f64, f64)> {
        symmetric(self.half_width)
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { half_width: self.half_width * factor.abs() }
    }
}
