//! Standard normal deviates from random words, in single precision: what almost every draw of a trial is.
//!
//! Two words make two independent deviates (Box & Muller, Annals of Mathematical Statistics 29, 1958, 610-611): a radius
//! sqrt(-2 ln u) and an angle. The radius takes 31 bits of the first word; the second gives the place within an
//! octant (29 bits) and the octant (3 bits). Against the same formula in double precision a deviate is off by less than
//! 2e-6; it takes half the time of a quantile and has no branch for the tails.
use super::single::{ln, polynomial};

/// No deviate is larger: sqrt(-2 ln 2^-32), the radius of a word of zeros, is 6.66044.
pub(crate) const FARTHEST: f32 = 6.6605;

/// sin(pi/4 t)/t in powers of t^2.
const SIN: [f32; 4] = [std::f32::consts::FRAC_PI_4, -0.080_745_43, 0.002_490_001, -3.595_039e-5];
/// cos(pi/4 t) in powers of t^2.
const COS: [f32; 4] = [0.999_999_94, -0.308_424_17, 0.015_849_685, -0.000_318_727_95];

/// Two standard normal deviates from each of N pairs of words, times `scale`. Stage by stage for all pairs, so that
/// one pair's operations fill another's waits.
#[inline(always)]
pub(crate) fn pairs<const N: usize>(words: &[[u32; 2]; N], scale: f32) -> [[f32; 2]; N] {
    const RADIUS_STEP: f32 = 1.0 / (1_u32 << 31) as f32;
    const ANGLE_STEP: f32 = 1.0 / (1_u32 << 29) as f32;
    let (mut u, mut t) = ([0.0; N], [0.0; N]);
    for i in 0..N {
        // Signed integers become floats in one instruction everywhere.
        u[i] = ((words[i][0] >> 1) as i32 as f32) * RADIUS_STEP + 0.5 * RADIUS_STEP;
        t[i] = ((words[i][1] >> 3) as i32 as f32) * ANGLE_STEP + 0.5 * ANGLE_STEP;
    }
    let (mut sine, mut cosine, mut radius) = ([0.0; N], [0.0; N], [0.0; N]);
    for i in 0..N {
        radius[i] = scale * (-2.0 * ln(u[i])).sqrt();
    }
    for i in 0..N {
        let square = t[i] * t[i];
        sine[i] = t[i] * polynomial(square, &SIN);
        cosine[i] = polynomial(square, &COS);
    }
    let mut deviates = [[0.0; 2]; N];
    for i in 0..N {
        // The low three bits are the octant: which is which, and both signs.
        let is_steep = words[i][1] & 1 != 0;
        let (a, b) = if is_steep { (sine[i], cosine[i]) } else { (cosine[i], sine[i]) };
        let sign = |bit: u32| (words[i][1] << (31 - bit)) & 0x8000_0000;
        deviates[i][0] = f32::from_bits((radius[i] * a).to_bits() ^ sign(1));
        deviates[i][1] = f32::from_bits((radius[i] * b).to_bits() ^ sign(2));
    }
    deviates
}

/// The deviates of four rows of words, times `scale`: rows 0 and 1 from a pair, rows 2 and 3 from the other.
#[inline(always)]
pub(crate) fn normals<const W: usize>(words: &[[u32; W]; 4], scale: f32, deviates: &mut [[f32; W]; 4]) {
    for l in 0..W {
        let [first, second] = pairs(&[[words[0][l], words[1][l]], [words[2][l], words[3][l]]], scale);
        [deviates[0][l], deviates[1][l]] = first;
        [deviates[2][l], deviates[3][l]] = second;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::{TAU, normal, scalar};

    /// The ends word by word, every binade, and a comb over the range.
    fn words() -> impl Iterator<Item = u32> {
        let ends = (0..2_000).flat_map(|i| [i, !i]);
        let binades =
            (0..31).flat_map(|bit| (0..50u32).map(move |i| (1 << bit) + i.wrapping_mul(7_919) % (1 << bit)));
        let comb = (0..50_000u32).map(|i| i.wrapping_mul(85_899));
        ends.chain(binades).chain(comb)
    }

    #[test]
    fn a_pair_is_that_of_double_precision() {
        for (i, word) in words().enumerate() {
            let other = (i as u32).wrapping_mul(2_654_435_769);
            for [first, second] in [[word, other], [other, word]] {
                let u = (f64::from(first >> 1) + 0.5) / 2_147_483_648.0;
                let radius = (-2.0 * scalar::ln(u)).sqrt();
                let (sine, cosine) =
                    scalar::sin_cos(TAU / 8.0 * (f64::from(second >> 3) + 0.5) / 536_870_912.0);
                let (a, b) = if second & 1 == 1 { (sine, cosine) } else { (cosine, sine) };
                let sign = |bit: u32| if second >> bit & 1 == 1 { -1.0 } else { 1.0 };
                let expected = [radius * sign(1) * a, radius * sign(2) * b];
                for (found, expected) in pairs(&[[first, second]], 1.0)[0].iter().zip(expected) {
                    // Next to u = 1 the radius itself is lost in the rounding of u: below 4e-4 in all.
                    let bound = if radius < 1e-2 { 4e-4 } else { 2e-6 };
                    let error = (f64::from(*found) - expected).abs();
                    assert!(error < bound, "{first} {second}: {found} not {expected}");
                    assert!(found.abs() <= FARTHEST);
                }
            }
        }
        assert!(pairs(&[[0, 0]], 1.0)[0][0] > 6.66);
    }

    /// Counts in classes of equal probability, the tails included, against the distribution by chi square; and the two of a pair
    /// against each other.
    #[test]
    fn deviates_are_normal_and_independent() {
        const COUNT: usize = 1 << 20;
        const CLASSES: usize = 64;
        let mut state = 1_u64;
        let mut word = || {
            // A congruential generator of 64 bits, its constants by L'Ecuyer (from memory).
            state = state.wrapping_mul(2_862_933_555_777_941_757).wrapping_add(3_037_000_493);
            (state >> 32) as u32
        };
        let class = |x: f32| ((normal::probability(f64::from(x)) * CLASSES as f64) as usize).min(CLASSES - 1);
        let mut counts = vec![0_u32; CLASSES * CLASSES];
        for _ in 0..COUNT {
            let [[a, b]] = pairs(&[[word(), word()]], 1.0);
            counts[class(a) * CLASSES + class(b)] += 1;
        }
        let expected = COUNT as f64 / counts.len() as f64;
        let chi_square: f64 = counts.iter().map(|n| (f64::from(*n) - expected).powi(2) / expected).sum();
        // Chi square over its degrees: standard error sqrt(2 n), four of them.
        let degrees = counts.len() as f64 - 1.0;
        assert!((chi_square - degrees).abs() < 4.0 * (2.0 * degrees).sqrt(), "{chi_square} over {degrees}");
    }
}
