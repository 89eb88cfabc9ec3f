//! Counts of values in fixed bins of equal relative width: a summary of any number of values that
//! merges without loss and does not depend on their order.

use std::collections::BTreeMap;

/// Bins an octave, set by the mantissa's upper 9 bits.
const PER_OCTAVE: i32 = 1 << MANTISSA_BITS;
const MANTISSA_BITS: u32 = 9;
/// A double's bits below those that choose the bin.
const DROPPED_BITS: u32 = 52 - MANTISSA_BITS;
/// Sizes below 2^-40 share the bin of zero.
const SMALLEST: f64 = 1.0 / (1_u64 << 40) as f64;

/// Counts by bin. A page holds the bins of one octave of one sign: 4 KiB.
#[derive(Clone, Debug, Default)]
pub(super) struct Bins {
    pages: BTreeMap<i32, Box<[u64]>>,
}

impl Bins {
    pub(super) fn push(&mut self, x: f64) {
        let bin = bin_of(x);
        self.page(bin.div_euclid(PER_OCTAVE))[bin.rem_euclid(PER_OCTAVE) as usize] += 1;
    }

    pub(super) fn merge(&mut self, other: &Self) {
        for (number, theirs) in &other.pages {
            for (count, more) in self.page(*number).iter_mut().zip(theirs) {
                *count += more;
            }
        }
    }

    /// The value at place `i` from 0 in ascending order: the values of a bin are taken to lie
    /// evenly over it. NaN if there are not so many.
    pub(super) fn order(&self, i: u64) -> f64 {
        let mut before = 0;
        for (number, page) in &self.pages {
            for (slot, count) in (0..).zip(page) {
                if i < before + count {
                    let (low, high) = ends(number * PER_OCTAVE + slot);
                    let place = ((i - before) as f64 + 0.5) / *count as f64;
                    return low + (high - low) * place;
                }
                before += count;
            }
        }
        f64::NAN
    }

    fn page(&mut self, number: i32) -> &mut [u64] {
        self.pages.entry(number).or_insert_with(|| vec![0; PER_OCTAVE as usize].into_boxed_slice())
    }
}

/// The bin of a finite value; ascending with it, 0 for zero, mirrored in the sign.
fn bin_of(x: f64) -> i32 {
    let steps = |size: f64| (size.to_bits() >> DROPPED_BITS) as i32;
    let size = x.abs();
    if size < SMALLEST {
        return 0;
    }
    let bin = steps(size) - steps(SMALLEST) + 1;
    if x < 0.0 { -bin } else { bin }
}

/// The lower and upper end of a bin.
fn ends(bin: i32) -> (f64, f64) {
    let start = SMALLEST.to_bits();
    let edge = |steps: u32| f64::from_bits(start + (u64::from(steps) << DROPPED_BITS));
    let size = bin.unsigned_abs();
    match bin.signum() {
        0 => (-SMALLEST, SMALLEST),
        1 => (edge(size - 1), edge(size)),
        _ => (-edge(size), -edge(size - 1)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_lies_in_its_bin_and_bins_ascend() {
        let sizes = [0.0, 1e-13, 1e-12, 0.3, 0.999_999, 1.0, 1.001, 7.5, 1e300];
        let mut values: Vec<f64> = sizes.iter().flat_map(|x| [-x, *x]).collect();
        values.sort_by(f64::total_cmp);
        for x in &values {
            let (low, high) = ends(bin_of(*x));
            assert!(low <= *x && *x <= high, "{x} in {low}..{high}");
            assert!(x.abs() < SMALLEST || high - low <= x.abs() / 512.0 * 1.000_001);
        }
        assert!(values.windows(2).all(|pair| bin_of(pair[0]) <= bin_of(pair[1])));
        assert_eq!(bin_of(-0.3), -bin_of(0.3));
        assert_ne!(bin_of(1.0), bin_of(1.002));
    }

    #[test]
    fn bins_join_without_gaps() {
        for bin in -2000..2000 {
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
}
