//! The room that a thread needs for one batch: made once, reused, no allocation after.

use crate::bench::{Code, CodeTable, SweepScratch};
use crate::engine::channels::{Channels, Sums};
use crate::engine::desk::DeskRoom;
use crate::figure::Field;
use crate::plan::Plan;
use crate::random::Draws;

/// W trials in flight. All buffers are `[index][lane]`.
#[derive(Clone, Debug)]
pub struct Batch<const W: usize> {
    pub(super) first_trial: u64,
    pub(super) draws: Draws<W>,
    pub(super) sums: Sums<W>,
    /// Channels as the bench sees them.
    pub(super) at_bench: Channels<W>,
    /// Channels as they radiate, `[conditions]`.
    pub(super) radiating: Vec<Channels<W>>,
    /// The same with the attenuators of the last calibration set.
    pub(super) attenuated: Vec<Channels<W>>,
    pub(super) bench: DeskRoom<W>,
    pub(super) sweep: SweepScratch<W>,
    pub(super) table: CodeTable<W>,
    /// Shifter codes of the last beam steered to.
    pub(super) codes: Vec<[Code; W]>,
    pub(super) field: Field<W>,
    /// Value of each column of the plan.
    pub(super) values: Vec<[f64; W]>,
}

impl<const W: usize> Batch<W> {
    /// Room for the units of a plan.
    pub fn new(plan: &Plan) -> Batch<W> {
        let channels = plan.channels();
        Batch {
            first_trial: 0,
            draws: plan.sources.buffer(),
            sums: Sums::new(channels),
            at_bench: Channels::new(channels),
            radiating: vec![Channels::new(channels); plan.conditions.len()],
            attenuated: vec![Channels::new(channels); plan.conditions.len()],
            bench: DeskRoom::new(plan),
            sweep: SweepScratch::default(),
            table: CodeTable::new(channels),
            codes: vec![[0; W]; channels],
            field: Field::new(&plan.array),
            values: vec![[f64::NAN; W]; plan.columns.len()],
        }
    }
}
