//! Two shares of the same units: their difference is known better than from units of its own for each, the more so the more they are alike.

use super::{ByLots, Estimate, clopper_pearson};
use crate::math::normal;

/// How two verdicts on the same units go together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Pairs {
    /// Units that pass both.
    pub both: u64,
    /// Units that pass the first alone.
    pub only_first: u64,
    /// Units that pass the second alone.
    pub only_second: u64,
    /// Units that pass neither.
    pub neither: u64,
    /// How both verdicts vary from lot to lot, where units share lots.
    pub lots: Option<PairsByLots>,
}

/// How two shares of the same units, and their difference, vary from lot to lot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PairsByLots {
    /// The share of the first.
    pub first: ByLots,
    /// The share of the second.
    pub second: ByLots,
    /// The share of the first less that of the second.
    pub difference: ByLots,
}

impl Pairs {
    /// Units in all.
    pub(crate) fn count(&self) -> u64 {
        self.both + self.only_first + self.only_second + self.neither
    }

    /// Share of the first, with its own interval.
    pub(crate) fn first_share(&self, confidence: f64) -> Estimate {
        match self.lots {
            Some(PairsByLots { first, .. }) => first.share(confidence),
            None => clopper_pearson(self.both + self.only_first, self.count(), confidence),
        }
    }

    /// Share of the first minus share of the second, with the interval of the units' own pairing.
    ///
    /// Tango, Statistics in Medicine 17 (1998), 891-908: the differences that a score test does not reject. Without units the
    /// interval is -1 to 1 and the value NaN.
    pub(crate) fn difference(&self, confidence: f64) -> Estimate {
        let count = self.count();
        let (n, b, c) = (count as f64, self.only_first as f64, self.only_second as f64);
        let most = self.critical(confidence);
        let value = (b - c) / n;
        let reaches = |difference: f64| score(n, b, c, difference).abs() <= most;
        let end = |far: f64| if count == 0 { far } else { boundary(value, far, reaches) };
        let method = if self.lots.is_some() { "score, paired, by lots" } else { "score, paired" };
        Estimate { value, low: end(-1.0), high: end(1.0), confidence, method, count }
    }

    /// The largest score that does not reject a difference: the normal one, by lots that of the effective number of units, as the score
    /// grows as the root of their number.
    fn critical(&self, confidence: f64) -> f64 {
        let z = normal::quantile(0.5 + 0.5 * confidence);
        let Some(PairsByLots { difference: of, .. }) = self.lots else { return z };
        let n = self.count() as f64;
        let differing = (self.only_first + self.only_second) as f64 / n;
        let by_units = (differing - of.mean * of.mean) / n;
        z * (of.units / of.effective(by_units, of.seen, confidence)).sqrt()
    }

    /// Correlation of the two shares, -1 to 1: that of the verdicts, or of their sums from lot to lot; 0 where one of them is always the
    /// same and nothing can go together.
    pub(crate) fn correlation(&self) -> f64 {
        if let Some(PairsByLots { first, second, difference }) = self.lots {
            // The variance of a difference is the sum of both less twice what they share.
            let spread = 2.0 * (first.variance * second.variance).sqrt();
            let shared = first.variance + second.variance - difference.variance;
            return if spread > 0.0 { (shared / spread).clamp(-1.0, 1.0) } else { 0.0 };
        }
        let [both, first, second, neither] =
            [self.both, self.only_first, self.only_second, self.neither].map(|count| count as f64);
        let spread = (both + first) * (second + neither) * (both + second) * (first + neither);
        if spread > 0.0 { (both * neither - first * second) / spread.sqrt() } else { 0.0 }
    }

    /// Units after which the interval of a difference like this one would leave 0 out; `None` where there is none to tell.
    pub(crate) fn units_to_tell(&self, confidence: f64) -> Option<u64> {
        self.units_to_tell_from(0.0, confidence)
    }

    /// The same for another value than 0.
    ///
    /// The score grows as the root of the number of units, so n of them with a score s become n (z/s)^2: more than there are just
    /// where the interval holds the value.
    pub(crate) fn units_to_tell_from(&self, value: f64, confidence: f64) -> Option<u64> {
        let (n, b, c) = (self.count() as f64, self.only_first as f64, self.only_second as f64);
        let ratio = self.critical(confidence) / score(n, b, c, value);
        let units = n * ratio * ratio;
        units.is_finite().then(|| units.ceil() as u64)
    }

    /// The same difference with the interval that it would have from two runs of as many units of their own.
    ///
    /// Newcombe, Statistics in Medicine 17 (1998), 873-890, method 10: what either share misses by its own score interval is
    /// added square by square.
    pub(crate) fn difference_unpaired(&self, confidence: f64) -> Estimate {
        let count = self.count();
        let share = |only: u64| (self.both + only) as f64 / count as f64;
        let (first, second) = (share(self.only_first), share(self.only_second));
        let z = normal::quantile(0.5 + 0.5 * confidence);
        let value = first - second;
        let effective = |of: fn(&PairsByLots) -> &ByLots| {
            self.lots.as_ref().map_or(count as f64, |lots| of(lots).effective_units(confidence))
        };
        let [first_low, first_high] = wilson(first, effective(|of| &of.first), z);
        let [second_low, second_high] = wilson(second, effective(|of| &of.second), z);
        let miss = |one: f64, other: f64| (one * one + other * other).sqrt();
        let low = value - miss(first - first_low, second_high - second);
        let high = value + miss(first_high - first, second - second_low);
        let (low, high) = if count == 0 { (-1.0, 1.0) } else { (low, high) };
        Estimate { value, low, high, confidence, method: "score, two runs", count }
    }

    /// How many times narrower the units' own pairing makes the interval of the difference.
    pub(crate) fn width_ratio(&self, confidence: f64) -> f64 {
        let (unpaired, paired) = (self.difference_unpaired(confidence), self.difference(confidence));
        (unpaired.high - unpaired.low) / (paired.high - paired.low)
    }
}

/// The score interval of a share of `n` units: Wilson, Journal of the American Statistical Association 22 (1927), 209-212.
fn wilson(share: f64, n: f64, z: f64) -> [f64; 2] {
    let middle = share + z * z / (2.0 * n);
    let half = z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).max(0.0).sqrt();
    let whole = 1.0 + z * z / n;
    [(middle - half) / whole, (middle + half) / whole]
}

/// The score statistic of a difference, with the share of discordant units as large as makes it most likely.
fn score(n: f64, b: f64, c: f64, difference: f64) -> f64 {
    let d = difference;
    let half = -b - c + (2.0 * n - b + c) * d;
    let root = (half * half + 8.0 * n * c * d * (1.0 - d)).max(0.0).sqrt();
    let only_second = (root - half) / (4.0 * n);
    let variance = n * (2.0 * only_second + d * (1.0 - d));
    let miss = b - c - n * d;
    if miss == 0.0 { 0.0 } else { miss / variance.max(0.0).sqrt() }
}

/// The last point from `from` to `to` that is within reach, to the last bits; `from` is.
fn boundary(from: f64, to: f64, reaches: impl Fn(f64) -> bool) -> f64 {
    const HALVINGS: usize = 60;
    if reaches(to) {
        return to;
    }
    let (mut within, mut beyond) = (from, to);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (within + beyond);
        if reaches(middle) { within = middle } else { beyond = middle }
    }
    within
}

#[cfg(test)]
mod tests;
