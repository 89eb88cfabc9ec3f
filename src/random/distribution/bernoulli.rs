//! The distribution of a rare event: mostly nothing, sometimes a step to one side or the other.

use super::invalid::within;
use super::{InvalidDistribution, Univariate, symmetric};

/// Deviations are -1 and +1 with probability p/2 each, and 0 otherwise: the quantile of u is -1 below p/2, +1 above
/// 1 - p/2. Standard deviation sqrt(p). A study does not name it; what can break (a channel, a bit) states `p` and takes
/// its draws from here, so that they are keyed and shown like all others, and two outcomes cost one draw.
///
/// Source: definition.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bernoulli {
    p: f64,
    /// Size of the step: 1 but for scaled distributions.
    size: f64,
}

impl Bernoulli {
    /// A step with probability `p`.
    ///
    /// # Errors
    /// If `p` is not from 0 to 1.
    pub(crate) fn new(p: f64) -> Result<Self, InvalidDistribution> {
        Ok(Self { p: within("a probability", p, 0.0, 1.0)?, size: 1.0 })
    }
}

impl Univariate for Bernoulli {
    const NAME: &'static str = "chance";
    const IS_EVENT: bool = true;

    fn transform(&self, u: &mut [f64]) {
        let tail = 0.5 * self.p;
        for u in u {
            *u = if *u < tail {
                -self.size
            } else if 1.0 - *u < tail {
                self.size
            } else {
                0.0
            };
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        let tail = 0.5 * self.p;
        if x < -self.size {
            0.0
        } else if x < 0.0 {
            tail
        } else if x < self.size {
            1.0 - tail
        } else {
            1.0
        }
    }

    fn sd(&self) -> f64 {
        self.size * self.p.sqrt()
    }

    fn range(&self) -> Option<(f64, f64)> {
        symmetric(if self.p == 0.0 { 0.0 } else { self.size })
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { size: self.size * factor.abs(), ..*self }
    }
}
