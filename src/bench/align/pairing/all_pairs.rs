//! Every channel against every other.

use super::PairPlan;
use crate::bench::align::pairs::Joining;
use crate::bench::{Bench, Reconnection};
use crate::math::single::within_half_a_turn;

/// Phases from all N (N - 1)/2 differences by least squares.
///
/// Formula: N counts the channels that live. A first guess is the star of the first of them; with r_ij the rest of a difference d_ij within half a turn of the
/// guess, the least-squares correction of channel k is the mean over i of r_ik (r_ki = -r_ik), the normal equations of the complete
/// graph with the sum held at zero. Variance of a residual: 2/N^2 (N - 1)/2 of one difference's, against ((N - 1)/N)^2 of a star's.
/// Of independent errors s^2 of pairs (N - 1)/N^2 s^2 is left, of an error c that all pairs share (N^2 - 1)/(3 N^2) c^2; of states
/// a = (N - 1)/N, b = (N^2 - 1)/(3 N^2), as a channel is stepped against those before it only.
/// Source: own derivation; least squares on a complete graph.
pub(super) struct AllPairs;

impl PairPlan for AllPairs {
    const KIND: &'static str = "all_pairs";

    fn run<D: Bench<W>, const W: usize>(
        joining: &mut Joining<D, W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        let channels = phase.len();
        let live = joining.pass.live;
        let mut sums = vec![[0.0f64; W]; channels];
        let mut count = [0.0f64; W];
        phase.fill([0.0; W]);
        for reference in 0..channels {
            let is_first = count.map(|count| count == 0.0);
            for stepped in reference + 1..channels {
                let is_pair =
                    |l: usize| (live.is_live(reference, l) & live.is_live(stepped, l)).then_some(());
                live.in_groups(is_pair, |(), lanes| {
                    let difference = joining.measure(reference, stepped, Reconnection::Anew, lanes)?;
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
            (0..W).filter(|l| live.is_live(reference, *l)).for_each(|l| count[l] += 1.0);
        }
        for (channel, (phase, sum)) in phase.iter_mut().zip(&sums).enumerate() {
            for l in (0..W).filter(|l| live.is_live(channel, *l)) {
                phase[l] += (sum[l] / count[l]) as f32;
            }
        }
        joining.pass.refer(phase);
        Ok(())
    }

    fn leaves(n: f64) -> (f64, f64) {
        ((n - 1.0) / (n * n), (n * n - 1.0) / (3.0 * n * n))
    }

    fn mixes(n: f64) -> (f64, f64) {
        ((n - 1.0) / n, (n * n - 1.0) / (3.0 * n * n))
    }

    fn is_misled(
        _: usize,
        channels: usize,
        _: impl Fn(usize) -> bool,
        is_mistaken: impl Fn(usize) -> bool,
    ) -> bool {
        (0..channels).any(is_mistaken)
    }

    /// 1/N^2 (4 s_rk^2 + the sum over the other channels i of s_ik^2 + s_ir^2), by the means that solve them.
    #[cfg(test)]
    fn variance(
        live: &[usize],
        [reference, channel]: [usize; 2],
        of_pair: impl Fn([usize; 2]) -> Option<f64>,
    ) -> Option<f64> {
        let of = |one: usize, other: usize| of_pair([one.min(other), one.max(other)]);
        let n = live.len() as f64;
        let mut sum = 4.0 * of(reference, channel)?;
        for other in live.iter().filter(|other| ![reference, channel].contains(other)) {
            sum += of(*other, channel)? + of(*other, reference)?;
        }
        Some(sum / (n * n))
    }

    fn title(_: usize) -> String {
        "every channel against every other".to_owned()
    }
}
