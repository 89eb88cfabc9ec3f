//! The room that a thread needs for one batch: made once, reused, no allocation after.

use crate::bench::{Code, CodeTable, SweepScratch};
use crate::engine::desk::DeskRoom;
use crate::figure::Field;
use crate::plan::Plan;
use crate::random::Draws;

/// W trials in flight. All buffers are `[index][lane]`.
#[derive(Clone, Debug)]
pub struct Batch<const W: usize> {
    pub(super) first_trial: u64,
    pub(super) draws: Draws<W>,
    /// Channels as the bench sees them.
    pub(super) at_bench: Channels<W>,
    /// Channels as they radiate, `[frequency]`.
    pub(super) radiating: Vec<Channels<W>>,
    pub(super) bench: DeskRoom<W>,
    pub(super) sweep: SweepScratch<W>,
    pub(super) table: CodeTable<W>,
    /// Shifter codes of the last beam steered to.
    pub(super) codes: Vec<[Code; W]>,
    pub(super) field: Field<W>,
    /// Value of each column of the plan.
    pub(super) values: Vec<[f64; W]>,
}

/// Gain (nepers) and phase (rad) of every channel over its nominal, `[channel][lane]`.
#[derive(Clone, Debug)]
pub(super) struct Channels<const W: usize> {
    pub gain: Vec<[f64; W]>,
    pub phase: Vec<[f64; W]>,
}

impl<const W: usize> Channels<W> {
    pub fn new(channels: usize) -> Channels<W> {
        Channels { gain: vec![[0.0; W]; channels], phase: vec![[0.0; W]; channels] }
    }

    pub fn clear(&mut self) {
        self.gain.fill([0.0; W]);
        self.phase.fill([0.0; W]);
    }
}

impl<const W: usize> Batch<W> {
    /// Room for the units of a plan.
    pub fn new(plan: &Plan) -> Batch<W> {
        let channels = plan.channels();
        Batch {
            first_trial: 0,
            draws: plan.sources.buffer(),
            at_bench: Channels::new(channels),
            radiating: vec![Channels::new(channels); plan.frequencies.len()],
            bench: DeskRoom::new(channels, plan.chain.shifter().states()),
            sweep: SweepScratch::default(),
            table: CodeTable::new(channels),
            codes: vec![[0; W]; channels],
            field: Field::new(&plan.array),
            values: vec![[f64::NAN; W]; plan.columns.len()],
        }
    }
}
