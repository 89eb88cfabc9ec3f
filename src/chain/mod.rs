//! The hardware of one channel: a chain of blocks from the feed to the element. One block a file;
//! register it in the list below.
//!
//! Every block is computed as its deviation from its own nominal, in nepers and radians, so that the
//! error-free chain is exactly 1 and a block without spread adds exactly 0. What the bench sets (an
//! attenuator's and a shifter's state) counts in full.
//!
//! A block is written with a [`Tolerance`] for each of its parameters; bound to what is drawn, it is the same block with a [`Value`]
//! in the place of each, and only that can be computed.

mod compression;
mod lineup;
mod state_table;
mod states;
mod stepped;
mod stuck_bits;
mod vector_sum;

pub(crate) use compression::{Compression, Rapp};
pub(crate) use element::NeighbourCoupling;
pub(crate) use lineup::{Chain, Named, Side};
pub(crate) use phase_shifter::{MOST_BITS, States};
pub(crate) use state_table::StateTable;
pub(crate) use states::Code;
pub(crate) use vector_sum::VectorSum;

use crate::io::{Dimension, Findings, Key, Keys, Special, Table, Text, keys};
use crate::random::{CORRELATION, Draws, Sources, Tolerance, Toleranced, Value};
use multiversion::multiversion;

/// Nepers in a dB of amplitude: ln(10)/20.
pub(crate) const NEPERS_A_DB: f64 = std::f64::consts::LN_10 / 20.0;

/// Where a chain is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Conditions {
    /// Frequency in use, Hz.
    pub frequency: f64,
    /// Frequency the nominal values are stated at, and the shifters are commanded for, Hz.
    pub command_frequency: f64,
    /// Temperature, K.
    pub temperature: f64,
    /// Temperature that the nominal values are stated at, K.
    pub reference_temperature: f64,
}

impl Conditions {
    /// How far the temperature is from that of the nominal values, K.
    pub(crate) fn warming(&self) -> f64 {
        self.temperature - self.reference_temperature
    }
}

/// A parameter of a block, as its block lists it: as written, or as units have it.
pub(crate) struct Listed<'a, T> {
    /// Key in the study file.
    pub key: &'static str,
    /// The parameter itself.
    pub tolerance: &'a T,
    /// Independent draws for each channel: bits, states, or 1.
    pub slots: usize,
    /// Kind of quantity.
    pub dimension: Dimension,
    /// True when it is drawn only once a state needs it.
    pub on_use: bool,
    /// True when it says how the block changes with temperature: a coefficient, or a step.
    pub of_temperature: bool,
}

impl<'a, T> Listed<'a, T> {
    fn one(key: &Key<Toleranced>, tolerance: &'a T) -> Listed<'a, T> {
        use Dimension::{AnglePerTemperature, LevelPerTemperature, RatioPerTemperature};
        let Toleranced { path, dimension, .. } = key.takes;
        let of_temperature =
            matches!(dimension, AnglePerTemperature | LevelPerTemperature | RatioPerTemperature);
        Listed { key: path, tolerance, slots: 1, dimension, on_use: false, of_temperature }
    }
}

impl Listed<'_, Tolerance> {
    /// Gives it its place among the draws, as a parameter of a block of this name.
    fn bind(&self, block: &str, sources: &mut Sources) -> Value {
        let name = format!("{block}.{}", self.key);
        sources.bind(name, self.tolerance, self.slots, self.dimension, self.on_use)
    }
}

impl Listed<'_, Value> {
    /// Whether it says how the block changes with temperature, and is not zero.
    fn is_of_temperature(&self) -> bool {
        self.of_temperature && !self.tolerance.is_zero()
    }
}

keys! {
    OF_ALL: "A block of the channel, from the feed to the element";
    KIND: Text = Key::text("kind", "cable", "What the block is");
    /// Key of its name.
    pub(crate) NAME: Text = Key::text("name", "jumper", "What the block is called, unlike all others");
    CORRELATIONS: Special = CORRELATION;
}

/// What a block answers besides its formula. Most have nothing to say.
trait Roles<T> {
    /// The block as what bench and beam step in phase, where it is.
    fn stepped_in_phase(&self) -> Option<&PhaseShifter<T>> {
        None
    }

