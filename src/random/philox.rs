//! The counter-based generator Philox4x32-10.

/// Multipliers of the two halves.
const MULTIPLIER: [u32; 2] = [0xd251_1f53, 0xcd9e_8d57];
/// Key increments a round: the golden ratio and the square root of 3, less 1.
const WEYL: [u32; 2] = [0x9e37_79b9, 0xbb67_ae85];
const ROUNDS: usize = 10;

/// Four random words for a counter and a key, the same each time.
///
/// Salmon, Moraes, Dror & Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC11 (2011).
#[inline(always)]
pub(crate) fn block(counter: [u32; 4], key: [u32; 2]) -> [u32; 4] {
    let mut words = counter;
    let mut key = key;
    for _ in 0..ROUNDS {
        let first = u64::from(MULTIPLIER[0]) * u64::from(words[0]);
        let second = u64::from(MULTIPLIER[1]) * u64::from(words[2]);
        words = [
            (second >> 32) as u32 ^ words[1] ^ key[0],
            second as u32,
            (first >> 32) as u32 ^ words[3] ^ key[1],
            first as u32,
        ];
        key = [key[0].wrapping_add(WEYL[0]), key[1].wrapping_add(WEYL[1])];
    }
    words
}

#[cfg(test)]
mod tests {
    use super::block;

    /// The known answers of the authors' Random123 library, file `kat_vectors`, the all-ones
    /// line recalled.
    #[test]
    fn gives_the_known_answers() {
        assert_eq!(block([0; 4], [0; 2]), [0x6627_e8d5, 0xe169_c58d, 0xbc57_ac4c, 0x9b00_dbd8]);
        assert_eq!(block([u32::MAX; 4], [u32::MAX; 2]), [0x408f_276d, 0x41c8_3b0e, 0xa20b_c7c6, 0x6d54_51fd]);
        assert_eq!(
            block([0x243f_6a88, 0x85a3_08d3, 0x1319_8a2e, 0x0370_7344], [0xa409_3822, 0x299f_31d0]),
            [0xd16c_fe09, 0x94fd_cceb, 0x5001_e420, 0x2412_6ea1]
        );
    }
}
