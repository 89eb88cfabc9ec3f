//! Phasing: which channels are compared with which, and the phases that follow for a unit.

mod pairing;
mod pairs;

pub(crate) use pairing::Pairing;
pub(crate) use pairs::Pairs;

use crate::bench::method::{Method, Steps, SweepScratch, codes};
use crate::bench::{Bench, Caution, Code, Fixture, LiveChannels, Readout, Receiver, StateShare};
use crate::io::{Count, Flag, Key, Nested, Optional, Or, Table, Word, keys};
use crate::math::single::within_half_a_turn;
use crate::random::Value;

/// The comparisons of a phasing.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Comparison {
    /// Pairs of channels through the coupler.
    Pairs(Pairs),
    /// All channels, in front of a probe.
    OverTheAir(OverTheAir),
}

/// Phasing of a unit.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Align {
    /// Which channels are compared.
    pub comparison: Comparison,
    /// The channel whose phase stays, the first of a star; where it is dead, the next live one.
    pub reference: usize,
}

/// The pass that phases are found in.
#[derive(Clone, Copy, Debug)]
pub(super) struct PassState<'a, const W: usize> {
    /// Which time the plan phases this unit, from 0.
    pub round: u32,
    /// Phase of the coupler's stepped arm over the reference arm, as certified, rad.
    pub imbalance: f32,
    /// Measured phases of the states, `[channel][code][lane]` in a row.
    pub steps: Option<&'a [[f32; W]]>,
    /// Number of those.
    pub states: usize,
    /// Phases that the shifters stand at, rad, `[channel][lane]`.
    pub standing: &'a [[f32; W]],
    /// Which channels live, and against which one the others are phased.
    pub live: &'a LiveChannels<W>,
}

impl<'a, const W: usize> PassState<'a, W> {
    fn steps_of(&self, channel: usize) -> Option<Steps<'a, W>> {
        self.steps.map(|steps| &steps[channel * self.states..][..self.states])
    }

    /// Takes the reference's phase out of all; a channel that is known to be dead has none.
    fn refer(&self, phase: &mut [[f32; W]]) {
        let live = self.live;
        let own: [f32; W] = std::array::from_fn(|l| phase[live.reference(l)][l]);
        for (channel, phase) in phase.iter_mut().enumerate() {
            for l in 0..W {
                phase[l] = if live.is_live(channel, l) { within_half_a_turn(phase[l] - own[l]) } else { 0.0 };
            }
        }
    }
}

/// A way to phase all channels in front of a probe, with its formulas and its words.
trait Alignment: Sized {
    /// Word for `method`.
    const KIND: &'static str;

    /// Reads the other keys of a table whose `method` is this one, for a shifter of `states`.
    fn read(table: &Table, states: usize) -> Self;

    /// Finds the phase that every channel must add to be in phase with the rest, rad, `[channel][lane]`.
    fn run<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        pass: &PassState<W>,
        scratch: &mut SweepScratch<W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault>;

    /// Variance of the phase of one of `channels` like channels, rad squared; `None` where there is no formula.
    fn variance(&self, _channels: usize, _: &Receiver) -> Option<f64> {
        None
    }

    /// By how much errors of states stand in the phase of a channel that is `angle` (rad) ahead, its shifter standing at a code.
    fn shares(&self, angle: f64, standing: Code, states: usize) -> Vec<StateShare>;

    /// In a sentence, after "phases".
    fn title(&self) -> String;
}

