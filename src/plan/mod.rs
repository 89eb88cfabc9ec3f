//! The study compiled: everything that the trials share, computed once. Immutable, shared by all threads.

mod compile;
mod limit;
mod warnings;

pub use compile::compile;
pub use limit::Limit;
pub use warnings::warnings;

use crate::array::Array;
use crate::bench::{Calibration, Clock, Command, Fixture, Hardware, Receiver};
use crate::chain::{Chain, Conditions};
use crate::figure::{Depth, Figure, Look};
use crate::random::{Key, Sources};
use crate::study::{Beam, Trials};

/// One column of results: a figure at a look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// The figure.
    pub figure: Figure,
    /// Number of the look among the plan's.
    pub look: usize,
}

/// A study ready to run.
#[derive(Clone, Debug)]
pub struct Plan {
    /// What the study is called.
    pub title: String,
    /// Fingerprint of the study's text, 16 hexadecimal digits.
    pub study_hash: String,
    /// Seed of all draws.
    pub seed: u64,
    /// How many units are built.
    pub trials: Trials,
    /// Confidence of every interval.
    pub confidence: f64,
    /// What the chain meets in use: every frequency at every temperature, frequencies first.
    pub conditions: Vec<Conditions>,
    /// What the chain meets on the bench.
    pub at_bench: Conditions,
    /// Beams.
    pub beams: Vec<Beam>,
    /// The error-free array.
    pub array: Array,
    /// The hardware of a channel, its tolerances bound to the sources.
    pub chain: Chain,
    /// All that is drawn for a unit.
    pub sources: Sources,
    /// The bench's receiver.
    pub receiver: Receiver,
    /// The bench's coupler and cables.
    pub fixture: Fixture,
    /// What bench work costs.
    pub clock: Clock,
    /// What a calibration knows of the hardware.
    pub hardware: Hardware,
    /// Calibration plans, run on the same units.
    pub calibrations: Vec<Calibration>,
    /// Every beam at all conditions, beams first.
    pub looks: Vec<Look>,
    /// What each look commands the shifters to, `[look][channel]`.
    pub commands: Vec<Vec<Command>>,
    /// What is computed of a look.
    pub depth: Depth,
    /// What is kept of a trial: for each figure, every look.
    pub columns: Vec<Column>,
    /// The spec, a line for each beam and frequency.
    pub limits: Vec<Limit>,
    /// Key of the receiver's noise reading channels alone.
    pub noise_alone: Key,
    /// Key of the receiver's noise reading pairs.
    pub noise_pair: Key,
}

impl Plan {
    /// Number of channels.
    pub fn channels(&self) -> usize {
        self.array.channels()
    }

    /// Number of a look's conditions among those in use.
    pub fn conditions_of(&self, look: usize) -> usize {
        look % self.conditions.len()
    }

    /// Temperature of a look, K, where the study distinguishes several.
    pub fn temperature_of(&self, look: usize) -> Option<f64> {
        let temperature = self.conditions[self.conditions_of(look)].temperature;
        self.conditions.iter().any(|of| of.temperature != temperature).then_some(temperature)
    }

    /// The receiver as one calibration uses it.
    pub fn receiver_for(&self, calibration: &Calibration) -> Receiver {
        Receiver { averages: calibration.averages.unwrap_or(self.receiver.averages), ..self.receiver }
    }
}
