//! The buffers that a thread needs for one batch: made once, reused, no allocation after.

use crate::bench::{Code, CodeTable, LiveChannels, Scratch};
use crate::engine::channels::{Channels, Sums};
use crate::engine::compression::Inputs;
use crate::engine::simulated_bench::BenchScratch;
use crate::figure::Field;
use crate::math::Complex;
use crate::model::Model;
use crate::random::Draws;

/// W trials in flight. All buffers are `[index][lane]`.
#[derive(Clone, Debug)]
pub(super) struct Batch<const W: usize> {
    pub(super) first_trial: u64,
    pub(super) draws: Draws<W>,
    pub(super) sums: Sums<W>,
    /// Channels as the bench sees them, `[view]`.
    pub(super) seen: Vec<Channels<W>>,
    /// What drives their amplifiers, `[view]`.
    pub(super) seen_inputs: Vec<Inputs<W>>,
    /// Channels as they radiate, `[conditions]`.
    pub(super) radiating: Vec<Channels<W>>,
    /// What drives their amplifiers, `[conditions]`.
    pub(super) radiating_inputs: Vec<Inputs<W>>,
    /// The channels with the attenuators of the last calibration set, by the code table that is used there.
    pub(super) attenuated: Vec<Channels<W>>,
    /// The code table that `attenuated` was made with, `[conditions]`; none yet since the last calibration.
    pub(super) set_by: Vec<Option<usize>>,
    pub(super) bench: BenchScratch<W>,
    pub(super) scratch: Scratch<W>,
    /// Code tables of the last calibration.
    pub(super) tables: Vec<CodeTable<W>>,
    /// Bench time by kind of work, s.
    pub(super) seconds: [[f64; W]; 4],
    /// Dead channels of each unit.
    pub(super) dead: [u32; W],
    /// What the bench of the last calibration knows of dead channels.
    pub(super) living: LiveChannels<W>,
    /// Units in which it took a dead channel for a living one that phases hang on.
    pub(super) is_stranded: [bool; W],
    /// Shifter codes of the last beam steered to.
    pub(super) codes: Vec<[Code; W]>,
    /// Room for elements that couple, `[channel]`; empty where none do.
    pub(super) coupled: Vec<Complex<W>>,
    pub(super) field: Field<W>,
    /// Value of each column of the model.
    pub(super) values: Vec<[f64; W]>,
}

impl<const W: usize> Batch<W> {
    /// Room for the units of a model.
    pub(super) fn new(model: &Model) -> Batch<W> {
        let channels = model.channels();
        let tables = model.courses.iter().map(|course| course.tables.len()).max().unwrap_or(0);
        Batch {
            first_trial: 0,
            draws: model.sources.buffer(),
            sums: Sums::new(channels),
            seen: vec![Channels::new(channels); model.views.len()],
            seen_inputs: vec![Inputs::default(); model.views.len()],
            radiating_inputs: vec![Inputs::default(); model.conditions.len()],
            radiating: vec![Channels::new(channels); model.conditions.len()],
            attenuated: vec![Channels::new(channels); model.conditions.len()],
            set_by: vec![None; model.conditions.len()],
            bench: BenchScratch::new(model),
            scratch: Scratch::default(),
            tables: vec![CodeTable::new(channels); tables],
            seconds: [[0.0; W]; 4],
            dead: [0; W],
            living: LiveChannels::default(),
            is_stranded: [false; W],
            codes: vec![[0; W]; channels],
            coupled: Vec::new(),
            field: Field::new(&model.array),
            values: vec![[f64::NAN; W]; model.columns.len()],
        }
    }

    /// Makes room for what another model makes of the same units.
    pub(super) fn make_room(&mut self, model: &Model) {
        let tables = model.courses.iter().map(|course| course.tables.len()).max().unwrap_or(0);
        if self.tables.len() < tables {
            self.tables.resize(tables, CodeTable::new(model.channels()));
        }
        if self.values.len() < model.columns.len() {
            self.values.resize(model.columns.len(), [f64::NAN; W]);
        }
    }
}
