//! A plan in parts that can be compared: plans whose parts are equal do the same there, to the bit, with the same draws.

use crate::array::Array;
use crate::bench::{Clock, Code, Command, DeadRule, Fixture, Hardware, Stability, Unrounded};
use crate::chain::{Chain, Conditions};
use crate::figure::Depth;
use crate::model::{Column, Coupling, Model, OperatingPoint};
use crate::random::Value;
use crate::study::DeadChannels;

/// The parts of a plan, but for its draws, its noise and its calibrations.
pub(crate) struct Parts<'p> {
    /// What units are.
    pub units: Units<'p>,
    /// What is taken of them.
    pub figures: Figures<'p>,
    /// What they meet.
    pub bench: Bench<'p>,
}

/// The units before anything is done to them, and what sets them.
#[derive(PartialEq)]
pub(crate) struct Units<'p> {
    conditions: &'p [Conditions],
    array: &'p Array,
    chain: &'p Chain,
    coupling: &'p Option<Coupling>,
    head_start: &'p [f64],
    /// How many a unit may have is a verdict; how likely they are is in their fate.
    dead: &'p Value,
    attenuator: &'p Option<(f64, usize)>,
    shifter: usize,
    wanted_db: &'p [f64],
    rest: &'p [Code],
    rest_short: &'p [f32],
    unrounded: Unrounded,
}

/// The beams that units are steered to, and what is taken of a beam.
#[derive(PartialEq)]
pub(crate) struct Figures<'p> {
    points: &'p [OperatingPoint],
    commands: &'p [Vec<Command>],
    depth: Depth,
    columns: &'p [Column],
}

/// The bench, but for its receiver, which depends on the calibration.
#[derive(PartialEq)]
pub(crate) struct Bench<'p> {
    fixture: &'p Fixture,
    stability: &'p Stability,
    clock: &'p Clock,
    known_imbalance: f64,
    dead: DeadRule,
}

impl Model {
    /// Its parts. All fields are named here, so that adding one forces a decision on what it affects.
    pub(crate) fn parts(&self) -> Parts<'_> {
        let Model {
            // What is said about outcomes, how many there are, and what they are held against.
            title: _,
            study_hash: _,
            trials: _,
            confidence: _,
            beams: _,
            limits: _,
            families: _,
            // Every key is made from it. Keys are compared source by source, those of noise by rounds.
            seed: _,
            sources: _,
            noise: _,
            // These count for each calibration.
            at_bench: _,
            receiver: _,
            calibrations: _,
            courses: _,
            views: _,
            conditions,
            array,
            chain,
            coupling,
            fixture,
            clock,
            hardware,
            stability,
            head_start,
            dead,
            points,
            commands,
            depth,
            columns,
        } = self;
        let DeadChannels { fate, probability: _, allowed: _, rule: _ } = dead;
        let Hardware { attenuator, shifter, wanted_db, rest, rest_short, unrounded, known_imbalance, dead } =
            hardware;
        Parts {
            units: Units {
                conditions,
                array,
                chain,
                coupling,
                head_start,
                dead: fate,
                attenuator,
                shifter: *shifter,
                wanted_db,
                rest,
                rest_short,
                unrounded: *unrounded,
            },
            figures: Figures { points, commands, depth: *depth, columns },
            bench: Bench { fixture, stability, clock, known_imbalance: *known_imbalance, dead: *dead },
        }
    }
}
