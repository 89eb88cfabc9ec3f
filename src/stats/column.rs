//! The order statistics of one column of results, from parts.

use super::bins::{Bins, PAGE_BYTES};
use super::estimate::{ORDER_STATISTICS, ORDER_STATISTICS_BY_LOTS, RANGE, RANGE_BY_LOTS};
use super::moments::finite;
use super::quantile::{interpolate, put_in_place, ranks};
use super::{Estimate, Histogram, Moments};
use crate::math::scalar;
use serde::{Deserialize, Serialize};
use std::cell::RefCell;
use std::fmt;

/// Values kept one by one up to this count, where there is room.
pub(crate) const EXACT: u64 = 65_536;

/// The room that a column may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Room {
    /// Values that are kept one by one, a multiple of 64 up to [`EXACT`].
    pub exact: u64,
    /// Pages that values are counted in.
    pages: usize,
}

/// Room for the kept values of all columns together, and for the bins of all of them, bytes.
const KEPT_BYTES: usize = 96 << 20;
const BIN_BYTES: usize = 128 << 20;

/// Pages that a column uses, as a rule: values of either sign over some octaves.
const USUAL_PAGES: usize = 96;

impl Room {
    /// Of a column by itself.
    pub(crate) const ALONE: Room = Room { exact: EXACT, pages: BIN_BYTES / PAGE_BYTES };

    /// Of each of so many columns: all of them together take no more than some 130 MB, however many values they hold. Up to 192
    /// columns nothing is lost by it.
    pub(crate) fn of_each(columns: usize) -> Room {
        let columns = columns.max(1);
        let values = (KEPT_BYTES / columns / size_of::<f64>()) as u64;
        Room { exact: (values / 64 * 64).min(EXACT), pages: BIN_BYTES / columns / PAGE_BYTES }
    }

    /// What a column takes, bytes, when it holds so many values.
    pub(crate) fn bytes(&self, values: u64) -> u64 {
        let kept = values.min(self.exact) * size_of::<f64>() as u64;
        let bins = if values > self.exact { (self.pages.min(USUAL_PAGES) * PAGE_BYTES) as u64 } else { 0 };
        kept.max(bins)
    }
}

/// The values of a column as far as percentiles need them; what is no finite number is left out.
///
/// Up to 65,536 values are kept and percentiles are exact; beyond, only counts in fixed bins of a
/// relative width of 2^-9 are kept, so a percentile is off by a relative 2^-9 (0.2 %) at worst and far less
/// where many values are (1e-5 to 1e-4). Sizes below 2^-40 count as zero. Values that were
/// counted in bins from the start, by [`Column::count`], make all of the column binned. Where the [`Room`] is less than that of a
/// column alone fewer values are kept, and bins may be wider by a power of 2.
///
/// The percentiles are a pure function of the values, whatever their order and the parts they came in.
///
/// Memory: 8 bytes a value up to 512 KiB, then 512 bytes for each eighth of an octave and sign in which values are,
/// as a rule less than 64 KiB.
#[derive(Clone, Serialize, Deserialize)]
pub(crate) struct Column {
    /// All values, or none once they are counted in bins.
    kept: Vec<f64>,
    bins: Bins,
    exact: u64,
}

impl Default for Column {
    fn default() -> Column {
        Column::new()
    }
}

/// How many values are kept, not which: they are too many to read.
impl fmt::Debug for Column {
    fn fmt(&self, to: &mut fmt::Formatter) -> fmt::Result {
        to.debug_struct("Column").field("kept", &self.kept.len()).finish_non_exhaustive()
    }
}

impl Column {
    /// A column without values, alone.
    pub(crate) fn new() -> Self {
        Self::within(Room::ALONE)
    }

    /// A column without values that takes no more than some room.
    pub(crate) fn within(room: Room) -> Self {
        Column { kept: Vec::new(), bins: Bins::new(room.pages), exact: room.exact }
    }

    /// The values that are kept, in the order they came in.
    pub(crate) fn first(&self) -> &[f64] {
        &self.kept
    }

    /// Takes in some values, one by one while they are few.
    pub(crate) fn keep(&mut self, values: &[f64]) {
        self.kept.extend_from_slice(&finite(values));
        self.settle();
    }