    /// The block as what the bench and a taper step in level, where it is.
    fn stepped_in_level(&self) -> Option<&Attenuator<T>> {
        None
    }

    /// Whether some unit may have a bit of it that is stuck.
    fn may_stick(&self) -> bool {
        false
    }

    /// How it couples to its neighbours, where it does.
    fn coupling(&self) -> Option<&NeighbourCoupling<T>> {
        None
    }

    /// How it compresses, where it does.
    fn compression(&self) -> Option<(&Amplifier<T>, &Rapp<T>)> {
        None
    }

    /// What a report says of it that none of its tolerances says.
    fn words(&self) -> Option<String> {
        None
    }

    /// Interpolates what was measured for all frequencies in use, Hz; see [`Chain::prepare`].
    fn prepare(&mut self, _frequencies: &[f64], _findings: &Findings) {}
}

macro_rules! blocks {
    ($($visible:vis $module:ident::$Type:ident),* $(,)?) => {
        $($visible mod $module; pub(crate) use $module::$Type;)*

        /// The blocks a chain can be made of.
        #[derive(Clone, Debug, PartialEq)]
        pub(crate) enum Block<T = Value> { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type($Type<T>)),* }

        impl Block<Tolerance> {
            /// Words for `kind`.
            #[cfg(test)]
            pub(crate) const KINDS: &[&str] = &[$($Type::KIND),*];

            /// Keys of a `[[block]]`, by its kind.
            pub(crate) const KEYS: Keys = Keys { kinds: &[$(($Type::KIND, &$module::KEYS)),*], ..OF_ALL };

            /// Reads a `[[block]]` table by its `kind`; `None` when the kind is unknown.
            pub(crate) fn read(table: &Table) -> Option<Block<Tolerance>> {
                type Reader = fn(&Table) -> Block<Tolerance>;
                let options: &[(&'static str, Reader)] = &[$(($Type::KIND, |t| Block::$Type($Type::read(t)))),*];
                table.kind("block", options).map(|read| read(table))
            }
        }

        impl<T> Block<T> {
            fn roles(&self) -> &dyn Roles<T> {
                match self { $(Block::$Type(block) => block),* }
            }

            fn roles_mut(&mut self) -> &mut dyn Roles<T> {
                match self { $(Block::$Type(block) => block),* }
            }

            /// The word for this block's kind.
            pub(crate) fn kind(&self) -> &'static str {
                match self { $(Block::$Type(_) => $Type::KIND),* }
            }

            /// The same block with something else in the place of each parameter, asked for in the order that they are listed in.
            pub(crate) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Block<U> {
                match self { $(Block::$Type(block) => Block::$Type(block.map(to))),* }
            }

            /// Every parameter of the block.
            pub(crate) fn tolerances(&self) -> Vec<Listed<'_, T>> {
                let mut list = Vec::new();
                self.map(&mut |listed| list.push(listed));
                list
            }
        }

        impl Block {
            /// Gain of the block as on the drawing, dB, at the frequency in question and the temperature that nominal values
            /// are stated at; of a stepped block at code 0, of an amplifier before it compresses.
            pub(crate) fn nominal_gain_db(&self, at: &Conditions) -> f64 {
                match self { $(Block::$Type(block) => block.nominal_gain_db(at)),* }
            }

            /// Adds what the block does to every channel, as deviation from nominal: `gain` in nepers, `phase`
            /// in rad, both `[channel][lane]`. A stepped block adds all but its state.
            pub(crate) fn add<const W: usize>(
                &self,
                conditions: &Conditions,
                draws: &Draws<W>,
                gain: &mut [[f64; W]],
                phase: &mut [[f64; W]],
            ) {
                add(self, conditions, draws, gain, phase);
            }
        }

        #[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
        fn add<const W: usize>(
            block: &Block,
            conditions: &Conditions,
            draws: &Draws<W>,
            gain: &mut [[f64; W]],
            phase: &mut [[f64; W]],
        ) {
            match block { $(Block::$Type(block) => block.add(conditions, draws, gain, phase)),* }
        }
    };
}

blocks! {
    cable::Cable,
    trace::Trace,
    pub(crate) microstrip::Microstrip,
    connector::Connector,
    divider::Divider,
    amplifier::Amplifier,
    phase_shifter::PhaseShifter,
    attenuator::Attenuator,
    element::Element,
}