macro_rules! alignments {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; use $module::$Type;)*

        /// The ways to phase all channels in front of a probe that a study can name.
        #[derive(Clone, Debug, PartialEq)]
        pub(crate) enum OverTheAir { $(#[doc = concat!("See `align/", stringify!($module), ".rs`.")] $Type($Type)),* }

        impl OverTheAir {
            /// Words for `method`.
            pub(crate) const KINDS: &[&'static str] = &[$($Type::KIND),*];

            fn read(word: &str, table: &Table, states: usize) -> Option<OverTheAir> {
                match word {
                    $($Type::KIND => Some(OverTheAir::$Type($Type::read(table, states))),)*
                    _ => None,
                }
            }

            fn run<D: Bench<W>, const W: usize>(
                &self,
                bench: &mut D,
                pass: &PassState<W>,
                scratch: &mut SweepScratch<W>,
                phase: &mut [[f32; W]],
            ) -> Result<(), D::Fault> {
                match self { $(OverTheAir::$Type(of) => of.run(bench, pass, scratch, phase)?),* }
                pass.refer(phase);
                Ok(())
            }

            fn variance(&self, channels: usize, receiver: &Receiver) -> Option<f64> {
                match self { $(OverTheAir::$Type(of) => of.variance(channels, receiver)),* }
            }

            fn shares(&self, angle: f64, standing: Code, states: usize) -> Vec<StateShare> {
                match self { $(OverTheAir::$Type(of) => of.shares(angle, standing, states)),* }
            }

            fn title(&self) -> String {
                match self { $(OverTheAir::$Type(of) => of.title()),* }
            }
        }
    };
}

alignments! {
    rotating_element::RotatingElement,
    coded_toggling::CodedToggling,
}

keys! {
    KEYS: "Phasing; none where it is left out";
    pub(super) METHOD: Word<Way> =
        Key::word("method", "method", Way::words, "fit", "How the phase of a pair, or of a channel over the air, is found");
    pub(super) CODES: Optional<Count> =
        codes("8", "Codes that are read, evenly spread (code i is i times states/codes, rounded to the nearest), of methods that may leave some out");
    PAIRING: Or<Word<Pairing>, Pairing> =
        Key::word("pairing", "pairing", || Pairing::KINDS.to_vec(), "star",
            "Which pairs are joined; every channel with one reference where it is left out").or(Pairing::USUAL);
    SWAP_ARMS: Flag =
        Key::flag("swap_arms", "Whether every pair is measured a second time with the coupler's arms exchanged");
    REFERENCE: Or<Count, u64> =
        Key::count("reference", 0..=4095, "0", "Number of the channel whose phase stays, from 0; 0 where it is left out").or(0);
}

/// Key of phasing in the table of a plan.
pub(crate) const ALIGN: Key<Nested> = Key::table("align", &KEYS, "{ method = \"fit\" }");

/// What a method compares, as a study names it.
#[derive(Clone, Copy, Debug)]
pub(super) enum Way {
    Pair(Method),
    OverTheAir(&'static str),
}

impl Way {
    /// The words for them.
    fn words() -> Vec<(&'static str, Way)> {
        let pairs = Method::KINDS.iter().map(|(word, method)| (*word, Way::Pair(*method)));
        let over_the_air = OverTheAir::KINDS.iter().map(|word| (*word, Way::OverTheAir(word)));
        pairs.chain(over_the_air).collect()
    }
}

impl Align {
    /// Reads `align = { method = "peak", pairing = "star", reference = 0 }` for a unit of `channels` and a shifter of
    /// `states`; absent: no phasing.
    pub(crate) fn read(calibration: &Table, channels: usize, states: usize) -> Option<Align> {
        let table = calibration.table(ALIGN)?;
        let reference = table.read(&REFERENCE.up_to(channels as u64 - 1)) as usize;
        let comparison = match table.read(&METHOD) {
            Way::Pair(method) => Comparison::Pairs(Pairs::read(&table, method, states)),
            Way::OverTheAir(word) => Comparison::OverTheAir(OverTheAir::read(word, &table, states)?),
        };
        if !table.is_sound(METHOD) {
            [CODES.name, PAIRING.name, SWAP_ARMS.name].iter().for_each(|key| _ = table.has(key));
        }
        Some(Align { comparison, reference })
    }

    /// The pairs that are measured, if the coupler joins any.
    pub(crate) fn pairs(&self) -> Option<&Pairs> {
        match &self.comparison {
            Comparison::Pairs(pairs) => Some(pairs),
            Comparison::OverTheAir(_) => None,
        }
    }

    /// True when a probe in front of the unit takes the place of the coupler.
    pub(crate) fn is_over_the_air(&self) -> bool {
        matches!(self.comparison, Comparison::OverTheAir(_))
    }

    /// True when phases can depend on any channel, so that each has to be detected before.
    pub(crate) fn depends_on_every_channel(&self) -> bool {
        self.pairs().is_some_and(|pairs| pairs.pairing.depends_on_every_channel())
    }

    /// The channel that stands still in every pair, if there is one.
    pub(crate) fn common_reference(&self) -> Option<usize> {
        let pairs = self.pairs()?;
        pairs.pairing.has_common_reference().then_some(self.reference)
    }

    /// True when phases of live channels depend on a dead one that was taken for a live one; see the pairings.
    pub(super) fn is_misled(
        &self,
        reference: usize,
        channels: usize,
        is_dead: impl Fn(usize) -> bool,
        is_mistaken: impl Fn(usize) -> bool,
    ) -> bool {
        let Some(pairs) = self.pairs() else { return false };
        pairs.pairing.is_misled(reference, channels, is_dead, is_mistaken)
    }

    /// How many times a channel can be compared in one phasing, exchanged arms counted.
    pub(crate) fn rounds(&self) -> u32 {
        if self.pairs().is_some_and(|pairs| pairs.swaps_arms) { 2 } else { 1 }
    }

    /// Finds the phase that every channel must add to be in phase with the reference, rad, `[channel][lane]`; the reference's own is 0.
    pub(super) fn run<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        pass: &PassState<W>,
        scratch: &mut SweepScratch<W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        match &self.comparison {
            Comparison::Pairs(pairs) => pairs.run(bench, pass, scratch, phase),
            Comparison::OverTheAir(way) => way.run(bench, pass, scratch, phase),
        }
    }

    /// The residual errors that the bench itself leaves in `channels` channels; see [`Pairs::leaves`]. Over the air each channel has an
    /// independent error, of which (N - 1)/N stays.
    pub(crate) fn leaves(
        &self,
        channels: usize,
        receiver: &Receiver,
        readout: &Readout,
        fixture: &Fixture,
    ) -> Phased {
        match &self.comparison {
            Comparison::Pairs(pairs) => pairs.leaves(channels, readout, fixture),
            Comparison::OverTheAir(way) => {
                let n = channels as f64;
                let own = (n - 1.0) / n;
                Phased {
                    readings: way.variance(channels, receiver).map(|variance| own * variance),
                    connections: 0.0,
                    coupler: 0.0,
                    probe: own * square(&fixture.probe_phase),
                }
            }
        }
    }

    /// By how much errors of states stand in the phase that is found of a channel that is `angle` (rad) ahead, its shifter standing
    /// at a code meanwhile where all channels are on.
    pub(crate) fn shares(&self, angle: f64, standing: Code, states: usize) -> Vec<StateShare> {
        match &self.comparison {
            Comparison::Pairs(pairs) => pairs.method.shares(&pairs.sweep, angle),
            Comparison::OverTheAir(way) => way.shares(angle, standing, states),
        }
    }

    /// How an error s that each channel's own states put into the phases found spreads over `channels` channels: with u the errors of the states
    /// where they are used, the mean square residual is (1 - 1/N) u^2 - a u s + b s^2, for the means of the products; (a, b).
    ///
    /// Formula: over the air a = 2 (N - 1)/N, b = (N - 1)/N, as each channel has its own; else see the pairings. Source: own derivation,
    /// traces of the matrices that make phases of differences.
    pub(crate) fn mixes(&self, channels: usize) -> (f64, f64) {
        let n = channels as f64;
        let all = (n - 1.0) / n;
        self.pairs().map_or((2.0 * all, all), |pairs| pairs.pairing.mixes(n))
    }

    /// True when nothing finer than whole codes is found.
    pub(crate) fn finds_whole_codes(&self) -> bool {
        self.pairs().is_some_and(|pairs| pairs.method.finds_whole_codes())
    }

    /// Why a receiver does not suit the method of a pair, where the shifter's step is `step` rad.
    pub(crate) fn caution(&self, step: f64, receiver: &Receiver) -> Option<Caution> {
        self.pairs()?.method.caution(step, receiver)
    }

    /// In a sentence, after "phases".
    pub(crate) fn title(&self) -> String {
        match &self.comparison {
            Comparison::Pairs(pairs) => pairs.title(self.reference),
            Comparison::OverTheAir(way) => way.title(),
        }
    }
}

/// Residual phases of the channels after phasing, mean squares over them with the common part taken out, rad squared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Phased {
    /// By noise and display; `None` where there is no formula.
    pub readings: Option<f64>,
    /// By cables that are moved.
    pub connections: f64,
    /// By the uncertainty of the coupler's certificate.
    pub coupler: f64,
    /// By the uncertainty of the ways to the probe.
    pub probe: f64,
}

fn square(of: &Value) -> f64 {
    of.sd() * of.sd()
}