    /// Counts some values in bins.
    pub(crate) fn count(&mut self, values: &[f64]) {
        finite(values).iter().for_each(|x| self.bins.push(*x));
    }

    /// Takes in all values of `other`.
    pub(crate) fn merge(&mut self, other: &Self) {
        self.kept.extend_from_slice(&other.kept);
        self.bins.merge(&other.bins);
        self.settle();
    }

    /// The quantiles `p`, each with an interval from order statistics that holds the distribution's quantile at
    /// `confidence` or more; empty for an empty column. `moments` are those of the same values: they know
    /// how many there are, and the ends of their range exactly.
    ///
    /// Where the values are too few for that confidence the interval is the range of the values,
    /// `confidence` what that range has, and the method says so.
    pub(crate) fn percentiles(&self, moments: &Moments, p: &[f64], confidence: f64) -> Vec<Estimate> {
        let all: Vec<(f64, u64)> = p.iter().map(|p| (*p, moments.count)).collect();
        self.estimates(moments, &all, confidence)
    }

    /// The same of values that share lots. `effect` says how many of them tell as much as one independent value whether values are
    /// at most so large: the interval of the share below the quantile is that of so many fewer values, and its ends are read
    /// off all of them (Woodruff, Journal of the American Statistical Association 47 (1952), 635-646).
    pub(crate) fn percentiles_by_lots(
        &self,
        moments: &Moments,
        p: &[f64],
        confidence: f64,
        effect: impl Fn(f64) -> f64,
    ) -> Vec<Estimate> {
        let all = self.percentiles(moments, p, confidence);
        let fewer = |of: &Estimate| ((of.count as f64 / effect(of.value)) as u64).clamp(1, of.count);
        let effective: Vec<(f64, u64)> = p.iter().zip(&all).map(|(p, of)| (*p, fewer(of))).collect();
        let mut found = self.estimates(moments, &effective, confidence);
        for of in &mut found {
            of.method = match of.method {
                ORDER_STATISTICS => ORDER_STATISTICS_BY_LOTS,
                _ => RANGE_BY_LOTS,
            };
        }
        found
    }

    /// Quantiles, each with the number of independent values that its interval rests on.
    fn estimates(&self, moments: &Moments, p: &[(f64, u64)], confidence: f64) -> Vec<Estimate> {
        let Moments { count, min, max, .. } = *moments;
        if count == 0 {
            return Vec::new();
        }
        let estimate = |(p, independent): (f64, u64), order: &dyn Fn(u64) -> f64| {
            let value = interpolate(count, p, order);
            let ranks = ranks(independent, p, confidence).map(|(low, high, _)| {
                // Whole ranks stay what they are where all values are independent.
                let share = count as f64 / independent as f64;
                let low = 1 + ((low - 1) as f64 * share) as u64;
                let high = (high as f64 * share).ceil() as u64;
                (low.min(count), high.clamp(1, count))
            });
            match ranks {
                Some((low, high)) => Estimate {
                    value,
                    low: order(low - 1),
                    high: order(high - 1),
                    confidence,
                    method: ORDER_STATISTICS,
                    count,
                },
                None => Estimate {
                    value,
                    low: min,
                    high: max,
                    confidence: range_confidence(independent, p),
                    method: RANGE,
                    count,
                },
            }
        };
        // Few places are asked for, so the values are not sorted: what stands at those places is found.
        let asked = RefCell::new(Vec::new());
        let ask = |i: u64| {
            asked.borrow_mut().push(i as usize);
            0.0
        };
        for p in p {
            estimate(*p, &ask);
        }
        let mut asked = asked.into_inner();
        asked.sort_unstable();
        asked.dedup();
        let mut values = self.kept.clone();
        put_in_place(&mut values, &asked, 0);
        let order =
            |i: u64| values.get(i as usize).copied().unwrap_or_else(|| self.bins.order(i).clamp(min, max));
        p.iter().map(|p| estimate(*p, &order)).collect()
    }

    /// Counts of the values in round bins; `None` for an empty column. `moments` are those of the same values, `ends` their 1st and
    /// 99th percentiles. Like the percentiles a pure function of the values.
    pub(crate) fn histogram(&self, moments: &Moments, ends: [f64; 2]) -> Option<Histogram> {
        Histogram::new(moments, ends, |places| {
            if self.bins.is_empty() {
                counts_below(&self.kept, places)
            } else {
                self.bins.counts_below(places, moments.min, moments.max)
            }
        })
    }

