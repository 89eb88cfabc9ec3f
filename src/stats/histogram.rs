//! Counts of a column's values in bins of one round width: what a picture of its spread is drawn from.

use super::Moments;

/// Most bins between the ends.
const MOST_BINS: f64 = 100.0;

/// Finest bin over the size of what is counted; finer ones would show the rounding of the values.
const FINEST: f64 = 1e-9;

/// Finest bin of all: what is smaller by far than any hardware's reach is zero.
const LEAST: f64 = 1e-12;

/// Counts in bins of equal width, whose ends are multiples of the width.
///
/// The width is 1, 2 or 5 times a power of ten, such that 40 to 101 bins hold the values from half their 1 to 99 % range below it
/// to half of it above, as far as there are any; for a normal distribution that is +/-4.7 standard deviations. What is farther out is
/// counted at either side. A value on an end belongs to the bin that begins there.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Histogram {
    width: Width,
    /// The lower end of the first bin, in widths.
    first: i64,
    /// Values below the first bin.
    pub below: u64,
    /// Values in each bin, ascending.
    pub counts: Vec<u64>,
    /// Values above the last bin.
    pub above: u64,
}

impl Histogram {
    /// Bins for values of some moments and of a 1st and a 99th percentile; `counts_below` gives how many values are below each of
    /// some ascending places. `None` without values.
    pub(super) fn new(
        moments: &Moments,
        [low, high]: [f64; 2],
        counts_below: impl FnOnce(&[f64]) -> Vec<u64>,
    ) -> Option<Histogram> {
        let Moments { count, min, max, .. } = *moments;
        let beyond = 0.5 * (high - low);
        if count == 0 || !(max - min).is_finite() {
            return None;
        }
        let (low, high) = match beyond > 0.0 {
            true => (min.max(low - beyond), max.min(high + beyond)),
            false => (min, max),
        };
        let size = low.abs().max(high.abs());
        let width = match high - low {
            span if span > 0.0 => (span / MOST_BINS).max(FINEST * size).max(LEAST),
            _ if size > 0.0 => (size / MOST_BINS).max(LEAST),
            _ => 1.0,
        };
        let width = Width::at_least(width);
        let (first, last) = (width.holding(low), width.holding(high));
        let ends: Vec<f64> = (first..=last + 1).map(|number| width.times(number)).collect();
        let below = counts_below(&ends);
        let counts = below.windows(2).map(|pair| pair[1] - pair[0]).collect();
        Some(Histogram { width, first, below: below[0], counts, above: count - below[below.len() - 1] })
    }

    /// Values counted.
    pub(crate) fn total(&self) -> u64 {
        self.below + self.counts.iter().sum::<u64>() + self.above
    }

    /// Where a bin begins; that of the number behind the last one is where the last one ends.
    pub(crate) fn end(&self, bin: usize) -> f64 {
        self.width.times(self.first + bin as i64)
    }

    /// Where the first bin begins and the last one ends.
    pub(crate) fn range(&self) -> (f64, f64) {
        (self.end(0), self.end(self.counts.len()))
    }

    /// The cumulative curve: each end of a bin with the share of the values below it.
    pub(crate) fn cumulative(&self) -> Vec<(f64, f64)> {
        let total = self.total() as f64;
        let mut below = self.below;
        let mut curve = vec![(self.end(0), below as f64 / total)];
        for (bin, count) in self.counts.iter().enumerate() {
            below += count;
            curve.push((self.end(bin + 1), below as f64 / total));
        }
        curve
    }

    /// The share of the values below a place, those of a bin taken to be spread evenly over it and those beyond the bins to be at their
    /// ends.
    pub(crate) fn share_below(&self, place: f64) -> f64 {
        let (low, high) = self.range();
        let (mut below, total) = (self.below as f64, self.total() as f64);
        if place <= low {
            return if place < low { 0.0 } else { below / total };
        }
        if place >= high {
            return if place > high { 1.0 } else { 1.0 - self.above as f64 / total };
        }
        for (bin, count) in self.counts.iter().enumerate() {
            let (start, end) = (self.end(bin), self.end(bin + 1));
            if place < end {
                return (below + *count as f64 * (place - start) / (end - start)) / total;
            }
            below += *count as f64;
        }
        below / total
    }

    /// The same values in at most `most` bins (at least 2), as few as possible taken together.
    pub(crate) fn coarser(&self, most: usize) -> Histogram {
        let mut width = self.width;
        loop {
            if let Some(joined) = width.over(self.width) {
                let first = self.first.div_euclid(joined);
                let last = (self.first + self.counts.len() as i64 - 1).div_euclid(joined);
                let bins = (last - first + 1) as usize;
                if bins <= most.max(2) {
                    let mut counts = vec![0; bins];
                    for (number, count) in (self.first..).zip(&self.counts) {
                        counts[(number.div_euclid(joined) - first) as usize] += count;
                    }
                    return Histogram { width, first, counts, ..*self };
                }
            }
            width = width.next();
        }
    }
}

