//! Two shares of the same units: their difference is known better than from units of its own for each, the more so the more they are alike.

use super::Estimate;
use crate::math::normal;

/// How two verdicts on the same units go together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pairs {
    /// Units that pass both.
    pub both: u64,
    /// Units that pass the first alone.
    pub only_first: u64,
    /// Units that pass the second alone.
    pub only_second: u64,
    /// Units that pass neither.
    pub neither: u64,
}

impl Pairs {
    /// Units in all.
    pub fn count(&self) -> u64 {
        self.both + self.only_first + self.only_second + self.neither
    }

    /// Share of the first minus share of the second, with the interval of the units' own pairing.
    ///
    /// Tango, Statistics in Medicine 17 (1998), 891-908: the differences that a score test does not reject. Without units the
    /// interval is -1 to 1 and the value NaN.
    pub fn difference(&self, confidence: f64) -> Estimate {
        let count = self.count();
        let (n, b, c) = (count as f64, self.only_first as f64, self.only_second as f64);
        let z = normal::quantile(0.5 + 0.5 * confidence);
        let value = (b - c) / n;
        let reaches = |difference: f64| score(n, b, c, difference).abs() <= z;
        let end = |far: f64| if count == 0 { far } else { boundary(value, far, reaches) };
        Estimate { value, low: end(-1.0), high: end(1.0), confidence, method: "score, paired", count }
    }

    /// Correlation of the two verdicts, -1 to 1; 0 where one of them is always the same and nothing can go together.
    pub fn correlation(&self) -> f64 {
        let [both, first, second, neither] =
            [self.both, self.only_first, self.only_second, self.neither].map(|count| count as f64);
        let spread = (both + first) * (second + neither) * (both + second) * (first + neither);
        if spread > 0.0 { (both * neither - first * second) / spread.sqrt() } else { 0.0 }
    }

    /// Units after which the interval of a difference like this one would leave 0 out; `None` where there is none to tell.
    pub fn units_to_tell(&self, confidence: f64) -> Option<u64> {
        self.units_to_tell_from(0.0, confidence)
    }

    /// The same for another value than 0.
    ///
    /// The score grows as the root of the number of units, so n of them with a score s become n (z/s)^2: more than there are just
    /// where the interval holds the value.
    pub fn units_to_tell_from(&self, value: f64, confidence: f64) -> Option<u64> {
        let (n, b, c) = (self.count() as f64, self.only_first as f64, self.only_second as f64);
        let ratio = normal::quantile(0.5 + 0.5 * confidence) / score(n, b, c, value);
        let units = n * ratio * ratio;
        units.is_finite().then(|| units.ceil() as u64)
    }

    /// The same difference with the interval that it would have from two runs of as many units of their own.
    ///
    /// Newcombe, Statistics in Medicine 17 (1998), 873-890, method 10: what either share misses by its own score interval is
    /// added square by square.
    pub fn difference_of_strangers(&self, confidence: f64) -> Estimate {
        let count = self.count();
        let share = |only: u64| (self.both + only) as f64 / count as f64;
        let (first, second) = (share(self.only_first), share(self.only_second));
        let z = normal::quantile(0.5 + 0.5 * confidence);
        let (value, n) = (first - second, count as f64);
        let ([first_low, first_high], [second_low, second_high]) =
            (wilson(first, n, z), wilson(second, n, z));
        let miss = |one: f64, other: f64| (one * one + other * other).sqrt();
        let low = value - miss(first - first_low, second_high - second);
        let high = value + miss(first_high - first, second - second_low);
        let (low, high) = if count == 0 { (-1.0, 1.0) } else { (low, high) };
        Estimate { value, low, high, confidence, method: "score, two runs", count }
    }

    /// How many times narrower the units' own pairing makes the interval of the difference.
    pub fn narrowing(&self, confidence: f64) -> f64 {
        let (strangers, paired) = (self.difference_of_strangers(confidence), self.difference(confidence));
        (strangers.high - strangers.low) / (paired.high - paired.low)
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
