//! A sinusoid through a few readings.

use super::{Readout, StateShare, Steps, Sweep, SweepScratch};
use crate::bench::method::least_squares;
use crate::bench::receiver::NEPERS_A_DB_OF_POWER;
use crate::bench::{Bench, Code};
use crate::math::{TAU, scalar, single};
use multiversion::multiversion;

/// Least squares of a + b cos + c sin in linear power on K codes, evenly spread over a turn.
///
/// Formula: b and c are the sums of p cos and p sin times 2/K where the codes are equally spaced (they are orthogonal over a turn);
/// where K does not divide the states, the normal equations at the phases of the codes that are set. The phase
/// is atan2(c, b), finer than a step. Ties: none. Noise: standard deviation s sqrt(2/K) for additive noise s of the
/// amplitude, 2.5 in place of 2 for noise in dB on equal arms. Units: rad.
/// Source: three-parameter sine fit, IEEE Std 1057 (from memory).
pub struct Fit;

impl Fit {
    /// Word for `method`.
    pub const KIND: &'static str = "fit";
    pub(super) const TAKES_CODES: bool = true;

    /// Formula: sum of [2/K sin(angle)]^2 times the variance of a power, over the codes, mean over where they stand: s^2 2/K
    /// for additive noise, 2.5/K for noise in dB (K of 5 and more). Source: linear propagation through the two sums; own derivation.
    pub(super) fn variance(sweep: &Sweep, readout: &Readout) -> Option<f64> {
        let count = sweep.codes.len() as f64;
        let angles = (0..MIDST).flat_map(|shift| {
            sweep.codes.iter().map(move |code| {
                TAU * (f64::from(*code) / sweep.states as f64
                    + (f64::from(shift) + 0.5) / (f64::from(MIDST) * count))
            })
        });
        let of = |angle: f64| {
            let weight = 2.0 / count * scalar::sin(angle);
            weight * weight * readout.variance_of_power(1.0 + scalar::cos(angle))
        };
        Some(angles.map(of).sum::<f64>() / f64::from(MIDST))
    }

    /// Formula: with t the angle of a state, its phase error stands with 2/K sin^2 t in the phase that is found, its gain error
    /// with -2/K sin t (1 + cos t). Source: derivative of the angle of the two sums by one power; own derivation.
    pub(super) fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        let count = sweep.codes.len() as f64;
        let share = |code: &Code| {
            let (sin, cos) = scalar::sin_cos(angle + TAU * f64::from(*code) / sweep.states as f64);
            StateShare { code: *code, phase: 2.0 / count * sin * sin, gain: -2.0 / count * sin * (1.0 + cos) }
        };
        sweep.codes.iter().map(share).collect()
    }

    pub(super) fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        bench: &mut D,
        scratch: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        scratch.readings.resize(sweep.codes.len(), [0.0; W]);
        bench.sweep(&sweep.codes, &mut scratch.readings)?;
        Ok(match steps {
            None => phase(&scratch.readings, &sweep.weights),
            Some(steps) => least_squares::phase(&scratch.readings, &sweep.codes, steps),
        })
    }
}

/// Places between two codes over which a variance is averaged.
const MIDST: u32 = 8;

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
