//! The standard normal distribution: distribution function, density and quantile.
#![allow(clippy::excessive_precision, reason = "the coefficients stand as published")]

use super::elementary::{ln, polynomial};
use super::scalar;
use multiversion::multiversion;

/// Within this distance of 1/2 the central rational function holds.
const CENTRAL: f64 = 0.425;
/// sqrt(-ln p) up to which the middle rational function holds.
const MIDDLE: f64 = 5.0;
/// e^-25, the tail probability at the end of the middle region.
const FAR: f64 = 1.388_794_386_496_402_1e-11;

const A: [f64; 8] = [
    3.387_132_872_796_366_608,
    1.331_416_678_917_843_774_5e2,
    1.971_590_950_306_551_442_7e3,
    1.373_169_376_550_946_112_5e4,
    4.592_195_393_154_987_145_7e4,
    6.726_577_092_700_870_085_3e4,
    3.343_057_558_358_812_810_5e4,
    2.509_080_928_730_122_672_7e3,
];
const B: [f64; 8] = [
    1.0,
    4.231_333_070_160_091_125_2e1,
    6.871_870_074_920_579_083e2,
    5.394_196_021_424_751_107_7e3,
    2.121_379_430_158_659_586_7e4,
    3.930_789_580_009_271_061e4,
    2.872_908_573_572_194_267_4e4,
    5.226_495_278_852_854_561e3,
];
const C: [f64; 8] = [
    1.423_437_110_749_683_577_34,
    4.630_337_846_156_545_295_9,
    5.769_497_221_460_691_405_5,
    3.647_848_324_763_204_605_04,
    1.270_458_252_452_368_382_58,
    2.417_807_251_774_506_117_7e-1,
    2.272_384_498_926_918_458_33e-2,
    7.745_450_142_783_414_076_4e-4,
];
const D: [f64; 8] = [
    1.0,
    2.053_191_626_637_758_821_87,
    1.676_384_830_183_803_849_4,
    6.897_673_349_851_000_045_5e-1,
    1.481_039_764_274_800_745_9e-1,
    1.519_866_656_361_645_719_66e-2,
    5.475_938_084_995_344_946e-4,
    1.050_750_071_644_416_843_24e-9,
];
const E: [f64; 8] = [
    6.657_904_643_501_103_777_2,
    5.463_784_911_164_114_369_9,
    1.784_826_539_917_291_335_8,
    2.965_605_718_285_048_912_3e-1,
    2.653_218_952_657_612_309_3e-2,
    1.242_660_947_388_078_438_6e-3,
    2.711_555_568_743_487_578_15e-5,
    2.010_334_399_292_288_132_65e-7,
];
const F: [f64; 8] = [
    1.0,
    5.998_322_065_558_879_376_9e-1,
    1.369_298_809_227_358_053_1e-1,
    1.487_536_129_085_061_485_25e-2,
    7.868_691_311_456_132_591e-4,
    1.846_318_317_510_054_681_8e-5,
    1.421_511_758_316_445_888_7e-7,
    2.044_263_103_389_939_785_64e-15,
];

/// The density at `x`, exp(-x^2/2) / sqrt(2 pi).
pub(crate) fn density(x: f64) -> f64 {
    scalar::exp(-0.5 * x * x) / super::TAU.sqrt()
}

/// The probability of a value below `x`; the lower tail keeps its relative precision, so the upper
/// tail of `x` is `probability(-x)`.
pub(crate) fn probability(x: f64) -> f64 {
    0.5 * scalar::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// The quantile: the `x` below which a standard normal value is with probability `p`, 0 < p < 1.
///
/// Algorithm AS 241, PPND16 (Wichura 1988, Applied Statistics 37, 477-484), relative error near
/// 1e-15. At 0 and 1 it saturates near -38 and 38.
pub(crate) fn quantile(p: f64) -> f64 {
    if is_far(p) { far_quantile(p) } else { near_quantile(p) }
}

/// Values looked at together when the far tails are sought.
const GROUP: usize = 64;

/// The quantiles of probabilities in (0, 1), in place; the bits of [`quantile`].
///
/// The far tails (3e-11 of all values) are looked for a group at a time, so that the common path has no branch.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn quantiles(p: &mut [f64]) {
    for group in p.chunks_mut(GROUP) {
        if group.iter().fold(false, |any, p| any | is_far(*p)) {
            for p in group {
                *p = quantile(*p);
            }
        } else {
            for p in group {
                *p = near_quantile(*p);
            }
        }
    }
}

