//! A sinusoid through a few readings.

use super::{PairMethod, Readout, StateShare, Steps, Sweep, SweepScratch};
use crate::bench::Bench;
use crate::math::{TAU, scalar};

/// Least squares of a + b cos + c sin in linear power on K codes, evenly spread over a turn.
///
/// Formula: b and c are the sums of p cos and p sin times 2/K where the codes are equally spaced (they are orthogonal over a turn);
/// where K does not divide the states, the normal equations at the phases of the codes that are set. The phase
/// is atan2(c, b), finer than a step. Ties: none. Noise: standard deviation s sqrt(2/K) for additive noise s of the
/// amplitude, 2.5 in place of 2 for noise in dB on equal arms. Units: rad.
/// Source: three-parameter sine fit, IEEE Std 1057 (from memory).
pub(crate) struct Fit;

impl PairMethod for Fit {
    const KIND: &'static str = "fit";
    const TAKES_CODES: bool = true;
    const FINDS_WHOLE_CODES: bool = false;

    /// Formula: sum of [2/K sin(angle)]^2 times the variance of a power, over the codes, mean over where they stand: s^2 2/K
    /// for additive noise, 2.5/K for noise in dB (K of 5 and more). Source: linear propagation through the two sums; own derivation.
    fn variance(sweep: &Sweep, readout: &Readout) -> Option<f64> {
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

    #[cfg(test)]
    fn variance_by_residual(samples: &[[f64; 2]]) -> Option<f64> {
        super::least_squares::variance_by_residual(samples)
    }

    fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        sweep.shares(angle)
    }

    fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        bench: &mut D,
        scratch: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        sweep.fit(steps, bench, scratch)
    }

    fn title(codes: usize) -> String {
        format!("a sinusoid fitted to {codes} codes")
    }

    const RESULT: &'static str = "the phase of the sinusoid through them";
}

/// Places between two codes over which a variance is averaged.
const MIDST: u32 = 8;
