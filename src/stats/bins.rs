//! Counts of values in fixed bins of equal relative width: a summary of any number of values that
//! merges without loss and does not depend on their order.

use serde::{Deserialize, Serialize};

/// Bins an octave, set by the mantissa's upper 9 bits.
const PER_OCTAVE: usize = 1 << MANTISSA_BITS;
const MANTISSA_BITS: u32 = 9;
/// A double's bits below those that choose the bin.
const DROPPED_BITS: u32 = 52 - MANTISSA_BITS;
/// Sizes below 2^-40 share the bin of zero.
const SMALLEST: f64 = 1.0 / (1_u64 << 40) as f64;
/// Octaves of finite doubles from [`SMALLEST`] up.
const OCTAVES: usize = 1024 + 40;
/// The last bin.
const MOST_BIN: usize = 2 * OCTAVES * PER_OCTAVE;
/// The bin of zero; those of negative values are before it.
const ZERO: usize = OCTAVES * PER_OCTAVE;
/// Bins of a page.
const PER_PAGE: usize = 64;
/// Room that a page takes, bytes.
pub(super) const PAGE_BYTES: usize = PER_PAGE * size_of::<u64>();
/// The place of a page that is not in use.
const NOWHERE: u16 = u16::MAX;

/// Counts by bin. A page of counts holds an eighth of an octave of one sign and is made when a value first falls into it; a table says
/// where each page between the lowest and the highest is kept, so that counting a value is two look-ups.
///
/// Where more pages would be in use than there may be, neighbouring bins are joined, two to one, until they fit. How often
/// is the fewest times that all values need, in whatever order they come: they are never joined further than that, and
/// while fewer values fit no better.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(from = "Written", into = "Written")]
pub(super) struct Bins {
    /// How often bins were joined: one is 2^-9 wide, times 2 as often.
    joined: u32,
    /// Pages that may be in use.
    most: usize,
    /// The page that the first of `places` is of.
    first_page: usize,
    /// Place of each page among those in use; empty before the first value.
    places: Vec<u16>,
    counts: Vec<u64>,
}

/// Bins written down: those in use, ascending, whatever the order in which they came to be.
#[derive(Serialize, Deserialize)]
struct Written {
    joined: u32,
    most: usize,
    used: Vec<(usize, u64)>,
}

impl From<Bins> for Written {
    fn from(of: Bins) -> Written {
        Written { joined: of.joined, most: of.most, used: of.used().collect() }
    }
}

impl From<Written> for Bins {
    fn from(of: Written) -> Bins {
        let mut bins = Bins { joined: of.joined, ..Bins::new(of.most) };
        for (bin, count) in of.used {
            // What is written fits, unless somebody else wrote it.
            bins.add(joined(bin.min(MOST_BIN), bins.joined - of.joined), count);
        }
        bins
    }
}

impl Bins {
    /// Without values, in so many pages at most; at least three are, for zero and either sign.
    pub(super) fn new(most: usize) -> Bins {
        Bins {
            joined: 0,
            most: most.clamp(3, usize::from(NOWHERE)),
            first_page: 0,
            places: Vec::new(),
            counts: Vec::new(),
        }
    }

    /// Counts a finite value.
    pub(super) fn push(&mut self, x: f64) {
        self.add(joined(bin_of(x), self.joined), 1);
    }

    pub(super) fn merge(&mut self, other: &Self) {
        while self.joined < other.joined {
            self.join();
        }
        for (bin, count) in other.used() {
            // Each step may join these bins further.
            self.add(joined(bin, self.joined - other.joined), count);
        }
    }

    /// Whether no value is counted.
    pub(super) fn is_empty(&self) -> bool {
        self.counts.is_empty()
    }

    /// The value at place `i` from 0 in ascending order: the values of a bin are taken to be spread
    /// evenly over it. NaN if there are not so many.
    pub(super) fn order(&self, i: u64) -> f64 {
        let mut before = 0;
        for (bin, count) in self.used() {
            if i < before + count {
                let (low, high) = ends(bin, self.joined);
                let place = ((i - before) as f64 + 0.5) / count as f64;
                return low + (high - low) * place;
            }
            before += count;
        }
        f64::NAN
    }

