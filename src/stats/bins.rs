//! Counts of values in fixed bins of equal relative width: a summary of any number of values that
//! merges without loss and does not depend on their order.

/// Bins an octave, set by the mantissa's upper 9 bits.
const PER_OCTAVE: usize = 1 << MANTISSA_BITS;
const MANTISSA_BITS: u32 = 9;
/// A double's bits below those that choose the bin.
const DROPPED_BITS: u32 = 52 - MANTISSA_BITS;
/// Sizes below 2^-40 share the bin of zero.
const SMALLEST: f64 = 1.0 / (1_u64 << 40) as f64;
/// Octaves of finite doubles from [`SMALLEST`] up.
const OCTAVES: usize = 1024 + 40;
/// The bin of zero; those of negative values lie before it.
const ZERO: usize = OCTAVES * PER_OCTAVE;
/// Pages that can be in use: those before the page of zero, it, and those behind.
const PAGES: usize = 2 * OCTAVES + 1;
/// The place of a page that is not in use.
const NOWHERE: u16 = u16::MAX;

/// Counts by bin. A page of counts, 4 KiB, holds about an octave of one sign and is made when a value first
/// falls into it; a table says where each page lies, so that counting a value is two look-ups.
#[derive(Clone, Debug, Default)]
pub(super) struct Bins {
    /// Place of each page among those in use; empty before the first value.
    places: Vec<u16>,
    counts: Vec<u64>,
}

impl Bins {
    /// Counts a finite value.
    pub(super) fn push(&mut self, x: f64) {
        *self.count(bin_of(x)) += 1;
    }

    /// Takes out a value that was counted.
    pub(super) fn remove(&mut self, x: f64) {
        *self.count(bin_of(x)) -= 1;
    }

    pub(super) fn merge(&mut self, other: &Self) {
        for (page, theirs) in other.pages() {
            for (slot, more) in theirs.iter().enumerate() {
                *self.count(page * PER_OCTAVE + slot) += more;
            }
        }
    }

    /// Whether no value is counted.
    pub(super) fn is_empty(&self) -> bool {
        self.counts.iter().all(|count| *count == 0)
    }

    /// The value at place `i` from 0 in ascending order: the values of a bin are taken to lie
    /// evenly over it. NaN if there are not so many.
    pub(super) fn order(&self, i: u64) -> f64 {
        let mut before = 0;
        for (page, counts) in self.pages() {
            for (slot, count) in counts.iter().enumerate() {
                if i < before + count {
                    let (low, high) = ends(page * PER_OCTAVE + slot);
                    let place = ((i - before) as f64 + 0.5) / *count as f64;
                    return low + (high - low) * place;
                }
                before += count;
            }
        }
        f64::NAN
    }

    /// How many values lie below each of some ascending places: the values of a bin are taken to lie evenly over the part of it
    /// between `min` and `max`.
    pub(super) fn counts_below(&self, places: &[f64], min: f64, max: f64) -> Vec<u64> {
        let mut found = Vec::with_capacity(places.len());
        let mut before = 0;
        for (page, counts) in self.pages() {
            for (slot, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
                let (low, high) = ends(page * PER_OCTAVE + slot);
                let (low, high) = (low.clamp(min, max), high.clamp(min, max));
                while let Some(place) = places.get(found.len())
                    && (*place <= low || *place < high)
                {
                    let part = if *place <= low { 0.0 } else { (place - low) / (high - low) };
                    found.push(before + (part * *count as f64) as u64);
                }
                before += count;
            }
        }
        found.resize(places.len(), before);
        found
    }

    #[inline(always)]
    fn count(&mut self, bin: usize) -> &mut u64 {
        let page = bin / PER_OCTAVE;
        let place = match self.places.get(page) {
            Some(place) if *place != NOWHERE => *place,
            _ => self.add_page(page),
        };
        &mut self.counts[usize::from(place) * PER_OCTAVE + bin % PER_OCTAVE]
    }

    #[cold]
    fn add_page(&mut self, page: usize) -> u16 {
        self.places.resize(PAGES, NOWHERE);
        let place = (self.counts.len() / PER_OCTAVE) as u16;
        self.counts.resize(self.counts.len() + PER_OCTAVE, 0);
        self.places[page] = place;
        place
    }

    /// The pages in use with their numbers, ascending.
    fn pages(&self) -> impl Iterator<Item = (usize, &[u64])> {
        let used = self.places.iter().enumerate().filter(|(_, place)| **place != NOWHERE);
        used.map(|(page, place)| (page, &self.counts[usize::from(*place) * PER_OCTAVE..][..PER_OCTAVE]))
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

/// The lower and upper end of a bin.
fn ends(bin: usize) -> (f64, f64) {
    let edge = |steps: usize| f64::from_bits(SMALLEST.to_bits() + ((steps as u64) << DROPPED_BITS));
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
            let (low, high) = ends(bin_of(*x));
            assert!(low <= *x && *x <= high, "{x} in {low}..{high}");
            assert!(x.abs() < SMALLEST || high - low <= x.abs() / 512.0 * 1.000_001);
        }
        assert!(values.windows(2).all(|pair| bin_of(pair[0]) <= bin_of(pair[1])));
        assert_eq!(bin_of(-0.3) + bin_of(0.3), 2 * ZERO);
        assert_ne!(bin_of(1.0), bin_of(1.002));
        // Every finite value has a bin.
        assert_eq!((bin_of(f64::MIN), bin_of(f64::MAX)), (0, 2 * ZERO));
        assert!(bin_of(f64::MAX) < PAGES * PER_OCTAVE);
    }

    #[test]
    fn bins_join_without_gaps() {
        for bin in ZERO - 2000..ZERO + 2000 {
            assert_eq!(ends(bin).1, ends(bin + 1).0);
        }
    }

    #[test]
    fn order_walks_through_the_counts() {
        let mut bins = Bins::default();
        [3.0, -2.0, 0.0, 3.0].into_iter().for_each(|x| bins.push(x));
        let order: Vec<f64> = (0..5).map(|i| bins.order(i)).collect();
        assert!((order[0] + 2.0).abs() < 4e-3 && order[1] == 0.0);
        assert!(order[2] < order[3] && (3.0..3.01).contains(&order[2]));
        assert!((3.0..3.01).contains(&order[3]) && order[4].is_nan());
    }

    #[test]
    fn what_is_taken_out_was_never_there() {
        let mut bins = Bins::default();
        assert!(bins.is_empty());
        [3.0, -2.0].into_iter().for_each(|x| bins.push(x));
        bins.remove(3.0);
        assert!((bins.order(0) + 2.0).abs() < 4e-3 && bins.order(1).is_nan() && !bins.is_empty());
        bins.remove(-2.0);
        assert!(bins.is_empty());
    }
}
