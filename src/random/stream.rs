//! Streams of random words, for draws that take as many of them as they need.

use super::{Key, philox};
use rand::TryRng;
use rand::rand_core::utils;
use std::convert::Infallible;

/// The blocks of a stream of one draw have this bit of their number set.
const OF_ONE_DRAW: u32 = 1 << 31;

// A plain draw reads the block index/4, so no plain draw has that bit.
const _: () = assert!(u32::MAX / 4 < OF_ONE_DRAW);

/// Random words by a key and a place, one after the other: a generator for [`rand`] and [`rand_distr`], version 0.10 and 0.6.
///
/// A stream is a pure function of (seed, source name, trial, index, slot), as every draw is: it does not depend on what was read before it,
/// nor on lanes and threads. So any distribution of `rand_distr` can be drawn for channel 3 of unit 12,345 alone:
///
/// ```
/// use beamyield::{Key, Stream};
/// use rand_distr::{Distribution, Gumbel};
///
/// let stream = |channel| Stream::new(Key::new(7, "feed.length"), 12_345, channel, 0);
/// let gumbel = Gumbel::new(0.0, 0.2)?;
/// let deviation: f64 = gumbel.sample(&mut stream(3));
/// assert_eq!(deviation, gumbel.sample(&mut stream(3)));
/// assert_ne!(deviation, gumbel.sample(&mut stream(4)));
/// # Ok::<(), rand_distr::GumbelError>(())
/// ```
///
/// A word of 64 bits is two of 32, the first of them the lower half; bytes are words of 32 bits, the lowest byte first. A stream repeats after
/// 2^33 words.
///
/// Source: the generator is Philox4x32-10, see `random/philox.rs`; the block with the number n of a stream has the counter
/// (2^31 + n, lower half of the trial, slot, upper half of the trial).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stream {
    key: Key,
    /// Counter of the block that is read next.
    counter: [u32; 4],
    words: [u32; 4],
    /// How many of the words were read.
    read: usize,
}

impl Stream {
    /// The stream of one draw. It shares no counter with a plain draw, whatever the keys.
    pub fn new(key: Key, trial: u64, index: u32, slot: u32) -> Stream {
        Stream::from_block(key.of_index(index), OF_ONE_DRAW, trial, slot)
    }

    /// The words that the plain draws of a trial and a slot are made of, in the order of their index.
    pub fn of_plain_draws(key: Key, trial: u64, slot: u32) -> Stream {
        Stream::from_block(key, 0, trial, slot)
    }

    fn from_block(key: Key, block: u32, trial: u64, slot: u32) -> Stream {
        let counter = [block, trial as u32, slot, (trial >> 32) as u32];
        Stream { key, counter, words: [0; 4], read: 4 }
    }
}

impl TryRng for Stream {
    type Error = Infallible;

    fn try_next_u32(&mut self) -> Result<u32, Infallible> {
        if self.read == self.words.len() {
            self.words = philox::block(self.counter, self.key.words());
            let block = &mut self.counter[0];
            *block = (*block & OF_ONE_DRAW) | (block.wrapping_add(1) & !OF_ONE_DRAW);
            self.read = 0;
        }
        let word = self.words[self.read];
        self.read += 1;
        Ok(word)
    }

    fn try_next_u64(&mut self) -> Result<u64, Infallible> {
        utils::next_u64_via_u32(self)
    }

    fn try_fill_bytes(&mut self, bytes: &mut [u8]) -> Result<(), Infallible> {
        utils::fill_bytes_via_next_word(bytes, || self.try_next_u32())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::draw;
    use rand::Rng;

    fn words(stream: &mut Stream) -> [u32; 6] {
        std::array::from_fn(|_| stream.next_u32())
    }

    /// Changing these numbers changes every result that is drawn from streams: a value-breaking change. They were computed by a second
    /// implementation of key, counter and block, in Python integers.
    #[test]
    fn the_first_words_stay() {
        let key = Key::new(2026, "shifter");
        let expected = [0xdba4_74a8, 0x6714_e851, 0xbbdf_92a1, 0x01fa_dfc9, 0x821c_2461, 0x999b_e9ff];
        assert_eq!(words(&mut Stream::new(key, 0, 0, 0)), expected);
        let expected = [0x7c56_e8d4, 0xaea6_2ab7, 0x7b67_806a, 0xc163_ec1e, 0x8572_a4ce, 0x22ba_8059];
        assert_eq!(words(&mut Stream::new(key, 4_294_967_299, 17, 5)), expected);
    }

    #[test]
    fn longer_words_and_bytes_are_made_of_the_same_words() {
        let stream = || Stream::new(Key::new(2026, "shifter"), 0, 0, 0);
        assert_eq!(stream().next_u64(), 0x6714_e851_dba4_74a8);
        let mut bytes = [0; 6];
        stream().fill_bytes(&mut bytes);
        assert_eq!(bytes, [0xa8, 0x74, 0xa4, 0xdb, 0x51, 0xe8]);
    }

    #[test]
    fn no_two_places_share_a_word() {
        let key = Key::new(5, "parts");
        let mut all = Vec::new();
        for (trial, index, slot) in [(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1), (1 << 32, 0, 0), (0, 4, 0)] {
            all.extend(words(&mut Stream::new(key, trial, index, slot)));
        }
        all.extend(words(&mut Stream::of_plain_draws(key, 0, 0)));
        all.sort_unstable();
        assert!(all.windows(2).all(|pair| pair[0] != pair[1]));
    }

    #[test]
    fn plain_draws_are_made_of_their_words() {
        let key = Key::new(2026, "shifter");
        let mut plain = [0.0; 9];
        draw::fill::<1>(key, 7, 3, &mut plain);
        let mut stream = Stream::of_plain_draws(key, 7, 3);
        assert_eq!(plain, [(); 9].map(|()| draw::uniform(stream.next_u32())));
    }

    /// From its last block a stream begins again, and does not run into the plain draws.
    #[test]
    fn a_stream_keeps_to_its_own_blocks() {
        let key = Key::new(5, "parts");
        let mut last = Stream::from_block(key.of_index(0), u32::MAX, 0, 0);
        let _: [u32; 4] = std::array::from_fn(|_| last.next_u32());
        assert_eq!(words(&mut last), words(&mut Stream::new(key, 0, 0, 0)));
    }
}