    /// How many values are below each of some ascending places: the values of a bin are taken to be spread evenly over the part of it
    /// between `min` and `max`.
    pub(super) fn counts_below(&self, places: &[f64], min: f64, max: f64) -> Vec<u64> {
        let mut found = Vec::with_capacity(places.len());
        let mut before = 0;
        for (bin, count) in self.used() {
            let (low, high) = ends(bin, self.joined);
            let (low, high) = (low.clamp(min, max), high.clamp(min, max));
            while let Some(place) = places.get(found.len())
                && (*place <= low || *place < high)
            {
                let part = if *place <= low { 0.0 } else { (place - low) / (high - low) };
                found.push(before + (part * count as f64) as u64);
            }
            before += count;
        }
        found.resize(places.len(), before);
        found
    }

    /// Adds to a bin, which is joined as often as these are.
    #[inline(always)]
    fn add(&mut self, bin: usize, count: u64) {
        let page = bin / PER_PAGE;
        match self.places.get(page.wrapping_sub(self.first_page)) {
            Some(place) if *place != NOWHERE => {
                self.counts[usize::from(*place) * PER_PAGE + bin % PER_PAGE] += count;
            }
            _ => self.add_on_new_page(bin, count),
        }
    }

    #[cold]
    fn add_on_new_page(&mut self, bin: usize, count: u64) {
        if self.counts.len() == self.most * PER_PAGE {
            let before = self.joined;
            self.join();
            return self.add(joined(bin, self.joined - before), count);
        }
        let page = bin / PER_PAGE;
        if self.places.is_empty() {
            self.first_page = page;
        }
        if page < self.first_page {
            let more = self.first_page - page;
            self.places.splice(..0, std::iter::repeat_n(NOWHERE, more));
            self.first_page = page;
        }
        let at = page - self.first_page;
        if at >= self.places.len() {
            self.places.resize(at + 1, NOWHERE);
        }
        self.places[at] = (self.counts.len() / PER_PAGE) as u16;
        self.counts.resize(self.counts.len() + PER_PAGE, 0);
        self.add(bin, count);
    }

    /// Joins bins two by two.
    #[cold]
    fn join(&mut self) {
        let mut wider = Bins { joined: self.joined + 1, ..Bins::new(self.most) };
        for (bin, count) in self.used() {
            let further = wider.joined - self.joined;
            wider.add(joined(bin, further), count);
        }
        *self = wider;
    }

    /// The bins in use, ascending, each with its count.
    fn used(&self) -> impl Iterator<Item = (usize, u64)> {
        let pages = (self.first_page..).zip(&self.places).filter(|(_, place)| **place != NOWHERE);
        pages.flat_map(|(page, place)| {
            let counts = &self.counts[usize::from(*place) * PER_PAGE..][..PER_PAGE];
            let bins = page * PER_PAGE..;
            bins.zip(counts.iter().copied()).filter(|(_, count)| *count > 0)
        })
    }
}

/// The bin of a finite value: ascending with it, mirrored about [`ZERO`] in the sign.
#[inline(always)]
fn bin_of(x: f64) -> usize {
    debug_assert!(x.is_finite(), "only finite values have a bin");
    let steps = |size: f64| (size.to_bits() >> DROPPED_BITS) as usize;
    let size = x.abs();
    // 0 for every size below the smallest.
    let away = (steps(size) + 1).saturating_sub(steps(SMALLEST));
    // Away from zero by the sign, without a branch that random signs would mislead.
    let sign = (x.to_bits() as i64 >> 63) as usize;
    ZERO.wrapping_add((away ^ sign).wrapping_sub(sign))
}

/// The bin that a bin is part of when bins are joined so often; that of zero stays alone.
#[inline(always)]
fn joined(bin: usize, times: u32) -> usize {
    if times == 0 || bin == ZERO {
        return bin;
    }
    let away = 1 + ((bin.abs_diff(ZERO) - 1) >> times);
    if bin > ZERO { ZERO + away } else { ZERO - away }
}

