//! Draws, each a pure function of (key, trial, index, slot): uniforms in double precision, standard normals in single.

use super::{Key, philox};
use crate::math::deviate;
use multiversion::multiversion;

/// Fills `out` with uniforms strictly inside (0, 1).
///
/// `out` is `[index][lane]`, its length a multiple of `W`; lane l is trial `first_trial + l`. Each value is (word + 1/2)/2^32
/// of a random word of 32 bits. A value does not depend on `W`, nor on the length of `out`.
pub(crate) fn fill<const W: usize>(key: Key, first_trial: u64, slot: u32, out: &mut [f64]) {
    debug_assert_eq!(out.len() % W, 0);
    fill_rows::<W>(key, first_trial, slot, out.as_chunks_mut().0);
}

/// Fills `out`, `[index][lane]`, with normal deviates of standard deviation `sd`, none farther than
/// [`deviate::FARTHEST`] of them. An even index and the odd one after it share two words of the generator.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn normals<const W: usize>(key: Key, first_trial: u64, slot: u32, sd: f32, out: &mut [[f32; W]]) {
    let (blocks, rest) = out.as_chunks_mut::<4>();
    let whole = blocks.len() as u32;
    for (block, rows) in (0..).zip(blocks) {
        deviate::normals(&words(key, first_trial, |_| block, slot), sd, rows);
    }
    if !rest.is_empty() {
        let mut rows = [[0.0; W]; 4];
        deviate::normals(&words(key, first_trial, |_| whole, slot), sd, &mut rows);
        rest.copy_from_slice(&rows[..rest.len()]);
    }
}

/// The standard normal deviates at the four indices from `4 block` on; each lane may have a block of its own.
#[inline(always)]
pub(crate) fn normal_block<const W: usize>(
    key: Key,
    first_trial: u64,
    block: impl Fn(usize) -> u32,
    slot: u32,
) -> [[f32; W]; 4] {
    let mut deviates = [[0.0; W]; 4];
    deviate::normals(&words(key, first_trial, block, slot), 1.0, &mut deviates);
    deviates
}

/// Fills `out` with the standard normal deviates at the indices from `4 block` on, each lane from a block of its own; whole blocks.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(crate) fn normals_from<const W: usize>(
    key: Key,
    first_trial: u64,
    block: &[u32; W],
    slot: u32,
    out: &mut [[f32; W]],
) {
    for (ahead, rows) in (0..).zip(out.as_chunks_mut().0) {
        *rows = normal_block(key, first_trial, |l| block[l] + ahead, slot);
    }
}

