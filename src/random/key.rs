//! The key of a source of draws: which stream of the generator a named source reads.

/// Names one stream of draws; made from the study's seed and the source's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Key([u32; 2]);

impl Key {
    /// The key of the source called `name` under `seed`: the name's FNV-1a hash, mixed into the
    /// scrambled seed.
    ///
    /// Seed and hash are not simply added (or combined by exclusive or): then source A under one
    /// seed would read the very draws of source B under another seed whenever the seeds differ as
    /// the hashes do, and neighbouring seeds are just what people compare. Scrambling the seed
    /// first leaves no such pattern.
    pub fn new(seed: u64, name: &str) -> Self {
        let mixed = split_mix(split_mix(seed) ^ fnv_1a(name.as_bytes()));
        Self([mixed as u32, (mixed >> 32) as u32])
    }

    /// The key of the same source in a second sample, independent of the first. No source has a name that ends like this.
    pub(crate) fn of_second_sample(seed: u64, name: &str) -> Self {
        Self::new(seed, &format!("{name}, second sample"))
    }

    /// The key of what an attempt, from 1, to mend a unit draws anew: independent of the first draws and of every other attempt. No source
    /// has a name that ends like this.
    pub(crate) fn of_attempt(seed: u64, name: &str, attempt: u32) -> Self {
        Self::new(seed, &format!("{name}, attempt {attempt}"))
    }

    /// The key of the stream that one index of a source has to itself; no two indices of a source share one.
    pub(super) fn of_index(self, index: u32) -> Self {
        let [low, high] = self.0;
        let mixed = split_mix(split_mix(u64::from(high) << 32 | u64::from(low)) ^ u64::from(index));
        Self([mixed as u32, (mixed >> 32) as u32])
    }

    /// The key as the generator takes it.
    #[inline(always)]
    pub(super) fn words(self) -> [u32; 2] {
        self.0
    }
}

/// The hash FNV-1a in 64 bits (Fowler, Noll & Vo; offset and prime as they publish them).
fn fnv_1a(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

/// One step of SplitMix64 from `state`: an invertible scrambling of 64 bits (Steele, Lea & Flood,
/// "Fast splittable pseudorandom number generators", OOPSLA 2014).
fn split_mix(state: u64) -> u64 {
    let z = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn split_mix_gives_the_known_answer() {
        // The reference generator's first output from state 0.
        assert_eq!(split_mix(0), 0xe220_a839_7b1d_cdaf);
    }

    #[test]
    fn fnv_1a_gives_the_known_answers() {
        // Test vectors of the hash's authors: the empty text, "a" and "foobar".
        assert_eq!(fnv_1a(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv_1a(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv_1a(b"foobar"), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn no_two_of_many_seeds_and_names_share_a_key() {
        let mut keys: Vec<_> = (0..200)
            .flat_map(|seed| (0..200).map(move |name| Key::new(seed, &format!("block {name}")).0))
            .collect();
        keys.sort_unstable();
        assert!(keys.windows(2).all(|pair| pair[0] != pair[1]));
    }
}