/// Round ends that hold a range: multiples of a round number of a twentieth to an eighth of it.
pub(crate) fn round_ends(low: f64, high: f64) -> (f64, f64) {
    let size = low.abs().max(high.abs());
    let width = Width::at_least(((high - low) / 20.0).max(FINEST * size).max(LEAST));
    let (first, last) = (width.holding(low), width.holding(high));
    let is_end = width.times(last) == high && last > first;
    (width.times(first), width.times(if is_end { last } else { last + 1 }))
}

/// A round number: a factor of 1, 2 or 5 and a power of ten.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Width {
    factor: i64,
    power: i32,
}

impl Width {
    /// The least that is `least` or more.
    fn at_least(least: f64) -> Width {
        // Writing decimals is exact everywhere, a logarithm is not.
        let text = format!("{least:e}");
        let parts =
            text.split_once('e').and_then(|(of, power)| Some((of.parse().ok()?, power.parse().ok()?)));
        let (of, power): (f64, i32) = parts.unwrap_or((1.0, 0));
        let factor = [1, 2, 5].into_iter().find(|factor| of <= *factor as f64);
        factor.map_or(Width { factor: 1, power: power + 1 }, |factor| Width { factor, power })
    }

    /// The next larger one.
    fn next(self) -> Width {
        match self.factor {
            1 => Width { factor: 2, ..self },
            2 => Width { factor: 5, ..self },
            _ => Width { factor: 1, power: self.power + 1 },
        }
    }

    /// So many of it, rounded once, so that it prints as the round number that it is.
    fn times(self, number: i64) -> f64 {
        let ten = |power: u32| (0..power).fold(1.0, |product, _| product * 10.0);
        let whole = (number * self.factor) as f64;
        if self.power < 0 { whole / ten(self.power.unsigned_abs()) } else { whole * ten(self.power as u32) }
    }

    /// The number of the bin that a value is in.
    fn holding(self, value: f64) -> i64 {
        let mut number = (value / self.times(1)).floor() as i64;
        // The quotient is rounded; the ends decide.
        number -= i64::from(self.times(number) > value);
        number + i64::from(self.times(number + 1) <= value)
    }

