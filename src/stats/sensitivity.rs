//! Who owns a variance: first-order and total indices of groups of inputs, by taking groups from a second sample.
//!
//! With a the result of a unit, b that of an independent one and c that of the first unit with one group of its inputs taken
//! from the second, and V the variance:
//! - alone: S = mean[(b - m)(c - a)]/V, what the group owns by itself (m is the mean of a and b);
//! - in all: T = mean[(c - a)^2]/(2 V), what is gone once all other inputs were known, its part in interactions included.
//!
//! V and m are those of both samples together. Sources: Saltelli et al., Computer Physics Communications 181 (2010), 259-270, table 2
//! (b) with results centred, after Sobol' 2007; Jansen, Computer Physics Communications 117 (1999), 35-43 (both from memory).
//!
//! Intervals are percentiles of the bootstrap over parcels of neighbouring units (Efron & Tibshirani, An Introduction to the
//! Bootstrap, 1993, chapter 13; from memory), so only sums over parcels are kept.

mod parcels;

pub(crate) use parcels::{Parcels, Resamples};

use super::Estimate;

/// Results of two independent samples, unit by unit.
#[derive(Clone, Debug)]
pub(crate) struct PickFreeze {
    /// Number that is taken off both, so that a large mean does not eat the digits.
    origin: Option<f64>,
    /// Units, sum of a, of b, of their squares.
    sums: Parcels<4>,
}

impl PickFreeze {
    /// None yet; `block` neighbouring units hang together and stay in one parcel.
    pub(crate) fn new(block: u64) -> PickFreeze {
        PickFreeze { origin: None, sums: Parcels::new(block) }
    }

    /// Adds a unit. One without a number in either sample keeps its place and does not count.
    pub(crate) fn push(&mut self, a: f64, b: f64) {
        if !(a.is_finite() && b.is_finite()) {
            self.sums.push([0.0; 4]);
            return;
        }
        let origin = *self.origin.get_or_insert(a);
        let (a, b) = (a - origin, b - origin);
        self.sums.push([1.0, a, b, a * a + b * b]);
    }

    /// Its parcels.
    pub(crate) fn parcels(&self) -> &Parcels<4> {
        &self.sums
    }

    /// Units that count.
    pub(crate) fn count(&self) -> u64 {
        self.sums.total()[0] as u64
    }

    /// Sum over both samples.
    pub(crate) fn sum(&self) -> f64 {
        let [units, a, b, _] = self.sums.total();
        a + b + 2.0 * units * self.origin.unwrap_or(0.0)
    }

    /// Standard deviation, both samples together; `None` where there is no spread.
    pub(crate) fn sd(&self) -> Option<f64> {
        self.mean_and_variance(&self.sums.total()).map(|(_, variance)| variance.sqrt())
    }

    fn mean_and_variance(&self, sums: &[f64; 4]) -> Option<(f64, f64)> {
        let [units, a, b, squares] = sums;
        let count = 2.0 * units;
        let mean = (a + b) / count;
        let variance = squares / count - mean * mean;
        // Equal values differ from the origin by exactly nothing.
        (variance > 0.0).then_some((mean + self.origin?, variance))
    }
}

/// What taking a group from the second sample does, unit by unit.
#[derive(Clone, Debug)]
pub(crate) struct Mixed {
    origin: Option<f64>,
    /// Units, sum of c - a, of b times that, of its square.
    sums: Parcels<4>,
}

impl Mixed {
    /// None yet; see [`PickFreeze::new`].
    pub(crate) fn new(block: u64) -> Mixed {
        Mixed { origin: None, sums: Parcels::new(block) }
    }

    /// Adds a unit: a of the first sample, b of the second, c of the first with the group from the second.
    pub(crate) fn push(&mut self, a: f64, b: f64, c: f64) {
        if !(a.is_finite() && b.is_finite() && c.is_finite()) {
            self.sums.push([0.0; 4]);
            return;
        }
        let origin = *self.origin.get_or_insert(b);
        let change = c - a;
        self.sums.push([1.0, change, (b - origin) * change, change * change]);
    }

    /// Units that were added, whether they count or not.
    pub(crate) fn units(&self) -> u64 {
        self.sums.units()
    }

    /// Both indices, of sums over the same parcels.
    fn indices(&self, mean_and_variance: (f64, f64), sums: &[f64; 4]) -> [f64; 2] {
        let (mean, variance) = mean_and_variance;
        let [units, change, product, square] = sums;
        let mean = mean - self.origin.unwrap_or(0.0);
        [(product - mean * change) / (units * variance), square / (2.0 * units * variance)]
    }
}

/// What a group owns of a variance, as shares of 1.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Share {
    /// By itself: its first-order index.
    pub alone: Estimate,
    /// Its part in interactions included: its total index.
    pub in_all: Estimate,
}

/// The group that owns most, and how much more it owns than the next.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Lead {
    /// Number of the group that owns most in all.
    pub first: usize,
    /// Number of the next.
    pub second: usize,
    /// Difference of their shares in all.
    pub by: Estimate,
}

