//! The beta distribution: deviations between two ends, more likely toward one of them.

use super::invalid::{finite, within};
use super::read::made;
use super::{InvalidDistribution, Stated, Univariate};
use crate::io::{Check, Difference, Key, Quantity, Special, Table, keys};
use crate::math::binomial::Probability;
use crate::math::{beta, scalar};
use rand::Rng;

/// How a study states it.
const KEY: Key<Special> =
    distribution!("beta", KEYS, "{ alpha = 2, beta = 5, from = \"-0.1 mm\", to = \"0.3 mm\" }");

keys! {
    KEYS: "Deviations between two ends, more likely toward one of them";
    ALPHA: Quantity = Key::number("alpha", Check::Within(LEAST, MOST), "2",
        "Large where the upper end is likely; both parameters above 1 make ends rare");
    BETA: Quantity = Key::number("beta", Check::Within(LEAST, MOST), "5", "Large where the lower end is likely");
    FROM: Difference = Key::difference("from", Check::Any, "The lowest deviation");
    TO: Difference = Key::difference("to", Check::Any, "The highest deviation");
}

/// Deviations between two ends, of parameters a (toward the upper end) and b (toward the lower one).
///
/// Formula: with t = (x - from)/(to - from), the density in t is t^(a-1) (1 - t)^(b-1) / B(a, b), the mean a/(a + b) and the variance
/// a b / ((a + b)^2 (a + b + 1)); the probability of at most x is the regularised incomplete beta function, see [`beta::ln_beta`]. Both parameters 1
/// are the uniform distribution, both 1/2 the arcsine; above 1 ends are rare, below 1 frequent.
///
/// Units: `from` and `to` are in the unit of the quantity, the parameters numbers from 0.2 to 1,000.
///
/// Plain draws are those of `rand_distr` 0.6 (Cheng, Communications of the ACM 21, 1978) from the stream of each draw. It takes logarithms and
/// exponentials from the system, which may differ in the last of 53 bits from machine to machine: a draw is kept in 24. The quantile that
/// correlation, screening and mixtures ask for is inverted by iteration, with equal bits on every machine.
///
/// Source: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 2 (1995), chapter 25 (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Beta {
    alpha: f64,
    beta: f64,
    /// The deviation at t = 0 and that at t = 1, which is the lower one where the distribution is mirrored.
    from: f64,
    to: f64,
    /// The same from 0 to 1.
    unit: rand_distr::Beta<f64>,
}

/// Least and most that a parameter can be: beyond them a number has no digits left for many of the deviations near an end, or all are at one place.
const LEAST: f64 = 0.2;
const MOST: f64 = 1000.0;

impl Beta {
    /// A distribution between two ends.
    ///
    /// # Errors
    /// If `alpha` or `beta` is not from 0.2 to 1,000, an end is not finite, or `from` is not below `to`.
    pub(crate) fn new(alpha: f64, beta: f64, from: f64, to: f64) -> Result<Self, InvalidDistribution> {
        let alpha = within("alpha", alpha, LEAST, MOST)?;
        let beta = within("beta", beta, LEAST, MOST)?;
        let (from, to) = (finite("an end", from)?, finite("an end", to)?);
        // A width that is too large for a double is refused with the ends.
        finite("the width", to - from)?;
        if from >= to {
            return Err(InvalidDistribution::Ends);
        }
        let beyond = InvalidDistribution::Beyond { what: "alpha", from: LEAST, to: MOST };
        let unit = rand_distr::Beta::new(alpha, beta).map_err(|_| beyond)?;
        Ok(Self { alpha, beta, from, to, unit })
    }

    /// The deviation at a share of the way from the first end to the second, which is no farther than either.
    fn at(&self, share: f64, rest: f64) -> f64 {
        if share < rest {
            self.from + share * (self.to - self.from)
        } else {
            self.to - rest * (self.to - self.from)
        }
    }
}

impl Univariate for Beta {
    const NAME: &'static str = "beta";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);
    const READS_STREAM: bool = true;

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        let [alpha, beta] = [ALPHA, BETA].map(|key| table.read(&key));
        let [from, to] = [FROM, TO].map(|key| table.read(&key.of(of.dimension)));
        // Stand-ins must not be found to be in the wrong order.
        let is_sound = [FROM, TO].iter().all(|key| table.is_sound(key));
        is_sound.then(|| made(table, Self::new(alpha, beta, from, to)))?
    }

    fn transform(&self, u: &mut [f64]) {
        let is_mirrored = self.from > self.to;
        for u in u {
            let Probability { success, failure } =
                beta::quantile(self.alpha, self.beta, if is_mirrored { 1.0 - *u } else { *u });
            *u = self.at(success, failure);
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        let width = self.to - self.from;
        let share = Probability { success: (x - self.from) / width, failure: (self.to - x) / width };
        let is_mirrored = width < 0.0;
        if share.success <= 0.0 || share.failure <= 0.0 {
            return if (share.failure <= 0.0) == is_mirrored { 0.0 } else { 1.0 };
        }
        // Of a mirrored distribution the complement, which is the same function with all turned round.
        let ln = if is_mirrored {
            beta::ln_beta(self.beta, self.alpha, share.swapped())
        } else {
            beta::ln_beta(self.alpha, self.beta, share)
        };
        scalar::exp(ln).min(1.0)
    }

    fn mean(&self) -> f64 {
        self.from + (self.to - self.from) * self.alpha / (self.alpha + self.beta)
    }

    fn sd(&self) -> f64 {
        let sum = self.alpha + self.beta;
        (self.to - self.from).abs() * (self.alpha * self.beta / (sum + 1.0)).sqrt() / sum
    }

    fn range(&self) -> Option<(f64, f64)> {
        Some((self.from.min(self.to), self.from.max(self.to)))
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { from: self.from * factor, to: self.to * factor, ..*self }
    }

    fn sample<R: Rng + ?Sized>(&self, words: &mut R) -> f64 {
        let share = rand_distr::Distribution::sample(&self.unit, words);
        self.at(share, 1.0 - share)
    }
}
