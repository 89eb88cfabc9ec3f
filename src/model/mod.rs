//! The study compiled: everything that the trials share, computed once. Immutable, shared by all threads.

mod attempt;
mod compile;
mod coupling;
mod course;
mod dead_channels;
mod grating_lobes;
mod inspections;
mod limit;
mod operating_point;
mod parts;
pub(crate) mod vary;
mod warnings;

pub(crate) use compile::compile;
pub(crate) use coupling::Coupling;
pub(crate) use limit::Limit;
pub(crate) use operating_point::OperatingPoint;
pub(crate) use warnings::warnings;

use crate::array::Array;
use crate::bench::{Calibration, Clock, Command, Fixture, Hardware, Receiver, Stability};
use crate::chain::{Chain, Conditions};
use crate::figure::{Depth, Figure};
use crate::random::{Key, Sources, Value};
use crate::study::{Beam, DeadChannels, Trials};

/// One column of results: a figure at a beam point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Column {
    /// The figure.
    pub figure: Figure,
    /// Number of the beam point among the plan's.
    pub point: usize,
}

/// What a bench sees of a unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct View {
    /// Under these conditions.
    pub at: Conditions,
    /// The whole chain, as a probe sees it, not only what stands before the reference plane.
    pub is_whole: bool,
}

/// The code tables that a calibration plan makes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Course {
    /// One after the other.
    pub tables: Vec<TableSpec>,
    /// The one that is used, `[point]`.
    pub chosen: Vec<usize>,
}

/// What a code table is made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct TableSpec {
    /// Number of what the bench sees among the plan's views.
    pub view: usize,
    /// The look whose beam the shifters are commanded to meanwhile; broadside when there is none.
    pub point: Option<usize>,
}

/// Keys of what is read: noise exists for every reading that could be taken, whether it is or not.
#[derive(Clone, Debug)]
pub(crate) struct NoiseKeys {
    /// Channels alone.
    pub alone: Key,
    /// Channels alone, looked at to see whether they live.
    pub looked: Key,
    /// What is joined, `[round]`.
    pub joined: Vec<Key>,
    /// Pairs whose reference is turned.
    pub turned: Key,
    /// All channels in front of the probe, with amplitude and phase.
    pub field: Key,
    /// The random walk of the receiver.
    pub walk: Key,
}

impl NoiseKeys {
    /// Keys for some rounds of joining, each made from a name. Noise of the first round is keyed as if there were no other.
    fn new(rounds: u32, key: impl Fn(&str) -> Key) -> NoiseKeys {
        let key = |name: &str| key(&format!("bench.receiver.{name}"));
        let joined = |round: u32| match round {
            0 => key("noise pair"),
            round => key(&format!("noise pair, round {round}")),
        };
        NoiseKeys {
            alone: key("noise alone"),
            looked: key("noise look"),
            joined: (0..rounds.max(1)).map(joined).collect(),
            turned: key("noise pair turned"),
            field: key("noise field"),
            walk: key("walk"),
        }
    }
}

/// A study ready to run.
#[derive(Clone, Debug)]
pub(crate) struct Model {
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
    /// What the chain meets on the bench at the command frequency.
    pub at_bench: Conditions,
    /// What benches see of the units; the first is the chain up to the reference plane at the command frequency.
    pub views: Vec<View>,
    /// Beams.
    pub beams: Vec<Beam>,
    /// The error-free array.
    pub array: Array,
    /// The hardware of a channel, its tolerances bound to the sources.
    pub chain: Chain,
    /// How its elements couple.
    pub coupling: Option<Coupling>,
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
    /// How the receiver drifts and stretches.
    pub stability: Stability,
    /// Calibration plans, run on the same units.
    pub calibrations: Vec<Calibration>,
    /// The code tables that each calibration plan makes, `[calibration]`.
    pub courses: Vec<Course>,
    /// Gain that every channel begins with over its nominal, nepers, `[channel]`: what attenuators have to take away for a taper.
    pub head_start: Vec<f64>,
    /// Channels that are dead, and how many a unit may have.
    pub dead: DeadChannels,
    /// Every beam at all conditions, beams first.
    pub points: Vec<OperatingPoint>,
    /// What each beam point commands the shifters to, `[point][channel]`.
    pub commands: Vec<Vec<Command>>,
    /// What is computed of a beam point.
    pub depth: Depth,
    /// What is kept of a trial: for each figure, every beam point.
    pub columns: Vec<Column>,
    /// The spec, a line for each beam and frequency.
    pub limits: Vec<Limit>,
    /// For each limit, the number of its family: limits on one side of one figure at one beam, whatever the frequency, the temperature
    /// and the bound.
    pub families: Vec<usize>,
    /// Keys of the receiver's noise.
    pub noise: NoiseKeys,
}

impl Model {
    /// Number of channels.
    pub(crate) fn channels(&self) -> usize {
        self.array.channels()
    }

    /// Units that share draws of a lot, the first trial the first of the first lot; `None` where units are independent.
    pub(crate) fn lot(&self) -> Option<u64> {
        self.sources.lot()
    }

    /// What the chain meets at a beam point.
    pub(crate) fn conditions_of(&self, point: usize) -> &Conditions {
        &self.conditions[self.points[point].conditions]
    }

    /// Number of families of limits.
    pub(crate) fn family_count(&self) -> usize {
        self.families.iter().max().map_or(0, |last| last + 1)
    }

    /// Temperature of a beam point, K, where the study distinguishes several.
    pub(crate) fn temperature_of(&self, point: usize) -> Option<f64> {
        let temperature = self.conditions_of(point).temperature;
        self.conditions.iter().any(|of| of.temperature != temperature).then_some(temperature)
    }

    /// The same with one calibration plan alone, by its number; what it draws stays as it is.
    pub(crate) fn with_calibration(&self, number: usize) -> Model {
        let (calibrations, courses) =
            (vec![self.calibrations[number].clone()], vec![self.courses[number].clone()]);
        Model { calibrations, courses, ..self.clone() }
    }

    /// The same with all channels alive.
    pub(crate) fn all_alive(&self) -> Model {
        let mut model = self.clone();
        model.dead.fate = Value::exact(0.0);
        model
    }

    /// The same with the parts of a source as they are delivered, whatever the study inspects.
    pub(crate) fn delivering(mut self, source: &str) -> Model {
        if let Some(number) = self.sources.list().iter().position(|of| of.name == source) {
            self.sources.uninspect(number);
        }
        self
    }

    /// Whether units are somewhere warmer or colder than where their nominal values hold, and that changes them.
    pub(crate) fn feels_temperature(&self) -> bool {
        let mut all = self.conditions.iter().chain([&self.at_bench]);
        all.any(|of| of.warming() != 0.0) && self.chain.depends_on_temperature()
    }

    /// The receiver as one calibration uses it.
    pub(crate) fn receiver_for(&self, calibration: &Calibration) -> Receiver {
        Receiver { averages: calibration.averages.unwrap_or(self.receiver.averages), ..self.receiver }
    }
}
