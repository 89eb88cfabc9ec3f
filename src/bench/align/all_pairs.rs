//! Every channel against every other.

use super::Pairs;
use crate::bench::{Desk, Moved};
use crate::math::single::within_half_a_turn;

/// Phases from all N (N - 1)/2 differences by least squares.
///
/// Formula: a first guess is the star of channel 0; with r_ij the rest of a difference d_ij within half a turn of the
/// guess, the least-squares correction of channel k is the mean over i of r_ik (r_ki = -r_ik), the normal equations of the complete
/// graph with the sum held at zero. Variance of a residual: 2/N^2 (N - 1)/2 of one difference's, against ((N - 1)/N)^2 of a star's.
/// Source: own derivation; least squares on a complete graph.
pub(super) fn run<D: Desk<W>, const W: usize>(pairs: &mut Pairs<D, W>, phase: &mut [[f32; W]]) {
    let channels = phase.len();
    let mut sums = vec![[0.0f64; W]; channels];
    phase[0] = [0.0; W];
    for reference in 0..channels {
        for stepped in reference + 1..channels {
            let difference = pairs.measure(reference, stepped, Moved::Anew);
            if reference == 0 {
                phase[stepped] = difference;
            }
            for l in 0..W {
                let guess = phase[stepped][l] - phase[reference][l];
                let rest = f64::from(within_half_a_turn(difference[l] - guess));
                sums[stepped][l] += rest;
                sums[reference][l] -= rest;
            }
        }
    }
    for (phase, sum) in phase.iter_mut().zip(&sums) {
        for l in 0..W {
            phase[l] += (sum[l] / channels as f64) as f32;
        }
    }
}
