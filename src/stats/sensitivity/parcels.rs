//! Sums over parcels of neighbouring units, and their bootstrap.

use rand::{Rng, RngExt};

/// Most parcels that are kept; once there are more, neighbours are joined. So there are between half as many and as many, whatever
/// the number of units.
const MOST: usize = 256;

/// Sums of N numbers a unit, for parcels of as many units each (the last one may be short).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Parcels<const N: usize> {
    /// Units of a full parcel.
    size: u64,
    units: u64,
    sums: Vec<[f64; N]>,
}

impl<const N: usize> Parcels<N> {
    /// None yet; parcels hold whole blocks of units.
    pub(crate) fn new(block: u64) -> Parcels<N> {
        Parcels { size: block.max(1), units: 0, sums: Vec::new() }
    }

    /// Adds the numbers of the next unit.
    pub(crate) fn push(&mut self, numbers: [f64; N]) {
        if self.units.is_multiple_of(self.size) {
            if self.sums.len() == MOST {
                self.join();
            }
            if self.units.is_multiple_of(self.size) {
                self.sums.push([0.0; N]);
            }
        }
        self.units += 1;
        if let Some(last) = self.sums.last_mut() {
            add(last, &numbers, 1.0);
        }
    }

    fn join(&mut self) {
        self.size *= 2;
        let joined = self.sums.chunks(2).map(|pair| {
            let mut sum = [0.0; N];
            pair.iter().for_each(|numbers| add(&mut sum, numbers, 1.0));
            sum
        });
        self.sums = joined.collect();
    }

    /// Units that were added.
    pub(crate) fn units(&self) -> u64 {
        self.units
    }

    /// Number of parcels.
    pub(crate) fn count(&self) -> usize {
        self.sums.len()
    }

    /// Sums over all units.
    pub(crate) fn total(&self) -> [f64; N] {
        let mut total = [0.0; N];
        self.sums.iter().for_each(|numbers| add(&mut total, numbers, 1.0));
        total
    }
}

#[inline(always)]
fn add<const N: usize>(sum: &mut [f64; N], numbers: &[f64; N], times: f64) {
    for i in 0..N {
        sum[i] += times * numbers[i];
    }
}

/// Draws of as many parcels as there are, with replacement, over and over. The same ones serve all sums over the same units.
#[derive(Clone, Debug)]
pub(crate) struct Resamples {
    parcels: usize,
    /// How often each parcel is drawn, `[resample][parcel]` in a row.
    times: Vec<u8>,
}

impl Resamples {
    /// `count` resamples of some parcels, each drawn by the generator that `words` gives for its number.
    pub(crate) fn new<R: Rng>(parcels: usize, count: u64, words: impl Fn(u64) -> R) -> Resamples {
        let mut times = vec![0; parcels * count as usize];
        for (number, times) in (0..count).zip(times.chunks_exact_mut(parcels.max(1))) {
            let mut words = words(number);
            for _ in 0..parcels {
                let parcel = words.random_range(0..parcels as u32) as usize;
                times[parcel] = u8::saturating_add(times[parcel], 1);
            }
        }
        Resamples { parcels, times }
    }

    /// Sums over all units of each resample; none where the parcels are others.
    pub(super) fn sums<const N: usize>(&self, of: &Parcels<N>) -> Vec<[f64; N]> {
        if of.count() != self.parcels {
            return Vec::new();
        }
        let sum = |times: &[u8]| {
            let mut sum = [0.0; N];
            for (numbers, times) in of.sums.iter().zip(times) {
                add(&mut sum, numbers, f64::from(*times));
            }
            sum
        };
        self.times.chunks_exact(self.parcels.max(1)).map(sum).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::TryRng;
    use rand::rand_core::utils;
    use std::convert::Infallible;

    /// Words in even steps.
    struct Words {
        next: u32,
        step: u32,
    }

    impl TryRng for Words {
        type Error = Infallible;

        fn try_next_u32(&mut self) -> Result<u32, Infallible> {
            let word = self.next;
            self.next = word.wrapping_add(self.step);
            Ok(word)
        }

        fn try_next_u64(&mut self) -> Result<u64, Infallible> {
            utils::next_u64_via_u32(self)
        }

        fn try_fill_bytes(&mut self, bytes: &mut [u8]) -> Result<(), Infallible> {
            utils::fill_bytes_via_next_word(bytes, || self.try_next_u32())
        }
    }

    #[test]
    fn parcels_hold_all_units_and_whole_blocks() {
        for block in [1, 7] {
            let mut parcels = Parcels::<2>::new(block);
            for unit in 0..10_000 {
                parcels.push([1.0, f64::from(unit)]);
            }
            assert_eq!((parcels.units(), parcels.total()), (10_000, [10_000.0, 49_995_000.0]));
            assert!((MOST / 2..=MOST).contains(&parcels.count()), "{}", parcels.count());
            let (last, full) = parcels.sums.split_last().unwrap();
            let size = full[0][0];
            assert!(full.iter().all(|of| of[0] == size) && last[0] <= size);
            assert_eq!(size as u64 % block, 0);
            // Parcels are runs of neighbours.
            assert_eq!(full[1][1], (0..size as u64).map(|i| size + i as f64).sum::<f64>());
        }
    }

    #[test]
    fn a_resample_draws_as_many_parcels_as_there_are() {
        let mut parcels = Parcels::<1>::new(1);
        (0..100).for_each(|unit| parcels.push([f64::from(unit)]));
        // Every word falls on the parcel of its own number.
        let same = Resamples::new(100, 3, |_| Words { next: u32::MAX / 200, step: u32::MAX / 100 });
        assert_eq!(same.sums(&parcels), [parcels.total(); 3]);
        let first = Resamples::new(100, 1, |_| Words { next: 0, step: 0 });
        assert_eq!(first.sums(&parcels), [[0.0]]);
        let last = Resamples::new(100, 1, |_| Words { next: u32::MAX, step: 0 });
        assert_eq!(last.sums(&parcels), [[9900.0]]);
    }
}