impl Lead {
    /// True when the interval leaves 0 out.
    pub(crate) fn is_told(&self) -> bool {
        self.by.low > 0.0
    }

    /// Units after which the interval of a lead like this one would leave 0 out: it shrinks as the root of the units. `None` where
    /// there is none to tell.
    pub(crate) fn units_to_tell(&self) -> Option<u64> {
        let widths = (self.by.value - self.by.low) / self.by.value;
        let units = self.by.count as f64 * widths * widths;
        (units.is_finite() && units < 1e15).then(|| units.ceil() as u64)
    }
}

/// How a variance is shared out.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Shares {
    /// One for each group; `None` where its units are not all there.
    pub groups: Vec<Option<Share>>,
    /// Sum of what they own alone; `None` where one is missing.
    pub alone: Option<Estimate>,
    /// What interactions own: the rest.
    pub together: Option<Estimate>,
    /// The largest; `None` with fewer than two.
    pub lead: Option<Lead>,
}

/// Shares the variance of two samples out among groups. `None` where there is no spread, or so little of it that a resample may
/// have none.
pub(crate) fn shares(
    samples: &PickFreeze,
    groups: &[&Mixed],
    resamples: &Resamples,
    confidence: f64,
) -> Option<Shares> {
    let whole = samples.mean_and_variance(&samples.sums.total())?;
    let redone: Vec<Option<(f64, f64)>> =
        resamples.sums(&samples.sums).iter().map(|sums| samples.mean_and_variance(sums)).collect();
    let lost = redone.iter().filter(|of| of.is_none()).count();
    if redone.len() < FEWEST_RESAMPLES * (lost + 1) {
        return None;
    }
    let estimate = |value: f64, redone: Vec<f64>| {
        let (low, high) = percentiles(redone, confidence);
        let method = "bootstrap, percentile";
        Estimate { value, low, high, confidence, method, count: samples.count() }
    };
    let indices = groups.iter().map(|mixed| {
        if mixed.units() != samples.sums.units() || mixed.sums.total()[0] == 0.0 {
            return None;
        }
        let each = redone.iter().zip(resamples.sums(&mixed.sums));
        let redone = each.filter_map(|(of, sums)| Some(mixed.indices((*of)?, &sums)));
        Some(Indices { of_all: mixed.indices(whole, &mixed.sums.total()), redone: redone.collect() })
    });
    let indices: Vec<Option<Indices>> = indices.collect();

    let all: Option<Vec<&Indices>> = indices.iter().map(Option::as_ref).collect();
    let sum = all.filter(|all| !all.is_empty()).map(|all| {
        let resamples = 0..all[0].redone.len();
        let redone = resamples.map(|i| all.iter().map(|of| of.redone[i][ALONE]).sum());
        (all.iter().map(|of| of.of_all[ALONE]).sum::<f64>(), redone.collect::<Vec<f64>>())
    });
    let rest = |(value, redone): (f64, Vec<f64>)| {
        estimate(1.0 - value, redone.into_iter().map(|sum| 1.0 - sum).collect())
    };
    let mut ranked: Vec<(usize, &Indices)> =
        indices.iter().enumerate().filter_map(|(group, of)| Some((group, of.as_ref()?))).collect();
    ranked.sort_by(|(_, a), (_, b)| b.of_all[IN_ALL].total_cmp(&a.of_all[IN_ALL]));
    let lead = match ranked.as_slice() {
        [(first, one), (second, other), ..] => {
            let redone = one.redone.iter().zip(&other.redone).map(|(one, other)| one[IN_ALL] - other[IN_ALL]);
            let by = estimate(one.of_all[IN_ALL] - other.of_all[IN_ALL], redone.collect());
            Some(Lead { first: *first, second: *second, by })
        }
        _ => None,
    };
    let share = |of: &Indices| Share {
        alone: estimate(of.of_all[ALONE], of.of(ALONE)),
        in_all: estimate(of.of_all[IN_ALL], of.of(IN_ALL)),
    };
    Some(Shares {
        groups: indices.iter().map(|of| of.as_ref().map(share)).collect(),
        alone: sum.clone().map(|(value, redone)| estimate(value, redone)),
        together: sum.map(rest),
        lead,
    })
}

const ALONE: usize = 0;
const IN_ALL: usize = 1;

/// First-order and total index of a group.
struct Indices {
    of_all: [f64; 2],
    /// The same of each resample.
    redone: Vec<[f64; 2]>,
}

impl Indices {
    fn of(&self, which: usize) -> Vec<f64> {
        self.redone.iter().map(|of| of[which]).collect()
    }
}

/// Resamples needed for each that has no spread: with more of those the interval would leave the worst cases out.
const FEWEST_RESAMPLES: usize = 50;

/// The two values between which the middle share of some values is.
fn percentiles(mut values: Vec<f64>, share: f64) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let beyond = (0.5 * (1.0 - share) * (values.len() + 1) as f64) as usize;
    let beyond = beyond.clamp(1, values.len()) - 1;
    (values[beyond], values[values.len() - 1 - beyond])
}

#[cfg(test)]
mod tests;