    /// Counts the kept values in bins and forgets them, if they are too many or not all there are.
    fn settle(&mut self) {
        if self.kept.len() as u64 > self.exact || !self.bins.is_empty() {
            let kept = std::mem::take(&mut self.kept);
            self.count(&kept);
        }
    }
}

/// How many values are below each of some ascending places, equally far apart but for rounding.
fn counts_below(values: &[f64], places: &[f64]) -> Vec<u64> {
    let (low, last) = (places[0], places.len() - 1);
    let per_value = last as f64 / (places[last] - low);
    // By the number of places that are no higher than the value.
    let mut counts = vec![0; places.len() + 1];
    for x in values {
        let mut reached = (((x - low) * per_value) as usize).min(last);
        // The product is rounded; the places decide.
        while reached <= last && places[reached] <= *x {
            reached += 1;
        }
        while reached > 0 && places[reached - 1] > *x {
            reached -= 1;
        }
        counts[reached] += 1;
    }
    let mut below = 0;
    let sum = |count: &u64| {
        below += count;
        below
    };
    counts[..places.len()].iter().map(sum).collect()
}

/// The probability that the quantile `p` of a continuous distribution is within the range of `count`
/// values: neither all above nor all below.
fn range_confidence(count: u64, p: f64) -> f64 {
    let count = count as f64;
    let p = p.clamp(0.0, 1.0);
    (1.0 - scalar::pow(p, count) - scalar::pow(1.0 - p, count)).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::super::quantile::of_sorted;
    use super::*;
    use crate::math::normal;
    use crate::random::{Key, draw};

    const PROBABILITIES: [f64; 7] = [0.001, 0.01, 0.05, 0.3, 0.6, 0.95, 0.999];

    fn normals(count: u64) -> Vec<f64> {
        let mut values = vec![0.0; count as usize];
        draw::fill::<1>(Key::new(9, "column"), 0, 0, &mut values);
        normal::quantiles(&mut values);
        values
    }

    fn of(values: &[f64]) -> Column {
        let mut column = Column::new();
        column.keep(values);
        column
    }

    fn counted(values: &[f64]) -> Column {
        let mut column = Column::new();
        column.count(values);
        column
    }

    fn percentiles(values: &[f64], column: &Column) -> Vec<Estimate> {
        column.percentiles(&Moments::of(values), &PROBABILITIES, 0.95)
    }

    fn percentile(values: &[f64], p: f64) -> Option<Estimate> {
        of(values).percentiles(&Moments::of(values), &[p], 0.95).pop()
    }

    fn sorted(mut values: Vec<f64>) -> Vec<f64> {
        values.sort_by(f64::total_cmp);
        values
    }

    #[test]
    fn percentiles_are_exact_up_to_the_limit_and_binned_beyond() {
        for (count, exact) in [(1, true), (1000, true), (EXACT, true), (EXACT + 1, false)] {
            let values = normals(count);
            let found = percentiles(&values, &of(&values));
            let values = sorted(values);
            let same = found.iter().zip(PROBABILITIES).all(|(found, p)| found.value == of_sorted(&values, p));
            assert_eq!(same, exact, "{count}");
        }
    }

    #[test]
    fn the_interval_stands_on_the_ranks() {
        let values = normals(1000);
        let found = percentile(&values, 0.95).unwrap();
        let values = sorted(values);
        // Ranks 936 and 964 of 1000: see the table in `quantile`.
        assert_eq!((found.low, found.high), (values[935], values[963]));
        assert_eq!((found.confidence, found.count), (0.95, 1000));
        assert_eq!(found.method, "order statistics");
    }

    #[test]
    fn few_values_give_their_range_and_say_so() {
        let found = percentile(&normals(20), 0.99).unwrap();
        let values = sorted(normals(20));
        assert_eq!((found.low, found.high), (values[0], values[19]));
        assert!((found.confidence - (1.0 - 0.99_f64.powi(20))).abs() < 1e-12);
        assert!(found.method.starts_with("range"));
        assert_eq!(percentile(&[2.0], 0.5).unwrap().confidence, 0.0);
        assert_eq!(percentile(&[], 0.5), None);
    }

    #[test]
    fn the_order_and_the_parts_do_not_matter() {
        for count in [5_000, EXACT, 3 * EXACT] {
            let values = normals(count);
            let whole = percentiles(&values, &of(&values));
            let backwards: Vec<f64> = values.iter().rev().copied().collect();
            for part in [64, 1_000, 40_000, 150_000] {
                let mut merged = Column::new();
                backwards.chunks(part).for_each(|part| merged.merge(&of(part)));
                assert_eq!(percentiles(&values, &merged), whole, "{count}, {part}");
            }
        }
    }

    /// As a run does it: the first values kept, the rest counted by whichever thread had them.
    #[test]
    fn kept_and_counted_parts_are_one_column() {
        let values = normals(EXACT + 64 * 700);
        let whole = percentiles(&values, &of(&values));
        let (first, rest) = values.split_at(EXACT as usize);
        for step in [1, 3, 11] {
            let mut column = of(first);
            let chunks: Vec<&[f64]> = rest.chunks(64).collect();
            (0..700).for_each(|number| column.merge(&counted(chunks[number * step % 700])));
            assert_eq!(percentiles(&values, &column), whole, "{step}");
        }
        // What does not belong is seen.
        let mut column = of(&values);
        column.merge(&counted(&[-9.0; 64 * 5]));
        assert_ne!(percentiles(&values, &column), whole);
    }

    #[test]
    fn a_single_counted_value_makes_all_of_a_column_binned() {
        let mut column = of(&normals(1000));
        assert_eq!(column.kept.len(), 1000);
        column.merge(&counted(&[0.5]));
        assert!(column.kept.is_empty());
    }

    /// However many columns there are, all of them stay within their room, and percentiles close to the exact ones.
    #[test]
    fn little_room_holds_any_number_of_values() {
        assert_eq!(Room::of_each(192), Room { exact: EXACT, pages: 1365 });
        assert_eq!(Room::of_each(1), Room::ALONE);
        let values = normals(100_000);
        let sorted = sorted(values.clone());
        for (columns, typical) in [(5_000, 1e-3), (32_000, 2e-2)] {
            let room = Room::of_each(columns);
            assert!(columns as u64 * room.bytes(u64::MAX) <= 128 << 20 && room.exact < EXACT);
            let mut column = Column::within(room);
            values.chunks(64).for_each(|chunk| column.keep(chunk));
            let found = column.percentiles(&Moments::of(&values), &PROBABILITIES, 0.95);
            for (p, found) in PROBABILITIES.iter().zip(found) {
                let exact = of_sorted(&sorted, *p);
                assert!(
                    (found.value / exact - 1.0).abs() < typical,
                    "{columns}, {p}: {} {exact}",
                    found.value
                );
            }
        }
    }

    #[test]
    fn what_is_no_number_is_left_out() {
        let (kept, counted) = (of(&[f64::NAN, 1.0]), counted(&[f64::INFINITY, f64::NAN]));
        assert_eq!(kept.kept, [1.0]);
        assert!(counted.bins.is_empty());
    }

    #[test]
    fn binned_percentiles_of_a_million_values_are_close() {
        let values = normals(1_000_000);
        let column = of(&values);
        assert!(column.kept.is_empty());
        let found = percentiles(&values, &column);
        let ends = column.percentiles(&Moments::of(&values), &[0.0, 1.0], 0.95);
        let values = sorted(values);
        for (p, found) in PROBABILITIES.iter().zip(found) {
            let (low, high, _) = ranks(1_000_000, *p, 0.95).unwrap();
            let exact = [of_sorted(&values, *p), values[low as usize - 1], values[high as usize - 1]];
            for (found, exact) in [found.value, found.low, found.high].iter().zip(exact) {
                let error = (found / exact - 1.0).abs();
                let typical = if (0.01..0.99).contains(p) { 2e-4 } else { 1.0 / 512.0 };
                assert!(error < typical, "{p}: {found}, {exact}: {error}");
            }
        }
        assert!((ends[0].value / values[0] - 1.0).abs() < 1.0 / 512.0);
        assert!((ends[1].value / values[999_999] - 1.0).abs() < 1.0 / 512.0);
    }
}