/// The lower and upper end of a bin of those that were joined so often.
fn ends(bin: usize, times: u32) -> (f64, f64) {
    let edge = |away: usize| {
        let steps = (away << times).min(OCTAVES * PER_OCTAVE) as u64;
        f64::from_bits(SMALLEST.to_bits() + (steps << DROPPED_BITS))
    };
    let away = bin.abs_diff(ZERO);
    match away {
        0 => (-SMALLEST, SMALLEST),
        _ if bin > ZERO => (edge(away - 1), edge(away)),
        _ => (-edge(away), -edge(away - 1)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_lies_in_its_bin_and_bins_ascend() {
        let sizes = [0.0, 1e-300, 1e-13, SMALLEST, 1e-12, 0.3, 0.999_999, 1.0, 1.001, 7.5, 1e300];
        let mut values: Vec<f64> = sizes.iter().flat_map(|x| [-x, *x]).collect();
        values.sort_by(f64::total_cmp);
        for x in &values {
            let (low, high) = ends(bin_of(*x), 0);
            assert!(low <= *x && *x <= high, "{x} in {low}..{high}");
            assert!(x.abs() < SMALLEST || high - low <= x.abs() / 512.0 * 1.000_001);
        }
        assert!(values.windows(2).all(|pair| bin_of(pair[0]) <= bin_of(pair[1])));
        assert_eq!(bin_of(-0.3) + bin_of(0.3), 2 * ZERO);
        assert_ne!(bin_of(1.0), bin_of(1.002));
        // Every finite value has a bin.
        assert_eq!((bin_of(f64::MIN), bin_of(f64::MAX)), (0, 2 * ZERO));
        assert!(bin_of(f64::MAX) / PER_PAGE < usize::from(NOWHERE));
    }

    #[test]
    fn bins_join_without_gaps() {
        for (bin, times) in (ZERO - 2000..ZERO + 2000).zip([0, 1, 5].into_iter().cycle()) {
            assert_eq!(ends(bin, times).1, ends(bin + 1, times).0);
        }
    }

    #[test]
    fn order_walks_through_the_counts() {
        let mut bins = Bins::new(80);
        [3.0, -2.0, 0.0, 3.0].into_iter().for_each(|x| bins.push(x));
        let order: Vec<f64> = (0..5).map(|i| bins.order(i)).collect();
        assert!((order[0] + 2.0).abs() < 4e-3 && order[1] == 0.0);
        assert!(order[2] < order[3] && (3.0..3.01).contains(&order[2]));
        assert!((3.0..3.01).contains(&order[3]) && order[4].is_nan());
    }

    #[test]
    fn bins_are_joined_as_often_as_all_values_need_whatever_their_order() {
        // From 2^-30 to 2^30 to either side, in no order.
        let value = |i: u64| {
            let size = crate::math::scalar::exp(41.5 * ((i * 7919 % 4001) as f64 / 2000.5 - 1.0) * 0.5);
            if i.is_multiple_of(3) { -size } else { size }
        };
        let values: Vec<f64> = (0..4000).map(value).collect();
        let of = |values: &mut dyn Iterator<Item = &f64>, most: usize| {
            let mut bins = Bins::new(most);
            values.for_each(|x| bins.push(*x));
            bins
        };
        let used = |bins: &Bins| bins.used().collect::<Vec<_>>();
        for most in [3, 8, 50, 400] {
            let whole = of(&mut values.iter(), most);
            assert!(
                whole.counts.len() <= most * PER_PAGE
                    && used(&whole).iter().map(|of| of.1).sum::<u64>() == 4000
            );
            let backwards = of(&mut values.iter().rev(), most);
            let mut merged = Bins::new(most);
            for part in values.chunks(333).rev() {
                merged.merge(&of(&mut part.iter(), most));
            }
            for other in [backwards, merged] {
                assert_eq!((other.joined, used(&other)), (whole.joined, used(&whole)), "{most}");
            }
            // Each value is in its bin, and half as often would not do.
            assert!(values.iter().all(|x| {
                let (low, high) = ends(joined(bin_of(*x), whole.joined), whole.joined);
                low <= *x && *x <= high
            }));
            let fine = of(&mut values.iter(), usize::from(NOWHERE));
            let once_less = |(bin, _)| joined(bin, whole.joined.saturating_sub(1)) / PER_PAGE;
            let mut pages: Vec<usize> = fine.used().map(once_less).collect();
            pages.dedup();
            assert!(whole.joined == 0 || pages.len() > most, "{most}: {}", pages.len());
        }
    }
}
