//! Two shares of the same units: their difference is known far better than from units of its own for each.

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

    /// Units after which the interval of a difference like this one would leave 0 out; `None` where there is none to tell.
    pub fn units_to_tell(&self, confidence: f64) -> Option<u64> {
        self.units_to_tell_from(0.0, confidence)
    }

    /// The same for another value than 0.
    ///
    /// From the normal approximation: n = z^2 (p - d^2)/(d - value)^2 with p the share of discordant units and d the difference.
    pub fn units_to_tell_from(&self, value: f64, confidence: f64) -> Option<u64> {
        let (n, b, c) = (self.count() as f64, self.only_first as f64, self.only_second as f64);
        let (discordant, difference) = ((b + c) / n, (b - c) / n);
        let z = normal::quantile(0.5 + 0.5 * confidence);
        let miss = difference - value;
        let units = z * z * (discordant - difference * difference) / (miss * miss);
        units.is_finite().then(|| units.max(0.0).ceil() as u64)
    }
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
