//! The normal distribution cut off at both sides, as parts are after sorting.

use super::invalid::size;
use super::plus_or_minus::Within;
use super::read::made;
use super::{Distribution, InvalidDistribution, Normal, Stated, Univariate, symmetric};
use crate::io::{Check, Difference, Key, Special, Table, keys};
use crate::math::normal;

/// How a study states it.
const KEY: Key<Special> = distribution!("truncated_normal", KEYS, "{ sd = \"0.1 mm\", at = \"0.2 mm\" }");

keys! {
    KEYS: "Normal distribution whose tails are cut off";
    SD: Difference = Key::difference("sd", Check::NonNegative, "Standard deviation before the cut");
    AT: Difference = Key::difference("at", Check::Positive, "Largest deviation to either side");
}

/// Beyond this many standard deviations a cut removes nothing that a double can hold.
const NO_CUT: f64 = 40.0;

/// A normal distribution of mean zero and, before the cut, standard deviation `sd`, kept where |x| <= `at`.
///
/// With c = at / sd, the quantile of u is sd times the normal quantile of
/// Phi(-c) + u (1 - 2 Phi(-c)), and the variance is sd^2 (1 - 2 c phi(c) / (1 - 2 Phi(-c))).
///
/// Source: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1 (1994), chapter 13.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct TruncatedNormal {
    sd: f64,
    at: f64,
    /// The cut in standard deviations, and the probability below it.
    cut: f64,
    below: f64,
}

impl TruncatedNormal {
    /// A distribution of standard deviation `sd` before the cut at plus and minus `at`.
    ///
    /// # Errors
    /// If `sd` is negative, `at` is not above zero, or one is not finite.
    pub(crate) fn new(sd: f64, at: f64) -> Result<Self, InvalidDistribution> {
        const LIMIT: &str = "truncation limit";
        let (sd, at) = (size("standard deviation", sd)?, size(LIMIT, at)?);
        if at == 0.0 {
            return Err(InvalidDistribution::Zero { what: LIMIT });
        }
        let cut = (at / sd).min(NO_CUT);
        let below = normal::probability(-cut);
        Ok(Self { sd, at, cut, below })
    }
}

impl Univariate for TruncatedNormal {
    const NAME: &'static str = "truncated normal";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);
    const WITHIN: Option<Within> = Some(Within {
        takes_sigmas: true,
        make: |limit, sd| Self::new(sd, limit).map(Distribution::TruncatedNormal),
    });

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        let at = table.read(&AT.of(of.dimension));
        made(table, Self::new(table.read(&SD.of(of.dimension)), at))
    }

    fn transform(&self, u: &mut [f64]) {
        let kept = 1.0 - 2.0 * self.below;
        for u in &mut *u {
            *u = self.below + *u * kept;
        }
        normal::quantiles(u);
        for x in u {
            // The last bit of the quantile may be beyond the cut.
            *x = (*x * self.sd).max(-self.at).min(self.at);
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        let kept = 1.0 - 2.0 * self.below;
        ((normal::probability(x / self.sd) - self.below) / kept).clamp(0.0, 1.0)
    }

    fn joint_cdf(&self, x: f64, reading: f64, gauge: f64) -> Option<f64> {
        // Of a narrow cut a difference of nearly equal numbers.
        if self.cut < 1.0 {
            return None;
        }
        let whole = Normal::new(self.sd).ok()?;
        let up_to = |x: f64| whole.joint_cdf(x, reading, gauge);
        let kept = 1.0 - 2.0 * self.below;
        Some((up_to(x.min(self.at))? - up_to(-self.at)?).max(0.0) / kept)
    }

    fn sd(&self) -> f64 {
        self.sd * variance(self.cut).sqrt()
    }

    fn range(&self) -> Option<(f64, f64)> {
        symmetric(if self.sd == 0.0 { 0.0 } else { self.at })
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { sd: self.sd * factor.abs(), at: self.at * factor.abs(), ..*self }
    }

    fn cut(&self) -> Option<f64> {
        Some(self.cut)
    }
}

/// The variance of a unit normal cut at plus and minus `c`.
///
/// For a narrow cut the closed form is a difference of nearly equal numbers; there both integrals
/// of its definition, of x^2 exp(-x^2/2) and of exp(-x^2/2), are summed as power series.
fn variance(c: f64) -> f64 {
    if c >= 1.0 {
        return 1.0 - 2.0 * c * normal::density(c) / (1.0 - 2.0 * normal::probability(-c));
    }
    let (mut second_moment, mut total, mut term) = (0.0, 0.0, 1.0);
    for k in 0..16 {
        let k = f64::from(k);
        second_moment += term / (2.0 * k + 3.0);
        total += term / (2.0 * k + 1.0);
        term *= -0.5 * c * c / (k + 1.0);
    }
    c * c * second_moment / total
}
