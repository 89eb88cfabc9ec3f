//! Units that share a lot are not independent: what is estimated from them varies from lot to lot.
//!
//! The variance of a share, of a difference of shares or of a mean is taken from sums over lots (Cochran, Sampling Techniques, 1977,
//! section 9.7: a ratio of two sums over clusters), so whatever the units of a lot share is in it. A share's interval is that of fewer,
//! independent units: Korn & Graubard, Survey Methodology 24 (1998), 193-201.

use super::estimate::CLOPPER_PEARSON_BY_LOTS;
use super::{Estimate, student};
use crate::math::{beta, normal};
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// At most as many lots are called few where an interval stands on them.
pub(crate) const FEW: u64 = 10;

/// Sums over lots of neighbouring units; the first and the last lot may be short. The bits do not depend on how the units come in, those of
/// sums of values but for where they are merged.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Lots {
    /// Units of a lot.
    size: u64,
    /// Place of the first unit in its lot.
    start: u64,
    /// Place of the next unit.
    place: u64,
    /// The lot that began before the first unit, once it is closed.
    first: Option<Lot>,
    /// Whether the open lot is that one.
    is_in_first: bool,
    open: Lot,
    /// What the sums of values are counted from, so that a large common offset does no harm.
    origin: Option<f64>,
    /// Lots that are closed and have a member, but for the first.
    closed: Sums,
}

/// What a lot holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
struct Lot {
    /// Units that count.
    members: f64,
    sum: f64,
    /// Units of which something is seen: that pass, or that differ.
    seen: f64,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
struct Sums {
    lots: u64,
    /// Lots of which a unit is seen.
    seen: u64,
    /// Lots of which a unit is not.
    unseen: u64,
    members: f64,
    sum: f64,
    members_squared: f64,
    members_by_sum: f64,
    sum_squared: f64,
}

impl Lot {
    fn add(&mut self, next: &Lot) {
        self.members += next.members;
        self.sum += next.sum;
        self.seen += next.seen;
    }

    /// The same with all values larger by `by`.
    fn shifted(&self, by: f64) -> Lot {
        Lot { sum: self.sum + by * self.members, ..*self }
    }
}

impl Sums {
    fn merge(&mut self, next: &Sums) {
        self.lots += next.lots;
        self.seen += next.seen;
        self.unseen += next.unseen;
        self.members += next.members;
        self.sum += next.sum;
        self.members_squared += next.members_squared;
        self.members_by_sum += next.members_by_sum;
        self.sum_squared += next.sum_squared;
    }

    /// The same with all values larger by `by`.
    fn shifted(&self, by: f64) -> Sums {
        Sums {
            sum: self.sum + by * self.members,
            members_by_sum: self.members_by_sum + by * self.members_squared,
            sum_squared: self.sum_squared + 2.0 * by * self.members_by_sum + by * by * self.members_squared,
            ..*self
        }
    }

    fn add(&mut self, lot: &Lot) {
        if lot.members == 0.0 {
            return;
        }
        self.lots += 1;
        self.seen += u64::from(lot.seen > 0.0);
        self.unseen += u64::from(lot.seen < lot.members);
        self.members += lot.members;
        self.sum += lot.sum;
        self.members_squared += lot.members * lot.members;
        self.members_by_sum += lot.members * lot.sum;
        self.sum_squared += lot.sum * lot.sum;
    }
}

impl Lots {
    /// Of no units, `size` to a lot.
    pub(crate) fn new(size: u64) -> Lots {
        Lots::starting(size, 0)
    }

    /// The same from some unit on; lots are counted from the unit 0.
    pub(crate) fn starting(size: u64, unit: u64) -> Lots {
        let size = size.max(1);
        let place = unit % size;
        Lots {
            size,
            start: place,
            place,
            first: None,
            is_in_first: place > 0,
            open: Lot::default(),
            origin: None,
            closed: Sums::default(),
        }
    }

    /// Adds the units that follow, which were summed by themselves.
    pub(crate) fn merge(&mut self, next: &Lots) {
        debug_assert_eq!((self.size, self.place), (next.size, next.start), "units that follow");
        let by = match (self.origin, next.origin) {
            (Some(own), Some(other)) => other - own,
            _ => 0.0,
        };
        self.origin = self.origin.or(next.origin);
        if let Some(first) = &next.first {
            self.open.add(&first.shifted(by));
            self.close();
        }
        self.closed.merge(&next.closed.shifted(by));
        self.open.add(&next.open.shifted(by));
        self.place = next.place;
    }

    fn close(&mut self) {
        let lot = std::mem::take(&mut self.open);
        if self.is_in_first {
            self.first = Some(lot);
        } else {
            self.closed.add(&lot);
        }
        (self.is_in_first, self.place) = (false, 0);
    }

    /// Adds the next units, at most 64: those whose bit is set, the first one lowest, count one each.
    pub(crate) fn push_word(&mut self, units: usize, word: u64) {
        self.push_difference(units, word, 0);
    }

    /// The same with a bit for what counts one, and a bit for what counts less than nothing by as much.
    pub(crate) fn push_difference(&mut self, units: usize, more: u64, less: u64) {
        self.push(units, |units, lot| {
            let count = |word: u64| f64::from((word & bits(&units)).count_ones());
            lot.members += units.len() as f64;
            lot.sum += count(more) - count(less);
            lot.seen += count(more | less);
        });
    }

    /// Adds the values of the next units; what is no finite number does not count.
    pub(crate) fn push_values(&mut self, values: &[f64]) {
        let origin = self.origin.or_else(|| values.iter().copied().find(|x| x.is_finite()));
        self.origin = origin;
        let Some(origin) = origin else { return self.push(values.len(), |_, _| {}) };
        self.push(values.len(), |units, lot| {
            for x in values[units].iter().filter(|x| x.is_finite()) {
                lot.members += 1.0;
                lot.sum += x - origin;
            }
        });
    }

