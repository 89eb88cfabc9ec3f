//! Every channel against every other.

use super::Pairs;
use crate::bench::{Bench, Reconnection};
use crate::math::single::within_half_a_turn;

/// Phases from all N (N - 1)/2 differences by least squares.
///
/// Formula: N counts the channels that live. A first guess is the star of the first of them; with r_ij the rest of a difference d_ij within half a turn of the
/// guess, the least-squares correction of channel k is the mean over i of r_ik (r_ki = -r_ik), the normal equations of the complete
/// graph with the sum held at zero. Variance of a residual: 2/N^2 (N - 1)/2 of one difference's, against ((N - 1)/N)^2 of a star's.
/// Source: own derivation; least squares on a complete graph.
pub(super) fn run<D: Bench<W>, const W: usize>(
    pairs: &mut Pairs<D, W>,
    phase: &mut [[f32; W]],
) -> Result<(), D::Fault> {
    let channels = phase.len();
    let living = pairs.known.living;
    let mut sums = vec![[0.0f64; W]; channels];
    let mut count = [0.0f64; W];
    phase.fill([0.0; W]);
    for reference in 0..channels {
        let is_first = count.map(|count| count == 0.0);
        for stepped in reference + 1..channels {
            let is_pair = |l: usize| (living.lives(reference, l) & living.lives(stepped, l)).then_some(());
            living.alike(is_pair, |(), lanes| {
                let difference = pairs.measure(reference, stepped, Reconnection::Anew, lanes)?;
                for l in (0..W).filter(|l| lanes[*l]) {
                    if is_first[l] {
                        phase[stepped][l] = difference[l];
                    }
                    let guess = phase[stepped][l] - phase[reference][l];
                    let rest = f64::from(within_half_a_turn(difference[l] - guess));
                    sums[stepped][l] += rest;
                    sums[reference][l] -= rest;
                }
                Ok(())
            })?;
        }
        (0..W).filter(|l| living.lives(reference, *l)).for_each(|l| count[l] += 1.0);
    }
    for (channel, (phase, sum)) in phase.iter_mut().zip(&sums).enumerate() {
        for l in (0..W).filter(|l| living.lives(channel, *l)) {
            phase[l] += (sum[l] / count[l]) as f32;
        }
    }
    Ok(())
}
