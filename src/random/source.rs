//! The list of everything that is drawn, and the buffer that holds a batch's draws.
//!
//! A source is known by its name ("feed cable.length"), never by its number: adding a block, or a bit,
//! leaves every other draw as it was.

use crate::io::Dimension;
use crate::random::{Key, Scope, Shape, Tolerance, draw};

/// How channels are grouped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Grouping {
    /// Channels of a unit.
    pub channels: usize,
    /// Channels of a chip.
    pub chip: usize,
}

/// Where a source's draws stand in the buffer: `[slot][group]`, in lanes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    start: usize,
    groups: usize,
    channels_a_group: usize,
}

/// One named source of deviations.
#[derive(Clone, Debug)]
pub struct Source {
    /// Block (or bench part) and key, joined by a point.
    pub name: String,
    /// Law of the deviation.
    pub shape: Shape,
    /// What shares one draw.
    pub scope: Scope,
    /// Nominal value that the deviation is added to.
    pub nominal: f64,
    /// Kind of quantity, for printing.
    pub dimension: Dimension,
    /// Independent draws for each group: bits, states, or 1.
    pub slots: usize,
    /// Groups: channels, chips, or 1.
    pub groups: usize,
    key: Key,
    place: Place,
}

impl Source {
    /// The group that a channel belongs to.
    pub fn group_of(&self, channel: usize) -> usize {
        channel / self.place.channels_a_group
    }
}

/// All sources of a plan.
#[derive(Clone, Debug)]
pub struct Sources {
    seed: u64,
    grouping: Grouping,
    list: Vec<Source>,
    lanes: usize,
}

impl Sources {
    /// An empty list for a seed and a grouping of the channels.
    pub fn new(seed: u64, grouping: Grouping) -> Sources {
        Sources { seed, grouping, list: Vec::new(), lanes: 0 }
    }

    /// Gives a tolerance its place among the draws, with `slots` independent draws for each group.
    /// A tolerance that does not vary takes none.
    pub fn bind(&mut self, name: String, tolerance: &mut Tolerance, slots: usize, dimension: Dimension) {
        let Some(spread) = &tolerance.spread else { return };
        let channels_a_group = match spread.scope {
            Scope::Channel => 1,
            Scope::Chip => self.grouping.chip,
            Scope::Unit => self.grouping.channels,
        };
        let groups = self.grouping.channels.div_ceil(channels_a_group);
        let place = Place { start: self.lanes, groups, channels_a_group };
        self.lanes += slots * groups;
        self.list.push(Source {
            key: Key::new(self.seed, &name),
            name,
            shape: spread.shape,
            scope: spread.scope,
            nominal: tolerance.nominal,
            dimension,
            slots,
            groups,
            place,
        });
        tolerance.place = Some(place);
    }

    /// The sources in the order they were bound.
    pub fn list(&self) -> &[Source] {
        &self.list
    }

    /// Draws every source for the trials `first_trial ..` of a batch.
    pub fn draw<const W: usize>(&self, first_trial: u64, draws: &mut Draws<W>) {
        for source in &self.list {
            let start = source.place.start * W;
            let length = source.groups * W;
            for slot in 0..source.slots {
                let from = start + slot * length;
                draw::fill::<W>(source.key, first_trial, slot as u32, &mut draws.values[from..from + length]);
            }
            source.shape.transform(&mut draws.values[start..start + source.slots * length]);
        }
    }

    /// A buffer for one batch.
    pub fn buffer<const W: usize>(&self) -> Draws<W> {
        Draws { values: vec![0.0; self.lanes * W] }
    }
}

/// The deviations of one batch, `[source][slot][group][lane]`.
#[derive(Clone, Debug)]
pub struct Draws<const W: usize> {
    values: Vec<f64>,
}

impl<const W: usize> Draws<W> {
    #[inline]
    pub(in crate::random) fn at(&self, place: &Place, slot: usize, channel: usize) -> &[f64; W] {
        let lane = place.start + slot * place.groups + channel / place.channels_a_group;
        &self.values.as_chunks::<W>().0[lane]
    }

    /// Deviation of one lane of a source, by slot and group.
    pub fn deviation(&self, source: &Source, slot: usize, group: usize, lane: usize) -> f64 {
        self.values[(source.place.start + slot * source.groups + group) * W + lane]
    }
}
