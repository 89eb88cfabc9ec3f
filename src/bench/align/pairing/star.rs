//! Every channel against one reference.

use super::PairPlan;
use crate::bench::align::pairs::Joining;
#[cfg(test)]
use crate::bench::{Align, Comparison, Method, Pairs, method::Sweep};
use crate::bench::{Bench, Reconnection};

/// Every channel against one reference, whose cable stays where it is.
///
/// Formula: of independent errors s^2 of pairs ((N - 1)/N)^2 s^2 is left, of an error c that all pairs share (N - 1)/N^2 c^2, as the
/// reference has none; of states a = 2 ((N - 1)/N)^2, b = ((N - 1)/N)^2. Source: own derivation.
pub(super) struct Star;

impl PairPlan for Star {
    const KIND: &'static str = "star";
    const DEPENDS_ON_EVERY_CHANNEL: bool = false;
    const HAS_COMMON_REFERENCE: bool = true;
    const CABLES: f64 = 1.0;

    /// Exchanged arms leave the reference's cable in the stepped arm, so it is moved back for the next pair: no connection of it
    /// serves two pairs then.
    fn run<D: Bench<W>, const W: usize>(
        joining: &mut Joining<D, W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        let live = joining.pass.live;
        let mut is_connected = [false; W];
        for (channel, phase) in phase.iter_mut().enumerate() {
            *phase = [0.0; W];
            let before = is_connected;
            let pair = |l: usize| {
                let reference = live.reference(l);
                (live.is_live(channel, l) && reference != channel).then_some((reference, before[l]))
            };
            live.in_groups(pair, |(reference, is_connected_before), lanes| {
                let reconnection = match () {
                    _ if joining.pairs.swaps_arms => Reconnection::Anew,
                    _ if is_connected_before => Reconnection::Stepped,
                    _ => Reconnection::Both,
                };
                let found = joining.measure(reference, channel, reconnection, lanes)?;
                for l in 0..W {
                    phase[l] = if lanes[l] { found[l] } else { phase[l] };
                    is_connected[l] |= lanes[l];
                }
                Ok(())
            })?;
        }
        Ok(())
    }

    fn leaves(n: f64) -> (f64, f64) {
        ((n - 1.0) * (n - 1.0) / (n * n), (n - 1.0) / (n * n))
    }

    fn mixes(n: f64) -> (f64, f64) {
        let all = (n - 1.0) / n;
        (2.0 * all * all, all * all)
    }

    fn is_misled(
        reference: usize,
        _: usize,
        _: impl Fn(usize) -> bool,
        is_mistaken: impl Fn(usize) -> bool,
    ) -> bool {
        is_mistaken(reference)
    }

    #[cfg(test)]
    fn variance(_: &[usize], pair: [usize; 2], of_pair: impl Fn([usize; 2]) -> Option<f64>) -> Option<f64> {
        of_pair(pair)
    }

    fn title(reference: usize) -> String {
        format!("every channel against channel {reference}")
    }
}

#[cfg(test)]
impl Align {
    /// Phasing by pairs, every channel against one reference, by sweeps of `count` codes of `states`.
    pub(crate) fn star(method: Method, reference: usize, states: usize, count: usize) -> Align {
        let pairs = Pairs {
            method,
            sweep: Sweep::new(states, count),
            pairing: super::Pairing::Star,
            swaps_arms: false,
        };
        Align { comparison: Comparison::Pairs(pairs), reference }
    }
}
