//! Which pairs of channels are joined. One pairing a file; register it in the list below.

use super::pairs::Joining;
use crate::bench::Bench;

/// Which pairs are joined, and the phases that their differences give, with its formulas and its words.
trait PairPlan {
    /// Word for `pairing`.
    const KIND: &'static str;
    /// Phases can depend on any channel.
    const DEPENDS_ON_EVERY_CHANNEL: bool = true;
    /// One channel stands still in every pair.
    const HAS_COMMON_REFERENCE: bool = false;
    /// Cables that are moved for a pair whose arms are not exchanged.
    const CABLES: f64 = 2.0;
    /// For a bench sheet: how dead channels are handled.
    const DEAD_CHANNELS: Option<&'static str> = None;

    /// Finds the phase that every channel must add, rad, `[channel][lane]`; the reference's own is 0.
    fn run<D: Bench<W>, const W: usize>(
        joining: &mut Joining<D, W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault>;

    /// See [`Pairing::leaves`].
    fn leaves(n: f64) -> (f64, f64);

    /// See [`Pairing::mixes`].
    fn mixes(n: f64) -> (f64, f64);

    /// See [`Pairing::is_misled`].
    fn is_misled(
        reference: usize,
        channels: usize,
        is_dead: impl Fn(usize) -> bool,
        is_mistaken: impl Fn(usize) -> bool,
    ) -> bool;

    /// See [`Pairing::variance`]; the channel is not the reference.
    #[cfg(test)]
    fn variance(live: &[usize], pair: [usize; 2], of_pair: impl Fn([usize; 2]) -> Option<f64>)
    -> Option<f64>;

    /// See [`Pairing::title`].
    fn title(reference: usize) -> String;
}

macro_rules! pairings {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; use $module::$Type;)*

        /// Which pairs are joined.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(crate) enum Pairing { $(#[doc = concat!("See `align/pairing/", stringify!($module), ".rs`.")] $Type),* }

        impl Pairing {
            /// Words for `pairing`.
            pub(crate) const KINDS: &[(&'static str, Pairing)] = &[$(($Type::KIND, Pairing::$Type)),*];

            /// The first of the list, where a study names none.
            pub(crate) const USUAL: Pairing = Pairing::KINDS[0].1;

            /// True when phases can depend on any channel.
            pub(crate) fn depends_on_every_channel(self) -> bool {
                match self { $(Pairing::$Type => $Type::DEPENDS_ON_EVERY_CHANNEL),* }
            }

            /// True when one channel stands still in every pair.
            pub(crate) fn has_common_reference(self) -> bool {
                match self { $(Pairing::$Type => $Type::HAS_COMMON_REFERENCE),* }
            }

            /// Cables that are moved for a pair whose arms are not exchanged.
            pub(crate) fn cables(self) -> f64 {
                match self { $(Pairing::$Type => $Type::CABLES),* }
            }

            /// For a bench sheet: how dead channels are handled beyond leaving them out.
            pub(crate) fn dead_channels(self) -> Option<&'static str> {
                match self { $(Pairing::$Type => $Type::DEAD_CHANNELS),* }
            }

            pub(super) fn run<D: Bench<W>, const W: usize>(
                self,
                joining: &mut Joining<D, W>,
                phase: &mut [[f32; W]],
            ) -> Result<(), D::Fault> {
                match self { $(Pairing::$Type => $Type::run(joining, phase)),* }
            }

            /// The mean square residual over n channels by the variance of a pair's own error, and by the square of an error that all
            /// pairs share.
            pub(crate) fn leaves(self, n: f64) -> (f64, f64) {
                match self { $(Pairing::$Type => $Type::leaves(n)),* }
            }

            /// How an error of the states spreads over n channels; see [`Align::mixes`](crate::bench::Align::mixes).
            pub(crate) fn mixes(self, n: f64) -> (f64, f64) {
                match self { $(Pairing::$Type => $Type::mixes(n)),* }
            }

            /// True when phases of live channels depend on a dead one that was taken for a live one.
            pub(crate) fn is_misled(
                self,
                reference: usize,
                channels: usize,
                is_dead: impl Fn(usize) -> bool,
                is_mistaken: impl Fn(usize) -> bool,
            ) -> bool {
                match self {
                    $(Pairing::$Type => $Type::is_misled(reference, channels, is_dead, is_mistaken)),*
                }
            }

            /// Variance of a channel's phase over the reference's, rad squared, from those of pairs; `pair` is the reference and the
            /// channel, `live` all channels that live, ascending.
            #[cfg(test)]
            pub(crate) fn variance(
                self,
                live: &[usize],
                pair: [usize; 2],
                of_pair: impl Fn([usize; 2]) -> Option<f64>,
            ) -> Option<f64> {
                if pair[0] == pair[1] {
                    return Some(0.0);
                }
                match self { $(Pairing::$Type => $Type::variance(live, pair, of_pair)),* }
            }

            /// For people: "every channel against channel 0".
            pub(crate) fn title(self, reference: usize) -> String {
                match self { $(Pairing::$Type => $Type::title(reference)),* }
            }
        }
    };
}

pairings! {
    star::Star,
    chain::Chain,
    all_pairs::AllPairs,
}