    /// How many of a smaller one it is, where that is a whole number.
    fn over(self, smaller: Width) -> Option<i64> {
        let mine = self.factor * 10_i64.pow((self.power - smaller.power) as u32);
        (mine % smaller.factor == 0).then(|| mine / smaller.factor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::normal;
    use crate::random::{Key, draw};
    use crate::stats::Column;
    use crate::stats::column::EXACT;

    fn normals(count: u64) -> Vec<f64> {
        let mut values = vec![0.0; count as usize];
        draw::fill::<1>(Key::new(4, "histogram"), 0, 0, &mut values);
        normal::quantiles(&mut values);
        values
    }

    fn of(values: &[f64]) -> Option<Histogram> {
        let mut column = Column::new();
        column.keep(values);
        counted(values, &column)
    }

    fn counted(values: &[f64], column: &Column) -> Option<Histogram> {
        let moments = Moments::of(values);
        let of = column.percentiles(&moments, &[0.01, 0.99], 0.95);
        let ends = [of.first()?.value, of.last()?.value];
        column.histogram(&moments, ends)
    }

    #[test]
    fn widths_are_round_and_ends_print_so() {
        for (least, width) in
            [(0.031, 0.05), (0.05, 0.05), (0.051, 0.1), (1.0, 1.0), (1.1, 2.0), (73.0, 100.0)]
        {
            assert_eq!(Width::at_least(least).times(1), width);
        }
        let width = Width::at_least(0.1);
        let ends: Vec<String> = (-3..4).map(|number| width.times(number).to_string()).collect();
        assert_eq!(ends, ["-0.3", "-0.2", "-0.1", "0", "0.1", "0.2", "0.3"]);
        // 0.3 / 0.1 rounds to just below 3, and 0.3 is still the bin that begins there.
        assert_eq!([0.29, 0.3, -0.3, -0.31].map(|value| width.holding(value)), [2, 3, -3, -4]);
    }

    #[test]
    fn ends_are_round_and_hold_the_range() {
        for (low, high, ends) in [
            (-14.62, -11.0, (-14.8, -11.0)),
            (0.0, 0.73, (0.0, 0.75)),
            (-3.1, 7.9, (-4.0, 8.0)),
            (0.3, 0.3, (0.3, 0.3 + 1e-9)),
        ] {
            let (first, last) = round_ends(low, high);
            assert!((first - ends.0).abs() < 1e-9 && (last - ends.1).abs() < 1e-9, "{first} to {last}");
            assert!(first <= low && high <= last && first < last);
        }
    }

    #[test]
    fn counts_are_those_of_a_walk_over_the_values() {
        for count in [1, 2, 50, 3000] {
            let values = normals(count);
            let found = of(&values).unwrap();
            for (bin, counted) in found.counts.iter().enumerate() {
                let within = |x: &&f64| (found.end(bin)..found.end(bin + 1)).contains(*x);
                assert_eq!(*counted, values.iter().filter(within).count() as u64, "{count}, bin {bin}");
            }
            assert_eq!((found.total(), found.below, found.above), (count, 0, 0));
            let bins = found.counts.len();
            assert!(count < 50 || (40..=101).contains(&bins), "{bins} bins");
        }
    }

    #[test]
    fn what_strays_far_is_counted_beside() {
        let mut values = normals(2000);
        values.extend([400.0, 500.0, -1e9]);
        let found = of(&values).unwrap();
        assert_eq!((found.below, found.above, found.total()), (1, 2, 2003));
        assert!(found.counts.len() <= 101 && found.range().1 < 6.0);
    }

    #[test]
    fn equal_values_share_a_bin() {
        for value in [0.0, -11.0, 3e-7, 1e-40, 1e300] {
            let found = of(&[value; 70]).unwrap();
            assert_eq!(found.counts, [70]);
            assert!((found.end(0)..found.end(1)).contains(&value));
        }
        assert_eq!(of(&[]), None);
        // Two sizes, nearly all of one: the range is that of all values.
        let mut values = vec![2.0; 1000];
        values[7] = 3.0;
        let found = of(&values).unwrap();
        assert_eq!((found.counts[0], found.counts.last()), (999, Some(&1)));
    }

    /// As a run does it: the first values kept, the rest counted by whichever thread had them.
    #[test]
    fn the_order_and_the_parts_do_not_matter() {
        for count in [5000, EXACT, EXACT + 64 * 700] {
            let values = normals(count);
            let whole = of(&values).unwrap();
            let (first, rest) = values.split_at(values.len().min(EXACT as usize));
            for threads in [1, 2, 7] {
                let mut of_threads = vec![Column::new(); threads];
                for (number, chunk) in rest.chunks(64).enumerate() {
                    of_threads[number * number % threads].count(chunk);
                }
                let mut column = Column::new();
                first.chunks(64).rev().for_each(|chunk| column.keep(chunk));
                of_threads.iter().for_each(|of| column.merge(of));
                assert_eq!(counted(&values, &column).unwrap(), whole, "{count}, {threads} threads");
            }
            // One value more is seen.
            assert_ne!(of(&values[1..]).unwrap(), whole);
        }
    }

    #[test]
    fn binned_counts_are_close_to_those_of_the_values() {
        let values = normals(4 * EXACT);
        let found = of(&values).unwrap();
        assert_eq!(found.total(), 4 * EXACT);
        for (end, share) in found.cumulative() {
            let exact = values.iter().filter(|x| **x < end).count() as f64 / values.len() as f64;
            // A fine bin has a relative width of 1/512, so at 1 sd some 0.0005 of the values; they are spread over it.
            assert!((share - exact).abs() < 5e-5, "{end}: {share}, {exact}");
            // And within 4 standard errors of the distribution, at most 0.5/512 each.
            let expected = normal::probability(end);
            assert!((share - expected).abs() < 4.0 * 0.5 / 512.0, "{end}: {share}, {expected}");
        }
    }

    #[test]
    fn zeros_do_not_stray_below_zero() {
        let mut column = Column::new();
        let values: Vec<f64> = normals(1000).iter().map(|x| x.max(0.0)).collect();
        column.count(&values);
        let found = counted(&values, &column).unwrap();
        assert_eq!((found.end(0), found.below), (0.0, 0));
        assert!(found.counts[0] > 450);
    }

    #[test]
    fn bins_are_joined_to_round_ones() {
        let values = normals(3000);
        let fine = of(&values).unwrap();
        for most in [1, 2, 5, 12, 40, 1000] {
            let coarse = fine.coarser(most);
            assert!(coarse.counts.len() <= most.max(2) && coarse.total() == 3000, "{most}");
            for (end, share) in coarse.cumulative() {
                let exact = values.iter().filter(|x| **x < end).count() as f64 / 3000.0;
                assert!((share - exact).abs() < 1e-12, "{most}: {end}");
            }
        }
        assert_eq!(fine.coarser(1000), fine);
    }

    #[test]
    fn the_cumulative_curve_is_read_between_its_ends() {
        let found = of(&normals(3000)).unwrap();
        for pair in found.cumulative().windows(2) {
            let middle = found.share_below(0.5 * (pair[0].0 + pair[1].0));
            assert!((middle - 0.5 * (pair[0].1 + pair[1].1)).abs() < 1e-12);
        }
        let (low, high) = found.range();
        assert_eq!((found.share_below(low - 1.0), found.share_below(high + 1.0)), (0.0, 1.0));
    }
}
