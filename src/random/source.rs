//! The list of everything that is drawn, and the buffer that holds a batch's draws.
//!
//! A source is known by its name ("feed cable.length"), never by its number: adding a block, or a bit,
//! leaves every other draw as it was.

use crate::io::Dimension;
use crate::random::{Key, Scope, Shape, Tolerance};
use std::ops::Range;

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
    /// Number of the source.
    source: usize,
    start: usize,
    /// Rows from slot to slot: odd, so that the slots of a channel do not all fall on the same set of a cache.
    stride: usize,
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
    /// True when a slot is drawn only once something uses it.
    on_use: bool,
    key: Key,
    place: Place,
    /// First of its slots among those of all sources.
    first_slot: usize,
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
    rows: usize,
    slots: usize,
}

impl Sources {
    /// An empty list for a seed and a grouping of the channels.
    pub fn new(seed: u64, grouping: Grouping) -> Sources {
        Sources { seed, grouping, list: Vec::new(), rows: 0, slots: 0 }
    }

    /// Gives a tolerance its place among the draws, with `slots` independent draws for each group.
    /// A tolerance that does not vary takes none. With `on_use` a slot is left undrawn until [`Sources::need`].
    pub fn bind(
        &mut self,
        name: String,
        tolerance: &mut Tolerance,
        slots: usize,
        dimension: Dimension,
        on_use: bool,
    ) {
        let Some(spread) = &tolerance.spread else { return };
        let channels_a_group = match spread.scope {
            Scope::Channel => 1,
            Scope::Chip => self.grouping.chip,
            Scope::Unit => self.grouping.channels,
        };
        let groups = self.grouping.channels.div_ceil(channels_a_group);
        let place = Place { source: self.list.len(), start: self.rows, stride: groups | 1, channels_a_group };
        self.list.push(Source {
            key: Key::new(self.seed, &name),
            name,
            shape: spread.shape,
            scope: spread.scope,
            nominal: tolerance.nominal,
            dimension,
            slots,
            groups,
            on_use,
            place,
            first_slot: self.slots,
        });
        self.rows += slots * place.stride;
        self.slots += slots;
        tolerance.place = Some(place);
    }

    /// The sources in the order they were bound.
    pub fn list(&self) -> &[Source] {
        &self.list
    }

    /// Begins a batch of the trials `first_trial ..` and draws every source, but for those drawn on use.
    pub fn draw<const W: usize>(&self, first_trial: u64, draws: &mut Draws<W>) {
        draws.first_trial = first_trial;
        draws.is_drawn.fill(false);
        for source in self.list.iter().filter(|source| !source.on_use) {
            (0..source.slots).for_each(|slot| draws.draw(source, slot));
        }
    }

    /// Draws what [`Sources::draw`] left out as well.
    pub fn draw_rest<const W: usize>(&self, draws: &mut Draws<W>) {
        for source in &self.list {
            (0..source.slots).for_each(|slot| draws.draw(source, slot));
        }
    }

    /// Draws one slot of a tolerance, if it is not drawn yet.
    pub fn need<const W: usize>(&self, tolerance: &Tolerance, slot: usize, draws: &mut Draws<W>) {
        if let Some(place) = &tolerance.place {
            draws.draw(&self.list[place.source], slot);
        }
    }

    /// The deviation of one channel at a slot that is not kept, drawn for the batch in `draws`: of a source with more draws
    /// than are worth keeping.
    pub fn draw_once<const W: usize>(
        &self,
        tolerance: &Tolerance,
        slot: u32,
        channel: usize,
        draws: &Draws<W>,
    ) -> [f32; W] {
        let Some(place) = &tolerance.place else { return [0.0; W] };
        let source = &self.list[place.source];
        let group = source.group_of(channel);
        let (mut rows, mut room) = (vec![[0.0; W]; group + 1], vec![[0.0; W]; group + 1]);
        source.shape.draw(source.key, draws.first_trial, slot, &mut rows, &mut room);
        rows[group]
    }

    /// A buffer for one batch.
    pub fn buffer<const W: usize>(&self) -> Draws<W> {
        let groups = self.list.iter().map(|source| source.groups).max().unwrap_or(0);
        Draws {
            first_trial: 0,
            values: vec![[0.0; W]; self.rows],
            is_drawn: vec![false; self.slots],
            room: vec![[0.0; W]; groups],
        }
    }
}

/// The deviations of one batch, `[source][slot][group][lane]`, in single precision: a deviation has seven digits, and
/// its nominal value is added in double.
#[derive(Clone, Debug)]
pub struct Draws<const W: usize> {
    first_trial: u64,
    values: Vec<[f32; W]>,
    /// `[source][slot]`.
    is_drawn: Vec<bool>,
    room: Vec<[f64; W]>,
}

impl<const W: usize> Draws<W> {
    fn draw(&mut self, source: &Source, slot: usize) {
        let is_drawn = &mut self.is_drawn[source.first_slot + slot];
        if !std::mem::replace(is_drawn, true) {
            let start = source.place.start + slot * source.place.stride;
            let rows = &mut self.values[start..start + source.groups];
            source.shape.draw(
                source.key,
                self.first_trial,
                slot as u32,
                rows,
                &mut self.room[..source.groups],
            );
        }
    }

    /// The row of a channel's deviations.
    #[inline(always)]
    pub(in crate::random) fn at(&self, place: &Place, slot: usize, channel: usize) -> &[f32; W] {
        let group = if place.channels_a_group == 1 { channel } else { channel / place.channels_a_group };
        &self.values[place.start + slot * place.stride + group]
    }

    /// The rows of channels that have a draw each; `None` where some share one.
    #[inline(always)]
    pub(in crate::random) fn rows(
        &self,
        place: &Place,
        slot: usize,
        channels: Range<usize>,
    ) -> Option<&[[f32; W]]> {
        let start = place.start + slot * place.stride;
        (place.channels_a_group == 1).then(|| &self.values[start + channels.start..start + channels.end])
    }

    /// Deviation of one lane of a source, by slot and group.
    pub fn deviation(&self, source: &Source, slot: usize, group: usize, lane: usize) -> f64 {
        f64::from(self.values[source.place.start + slot * source.place.stride + group][lane])
    }
}