/// Whether `p` is in the far tails, where [`near_quantile`] does not hold.
#[inline(always)]
fn is_far(p: f64) -> bool {
    (p < FAR) | (1.0 - p < FAR)
}

/// The quantile outside the far tails, without a branch: both rational functions, then a choice.
#[inline(always)]
fn near_quantile(p: f64) -> f64 {
    let q = p - 0.5;
    let central = q.abs() <= CENTRAL;
    let r = CENTRAL * CENTRAL - q * q;
    let s = (-ln(tail(p))).sqrt() - 1.6;
    let above = if central { q * polynomial(r, &A) } else { q.signum() * polynomial(s, &C) };
    let below = if central { polynomial(r, &B) } else { polynomial(s, &D) };
    above / below
}

/// The quantile in the far tails, beyond 6.66 standard deviations.
#[cold]
fn far_quantile(p: f64) -> f64 {
    let r = (-ln(tail(p))).sqrt() - MIDDLE;
    (p - 0.5).signum() * polynomial(r, &E) / polynomial(r, &F)
}

/// The smaller of the two tails.
#[inline(always)]
fn tail(p: f64) -> f64 {
    let upper = 1.0 - p;
    if p < upper { p } else { upper }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// (p, quantile): mpmath 1.4.1 at 40 digits, `findroot` of log(erfc(-x/sqrt(2))/2) - log(p).
    const KNOWN: [(f64, f64); 14] = [
        (0.975, 1.959_963_984_540_053_855_6),
        (0.1, -1.281_551_565_544_600_435_3),
        (0.0749, -1.440_238_267_527_963_663_1),
        (0.0751, -1.438_825_392_752_539_982_4),
        (0.3, -0.524_400_512_708_040_815_97),
        (0.500_000_1, 2.506_628_273_311_648_301_2e-7),
        (0.9999, 3.719_016_485_455_708_386_7),
        (1e-5, -4.264_890_793_922_824_610_2),
        (1e-10, -6.361_340_902_404_056_199_1),
        (1.39e-11, -6.657_777_073_049_201_731_9),
        (1.38e-11, -6.658_838_502_850_765_528_3),
        (1.110_223_024_625_156_5e-16, -8.209_536_151_601_386_855_6),
        (0.999_999_999_999_999_9, 8.209_536_151_601_386_855_6),
        (1e-300, -37.047_096_299_361_199_237),
    ];

    #[test]
    fn quantile_agrees_with_known_values() {
        for (p, expected) in KNOWN {
            let error = (quantile(p) / expected - 1.0).abs();
            assert!(error < 2e-15, "quantile({p}) = {}, relative error {error}", quantile(p));
        }
        assert_eq!(quantile(0.5), 0.0);
    }

    #[test]
    fn quantile_undoes_probability() {
        for i in -3_700..=820 {
            let x = f64::from(i) / 100.0;
            // An error of e in p moves the quantile by e p / density, the larger part at x > 0.
            let condition = f64::EPSILON * probability(x) / density(x);
            let error = (quantile(probability(x)) - x).abs();
            assert!(error <= 3e-15 * x.abs() + condition, "at {x}: {error}");
        }
    }

    #[test]
    fn quantile_is_finite_at_the_ends() {
        assert!(quantile(0.0) < -37.0 && quantile(0.0).is_finite());
        assert!(quantile(1.0) > 37.0 && quantile(1.0).is_finite());
    }

    #[test]
    fn many_at_once_give_the_bits_of_one_with_and_without_far_tails() {
        // Every vector body, remainder and group edge.
        for len in [0, 1, 7, 8, 63, 64, 65, 1000] {
            let mut source: Vec<f64> = (0..len).map(|i| (i as f64 + 0.5) / len as f64).collect();
            for far in [None, Some(1e-13), Some(1.0 - 1e-14)] {
                if let (Some(far), Some(last)) = (far, source.last_mut()) {
                    *last = far;
                }
                let mut found = source.clone();
                quantiles(&mut found);
                for (found, p) in found.iter().zip(&source) {
                    assert_eq!(found.to_bits(), quantile(*p).to_bits());
                }
            }
        }
    }
}
