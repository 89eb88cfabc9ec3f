//! Uniform draws, each a pure function of (key, trial, index, slot).

use super::{Key, philox};
use multiversion::multiversion;

/// Fills `out` with uniforms strictly inside (0, 1).
///
/// `out` is `[index][lane]`, its length a multiple of `W`; lane l is trial `first_trial + l`. Each
/// value has 52 random bits and is an odd multiple of 2^-53, so the farthest a normal deviate
/// reaches is 8.2 standard deviations. A value does not depend on `W`, nor on the length of `out`.
pub fn fill<const W: usize>(key: Key, first_trial: u64, slot: u32, out: &mut [f64]) {
    debug_assert_eq!(out.len() % W, 0);
    fill_rows::<W>(key.words(), first_trial, slot, out);
}

/// The uniforms that [`fill`] would put at `index[l]` of lane l.
pub fn at<const W: usize>(key: Key, first_trial: u64, index: [u32; W], slot: u32) -> [f64; W] {
    std::array::from_fn(|l| {
        let pair = pair(key.words(), first_trial.wrapping_add(l as u64), index[l] / 2, slot);
        pair[(index[l] % 2) as usize]
    })
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn fill_rows<const W: usize>(key: [u32; 2], first_trial: u64, slot: u32, out: &mut [f64]) {
    for (half_index, rows) in (0..).zip(out.chunks_mut(2 * W)) {
        let (even, odd) = rows.split_at_mut(W);
        let mut second = [0.0; W];
        for l in 0..W {
            let trial = first_trial.wrapping_add(l as u64);
            [even[l], second[l]] = pair(key, trial, half_index, slot);
        }
        // The last block's second half has no row when the number of rows is odd.
        if !odd.is_empty() {
            odd.copy_from_slice(&second);
        }
    }
}

/// The uniforms of an even index and of the odd index after it: one block of the generator.
#[inline(always)]
fn pair(key: [u32; 2], trial: u64, half_index: u32, slot: u32) -> [f64; 2] {
    let counter = [trial as u32, (trial >> 32) as u32, half_index, slot];
    let words = philox::block(counter, key);
    [uniform(words[0], words[1]), uniform(words[2], words[3])]
}

/// The upper 52 bits as the mantissa of a number in \[1, 2), brought down to the middle of its
/// 2^-52 step; no conversion from integer, which vector units lack.
#[inline(always)]
fn uniform(low: u32, high: u32) -> f64 {
    const HALF_STEP: f64 = f64::EPSILON / 2.0;
    let bits = (u64::from(high) << 32) | u64::from(low);
    (f64::from_bits(1.0_f64.to_bits() | (bits >> 12)) - 1.0) + HALF_STEP
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
    /// were computed by a second implementation of key, block and uniform, in Python integers.
    #[test]
    fn the_first_draws_stay() {
        let found = uniforms(key(), 0, 0, 4).iter().map(|u| u.to_bits()).collect::<Vec<_>>();
        assert_eq!(
            found,
            [0x3feb_0606_e894_e255, 0x3fd6_41b0_bdcc_3a9e, 0x3fb9_78a8_d962_29a8, 0x3fe5_dfac_876e_0107]
        );
    }

    #[test]
    fn the_ends_of_the_range_are_strictly_inside() {
        assert_eq!(uniform(0, 0), f64::EPSILON / 2.0);
        assert_eq!(uniform(u32::MAX, u32::MAX), 1.0 - f64::EPSILON / 2.0);
        // Only the lowest 12 bits are dropped.
        assert_eq!(uniform(1 << 12, 0), 1.5 * f64::EPSILON);
        assert_eq!(uniform(0, 1 << 31), 0.5 + f64::EPSILON / 2.0);
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
            let index: [u32; W] = std::array::from_fn(|l| (l * 5 % rows) as u32);
            let picked = at::<W>(key(), first_trial, index, 3);
            for lane in 0..W {
                let same = out[index[lane] as usize * W + lane];
                assert_eq!(picked[lane].to_bits(), same.to_bits());
            }
        }
    }

    #[test]
    fn a_draw_does_not_depend_on_the_width_or_on_how_it_is_read() {
        check_width::<1>();
        check_width::<4>();
        check_width::<8>();
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