    fn push(&mut self, units: usize, add: impl Fn(Range<usize>, &mut Lot)) {
        let mut from = 0;
        while from < units {
            let left = usize::try_from(self.size - self.place).unwrap_or(usize::MAX);
            let to = from + left.min(units - from);
            add(from..to, &mut self.open);
            self.place += (to - from) as u64;
            if self.place == self.size {
                self.close();
            }
            from = to;
        }
    }

    fn sums(&self) -> Sums {
        let mut sums = self.closed;
        self.first.iter().chain([&self.open]).for_each(|lot| sums.add(lot));
        sums
    }

    /// How what was summed varies from lot to lot, over each unit that counts.
    pub(crate) fn by_lots(&self) -> ByLots {
        let of = self.sums();
        let mean = of.sum / of.members;
        let (lots, units) = (of.lots as f64, of.members);
        let squares = of.sum_squared - 2.0 * mean * of.members_by_sum + mean * mean * of.members_squared;
        ByLots {
            lots: of.lots,
            equal_lots: units * units / of.members_squared,
            units,
            mean,
            variance: if of.lots < 2 {
                f64::NAN
            } else {
                lots / (lots - 1.0) * squares.max(0.0) / (units * units)
            },
            seen: of.seen,
            unseen: of.unseen,
        }
    }
}

/// The bits of some units of a word.
fn bits(units: &Range<usize>) -> u64 {
    let below = |unit: usize| if unit >= 64 { u64::MAX } else { (1 << unit) - 1 };
    below(units.end) & !below(units.start)
}

/// How a share, a difference of shares, or a mean varies from lot to lot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ByLots {
    /// Lots.
    pub lots: u64,
    /// As many lots of equal size would tell as much: (sum m)^2 / sum m^2 of lots of m units (Kish, Survey Sampling, 1965).
    pub equal_lots: f64,
    /// Units that count.
    pub units: f64,
    /// The share, or the difference; of values, from the first of them.
    pub mean: f64,
    /// Variance of that, from lot to lot; NaN for fewer than two lots.
    pub variance: f64,
    /// Lots of which a unit passes, or differs.
    pub seen: u64,
    /// Lots of which a unit fails.
    unseen: u64,
}

impl ByLots {
    /// Independent units that would tell a share as well.
    pub(crate) fn effective_units(&self, confidence: f64) -> f64 {
        let by_units = self.mean * (1.0 - self.mean) / self.units;
        self.effective(by_units, self.seen.min(self.unseen), confidence)
    }

    /// Independent units that would tell as much of something whose variance were `by_units` if all units were independent.
    ///
    /// As many as have the variance that is found from lot to lot, but no more than there are; fewer by what Student's t takes away for
    /// a variance from few lots. Only `contributing` lots, those in which the rarer verdict is found, tell that variance, so they are its
    /// degrees of freedom (own addition: a single failing lot tells no variance). Never fewer than lots: were the units of each lot all
    /// alike, each lot would be one independent unit. Where all units agree nothing is known of the variance, and that is taken.
    pub(super) fn effective(&self, by_units: f64, contributing: u64, confidence: f64) -> f64 {
        let effect = self.variance / by_units;
        let freedom = contributing.min(self.lots.saturating_sub(1));
        if freedom == 0 || !effect.is_finite() {
            return self.equal_lots;
        }
        let ratio = normal::quantile(0.5 + 0.5 * confidence) / student::quantile(confidence, freedom);
        (self.units / effect.max(1.0) * ratio * ratio).max(self.equal_lots).min(self.units)
    }

    /// Another share of the same units that varies as much beside units that are independent.
    pub(crate) fn at_share(&self, share: f64) -> ByLots {
        let alone = |share: f64| share * (1.0 - share);
        ByLots { mean: share, variance: self.variance * alone(share) / alone(self.mean), ..*self }
    }

    /// The share with its interval: Clopper and Pearson's of the effective number of units, the same share of which pass.
    pub(crate) fn share(&self, confidence: f64) -> Estimate {
        let units = self.effective_units(confidence);
        let (low, high) = self.ends(units, confidence);
        Estimate {
            value: self.mean,
            low,
            high,
            confidence,
            method: CLOPPER_PEARSON_BY_LOTS,
            count: self.units as u64,
        }
    }

    fn ends(&self, units: f64, confidence: f64) -> (f64, f64) {
        if self.lots == 0 {
            return (0.0, 1.0);
        }
        let tail = 0.5 * (1.0 - confidence);
        let passed = (self.mean * units).min(units);
        // What rounds is no failure.
        let failed = if self.mean >= 1.0 { 0.0 } else { units - passed };
        let low = beta::probability_at_tail(passed, units, tail).success;
        let high = beta::probability_at_tail(failed, units, tail).failure;
        (low.min(self.mean), high.max(self.mean))
    }

    /// Units that tell as much as one independent unit does.
    pub(crate) fn design_effect(&self, confidence: f64) -> f64 {
        self.units / self.effective_units(confidence)
    }

    /// Whether half the length of the share's interval is at most `half_width`.
    pub(crate) fn is_tight(&self, confidence: f64, half_width: f64) -> bool {
        let units = self.effective_units(confidence);
        // The exact interval takes longer, and decides only where this one is met.
        if super::stopping::rough_half_width(self.mean, units, confidence) > half_width {
            return false;
        }
        let (low, high) = self.ends(units, confidence);
        0.5 * (high - low) <= half_width
    }
}

#[cfg(test)]
mod tests;
