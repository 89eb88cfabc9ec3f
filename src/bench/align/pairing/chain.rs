//! Every channel against the one before it.

use super::PairPlan;
use crate::bench::align::pairs::Joining;
use crate::bench::{Bench, Reconnection};
use crate::math::single::within_half_a_turn;

/// Every channel against the one before it: errors add up along the chain, common ones to a slope. A dead channel is left out: the
/// coupler joins the live channels on both sides of it.
///
/// Formula: of independent errors s^2 of pairs (N^2 - 1)/(6 N) s^2 is left, of an error c that all pairs share, one a link,
/// (N^2 - 1)/12 c^2; of states a = (N - 1)/N, b = (N^2 - 1)/(6 N), as a link stands in all channels behind it. Source: own derivation.
pub(super) struct Chain;

impl PairPlan for Chain {
    const KIND: &'static str = "chain";
    const DEAD_CHANNELS: Option<&'static str> =
        Some("the chain joins the living channels on both sides of a dead one");

    fn run<D: Bench<W>, const W: usize>(
        joining: &mut Joining<D, W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        let live = joining.pass.live;
        let mut last: [Option<usize>; W] = [None; W];
        for channel in 0..phase.len() {
            phase[channel] = [0.0; W];
            let before = |l: usize| last[l].filter(|_| live.is_live(channel, l));
            live.in_groups(before, |before, lanes| {
                let difference = joining.measure(before, channel, Reconnection::Anew, lanes)?;
                for l in (0..W).filter(|l| lanes[*l]) {
                    phase[channel][l] = within_half_a_turn(phase[before][l] + difference[l]);
                }
                Ok(())
            })?;
            (0..W).filter(|l| live.is_live(channel, *l)).for_each(|l| last[l] = Some(channel));
        }
        joining.pass.refer(phase);
        Ok(())
    }

    fn leaves(n: f64) -> (f64, f64) {
        ((n * n - 1.0) / (6.0 * n), (n * n - 1.0) / 12.0)
    }

    fn mixes(n: f64) -> (f64, f64) {
        ((n - 1.0) / n, (n * n - 1.0) / (6.0 * n))
    }

    /// A dead channel misleads between two live ones.
    fn is_misled(
        _: usize,
        channels: usize,
        is_dead: impl Fn(usize) -> bool,
        is_mistaken: impl Fn(usize) -> bool,
    ) -> bool {
        let is_live = |channel: &usize| !is_dead(*channel);
        let (first, last) = ((0..channels).find(is_live), (0..channels).rfind(is_live));
        let between = first.unwrap_or(0)..last.unwrap_or(0);
        between.into_iter().any(is_mistaken)
    }

    /// The sum over the links to the reference.
    #[cfg(test)]
    fn variance(
        live: &[usize],
        [reference, channel]: [usize; 2],
        of_pair: impl Fn([usize; 2]) -> Option<f64>,
    ) -> Option<f64> {
        let place = |of: usize| live.iter().position(|channel| *channel == of);
        let (one, other) = (place(reference)?, place(channel)?);
        let links = live[one.min(other)..=one.max(other)].windows(2);
        links.map(|link| of_pair([link[0], link[1]])).sum()
    }

    fn title(_: usize) -> String {
        "every channel against the one before it".to_owned()
    }
}
