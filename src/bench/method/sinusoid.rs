//! A sinusoid through readings at phases that are whole steps.

use crate::bench::receiver::NEPERS_A_DB_OF_POWER;
use crate::math::single;
use multiversion::multiversion;

/// Codes summed in one body: loops over lanes should be long.
const FEW: usize = 4;

/// Angle of the sum of powers times weights.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn phase<const W: usize>(readings: &[[f32; W]], weights: &[(f32, f32)]) -> [f32; W] {
    let (mut b, mut c) = ([0.0; W], [0.0; W]);
    let (fours, rest) = readings.as_chunks::<FEW>();
    let (weight_fours, weight_rest) = weights.as_chunks::<FEW>();
    for (readings, weights) in fours.iter().zip(weight_fours) {
        add(readings, weights, &mut b, &mut c);
    }
    for (readings, weights) in rest.as_chunks::<1>().0.iter().zip(weight_rest.as_chunks::<1>().0) {
        add(readings, weights, &mut b, &mut c);
    }
    let mut phase = [0.0; W];
    for l in 0..W {
        phase[l] = single::atan2(c[l], b[l]);
    }
    phase
}

#[inline(always)]
fn add<const W: usize, const N: usize>(
    readings: &[[f32; W]; N],
    weights: &[(f32, f32); N],
    b: &mut [f32; W],
    c: &mut [f32; W],
) {
    for l in 0..W {
        let (mut sum_b, mut sum_c) = (b[l], c[l]);
        for i in 0..N {
            // Lowered so that the highest level that the exponential can hold does not make the sums infinite.
            let power = single::exp(NEPERS_A_DB_OF_POWER * readings[i][l] - HEADROOM);
            sum_b += power * weights[i].0;
            sum_c += power * weights[i].1;
        }
        (b[l], c[l]) = (sum_b, sum_c);
    }
}

/// Nepers of power for the sum of all codes.
pub(super) const HEADROOM: f32 = 9.0;