/// The standard normal deviate at one index, for half the price of its block.
#[inline(always)]
pub(crate) fn normal_at<const W: usize>(key: Key, first_trial: u64, index: u32, slot: u32) -> [f32; W] {
    let words = words::<W>(key, first_trial, |_| index / 4, slot);
    let first = index as usize & 2;
    let (radius, angle) = (&words[first], &words[first + 1]);
    let is_second = index & 1 == 1;
    let mut at = [0.0; W];
    for l in 0..W {
        let [both] = deviate::pairs(&[[radius[l], angle[l]]], 1.0);
        at[l] = if is_second { both[1] } else { both[0] };
    }
    at
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn fill_rows<const W: usize>(key: Key, first_trial: u64, slot: u32, out: &mut [[f64; W]]) {
    for (block, rows) in (0..).zip(out.chunks_mut(4)) {
        let words: [[u32; W]; 4] = words(key, first_trial, |_| block, slot);
        for (row, words) in rows.iter_mut().zip(&words) {
            for l in 0..W {
                row[l] = uniform(words[l]);
            }
        }
    }
}

/// Four indices are one block of the generator, its counter (block, lower half of the trial, slot, upper half of the
/// trial). The words of the counter that the first round multiplies are alike in all lanes as a rule, and their products
/// stay alike for up to three rounds: a fifth of all products need no lanes.
#[inline(always)]
fn words<const W: usize>(
    key: Key,
    first_trial: u64,
    block: impl Fn(usize) -> u32,
    slot: u32,
) -> [[u32; W]; 4] {
    let (low, high) = (first_trial as u32, (first_trial >> 32) as u32);
    let is_carried = |l: usize| u32::from(low.wrapping_add(l as u32) < low);
    if is_carried(W - 1) == 0 {
        words_of(key, |l| [block(l), low.wrapping_add(l as u32), slot, high])
    } else {
        words_of(key, |l| [block(l), low.wrapping_add(l as u32), slot, high.wrapping_add(is_carried(l))])
    }
}

#[inline(always)]
fn words_of<const W: usize>(key: Key, counter: impl Fn(usize) -> [u32; 4]) -> [[u32; W]; 4] {
    let mut words = [[0; W]; 4];
    for l in 0..W {
        [words[0][l], words[1][l], words[2][l], words[3][l]] = philox::block(counter(l), key.words());
    }
    words
}

/// The uniform in (0, 1) that a word stands for: the middle of its step.
#[inline(always)]
pub(crate) fn uniform(word: u32) -> f64 {
    (f64::from(word) + 0.5) * (1.0 / 4_294_967_296.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key() -> Key {
        Key::new(2026, "shifter")
    }

    fn uniforms(key: Key, first_trial: u64, slot: u32, count: usize) -> Vec<f64> {
        let mut out = vec![0.0; count];
        fill::<1>(key, first_trial, slot, &mut out);
        out
    }

    /// Changing these numbers changes every result that users have: a value-breaking change. They
    /// were computed by a second implementation of key and block, in Python integers.
    #[test]
    fn the_first_draws_stay() {
        let found = uniforms(key(), 0, 0, 5);
        let words: [u32; 5] = [0xa712_aaa1, 0xd830_3744, 0x30ea_7580, 0x5906_c2f7, 0x6d35_228a];
        assert_eq!(found, words.map(uniform));
    }

    #[test]
    fn the_ends_of_the_range_are_strictly_inside() {
        assert_eq!(uniform(0), 1.0 / 8_589_934_592.0);
        assert_eq!(uniform(u32::MAX), 1.0 - 1.0 / 8_589_934_592.0);
        assert_eq!(uniform(1 << 31), 0.5 + 1.0 / 8_589_934_592.0);
    }

    fn check_width<const W: usize>() {
        // Across the carry into the upper word of the trial; an even and an odd number of rows.
        for (first_trial, rows) in [(0, 1), (12_345, 6), (u64::from(u32::MAX) - 2, 9)] {
            let mut out = vec![0.0; rows * W];
            fill::<W>(key(), first_trial, 3, &mut out);
            for lane in 0..W {
                let alone = uniforms(key(), first_trial + lane as u64, 3, rows);
                for row in 0..rows {
                    assert_eq!(out[row * W + lane].to_bits(), alone[row].to_bits());
                }
            }
            let mut deviates = vec![[0.0; W]; rows];
            normals::<W>(key(), first_trial, 3, 2.0, &mut deviates);
            // Every lane reads a block of its own.
            let block: [u32; W] = std::array::from_fn(|l| (l * 5 % rows.div_ceil(4)) as u32);
            let picked = normal_block::<W>(key(), first_trial, |l| block[l], 3);
            for lane in 0..W {
                for row in 0..4 {
                    let index = 4 * block[lane] as usize + row;
                    if let Some(same) = deviates.get(index) {
                        assert_eq!((2.0 * picked[row][lane]).to_bits(), same[lane].to_bits());
                        let at = normal_at::<W>(key(), first_trial, index as u32, 3);
                        assert_eq!(at[lane].to_bits(), picked[row][lane].to_bits());
                    }
                }
            }
        }
    }

    #[test]
    fn a_draw_does_not_depend_on_the_width_or_on_how_it_is_read() {
        check_width::<1>();
        check_width::<4>();
        check_width::<8>();
        check_width::<16>();
    }

    fn correlation(x: &[f64], y: &[f64]) -> f64 {
        let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
        let (mean_x, mean_y) = (mean(x), mean(y));
        let product = |x: &[f64], mean_x: f64, y: &[f64], mean_y: f64| {
            x.iter().zip(y).map(|(x, y)| (x - mean_x) * (y - mean_y)).sum::<f64>()
        };
        product(x, mean_x, y, mean_y) / (product(x, mean_x, x, mean_x) * product(y, mean_y, y, mean_y)).sqrt()
    }

    #[test]
    fn neighbours_are_uncorrelated() {
        const COUNT: usize = 100_000;
        // Four standard errors of a correlation of independent values: 1/sqrt(n) each.
        let bound = 4.0 / (COUNT as f64).sqrt();
        let base = uniforms(key(), 7, 0, COUNT + 1);
        let (here, next_index) = (&base[..COUNT], &base[1..]);
        let next_trial = uniforms(key(), 8, 0, COUNT);
        for (what, other) in [
            ("index", next_index),
            ("trial", &next_trial),
            ("slot", &uniforms(key(), 7, 1, COUNT)),
            ("seed", &uniforms(Key::new(2027, "shifter"), 7, 0, COUNT)),
            ("name", &uniforms(Key::new(2026, "shiftes"), 7, 0, COUNT)),
        ] {
            let found = correlation(here, other);
            assert!(found.abs() < bound, "next {what}: {found}");
        }
        // The same test sees a leak of a twentieth.
        let leaky: Vec<_> = here.iter().zip(&next_trial).map(|(x, y)| y + 0.05 * x).collect();
        assert!(correlation(here, &leaky) > bound);
    }
}
