//! The buffer that holds a batch's draws.

use crate::random::{Place, Source};
use std::ops::Range;

/// The deviations of one batch, `[source][slot][group][lane]`, in single precision: a deviation has seven digits, and
/// its nominal value is added in double.
#[derive(Clone, Debug)]
pub(crate) struct Draws<const W: usize> {
    first_trial: u64,
    values: Vec<[f32; W]>,
    /// `[source][slot]`.
    is_drawn: Vec<bool>,
    room: Vec<[f64; W]>,
    /// Normal scores of correlated sources, `[source][group]`.
    scores: Vec<[f64; W]>,
}

impl<const W: usize> Draws<W> {
    pub(in crate::random) fn new(rows: usize, slots: usize, groups: usize, scores: usize) -> Draws<W> {
        Draws {
            first_trial: 0,
            values: vec![[0.0; W]; rows],
            is_drawn: vec![false; slots],
            room: vec![[0.0; W]; groups],
            scores: vec![[0.0; W]; scores],
        }
    }

    /// Forgets all draws: a batch of the trials `first_trial ..` begins.
    pub(in crate::random) fn begin(&mut self, first_trial: u64) {
        self.first_trial = first_trial;
        self.is_drawn.fill(false);
    }

    /// The first of the trials that it holds draws of.
    pub(in crate::random) fn first_trial(&self) -> u64 {
        self.first_trial
    }

    pub(in crate::random) fn is_drawn(&self, source: &Source, slot: usize) -> bool {
        self.is_drawn[source.first_slot + slot]
    }

    /// Takes over one slot of a source from where another source, which draws alike, has it for the same trials.
    pub(in crate::random) fn take(&mut self, source: &Source, slot: usize, from: &Draws<W>, of: &Source) {
        self.is_drawn[source.first_slot + slot] = true;
        let (to, at) = (source.place.start_of(slot), of.place.start_of(slot));
        self.values[to..to + source.groups].copy_from_slice(&from.values[at..at + source.groups]);
    }

    /// Draws one slot of a source that depends on no other.
    pub(in crate::random) fn draw(&mut self, source: &Source, slot: usize) {
        self.is_drawn[source.first_slot + slot] = true;
        let start = source.place.start_of(slot);
        let rows = &mut self.values[start..start + source.groups];
        let Some(lot) = source.lot else {
            let room = &mut self.room[..source.groups];
            source.distribution.draw(source.key, self.first_trial, slot as u32, rows, room);
            return;
        };
        for_each_lot::<W>(self.first_trial, lot, |lot, lanes| {
            let mut row = [[0.0; 1]];
            source.distribution.draw(source.key, lot, slot as u32, &mut row, &mut [[0.0; 1]]);
            rows[0][lanes].fill(row[0][0]);
        });
    }

    /// Leaves one slot of a source at its nominal value.
    pub(in crate::random) fn freeze(&mut self, source: &Source, slot: usize) {
        self.is_drawn[source.first_slot + slot] = true;
        let start = source.place.start_of(slot);
        self.values[start..start + source.groups].fill([0.0; W]);
    }

    /// Puts a deviation for each lane in place of what one slot of a group has.
    pub(in crate::random) fn put(&mut self, source: &Source, slot: usize, group: usize, row: &[f32; W]) {
        self.values[source.place.start_of(slot) + group] = *row;
    }

    /// The deviations of the first groups at a slot that is not kept, of a source that depends on no other, `[group][lane]`.
    pub(in crate::random) fn draw_apart(&self, source: &Source, slot: u32, groups: usize) -> Vec<[f32; W]> {
        if source.is_frozen {
            return vec![[0.0; W]; groups];
        }
        if let Some(lot) = source.lot {
            let mut row = [0.0; W];
            for_each_lot::<W>(self.first_trial, lot, |lot, lanes| {
                let mut one = [[0.0; 1]];
                source.distribution.draw(source.key, lot, slot, &mut one, &mut [[0.0; 1]]);
                row[lanes].fill(one[0][0]);
            });
            return vec![row; groups];
        }
        let (mut rows, mut room) = (vec![[0.0; W]; groups], vec![[0.0; W]; groups]);
        source.distribution.draw(source.key, self.first_trial, slot, &mut rows, &mut room);
        rows
    }

    /// Draws one slot of those sources of a list whose scores are correlated by `factor`, lower triangular.
    pub(in crate::random) fn draw_set(
        &mut self,
        list: &[Source],
        members: &[usize],
        factor: &[Vec<f64>],
        slot: usize,
    ) {
        let groups = list[members[0]].groups;
        for (member, scores) in members.iter().zip(self.scores.chunks_mut(groups)) {
            let source = &list[*member];
            self.is_drawn[source.first_slot + slot] = true;
            let start = source.place.start_of(slot);
            let rows = &mut self.values[start..start + groups];
            let (key, slot) = (source.key, slot as u32);
            match source.lot {
                None => source.distribution.draw_scores(key, self.first_trial, slot, scores, rows),
                Some(lot) => for_each_lot::<W>(self.first_trial, lot, |lot, lanes| {
                    let mut score = [[0.0; 1]];
                    source.distribution.draw_scores(key, lot, slot, &mut score, &mut [[0.0; 1]]);
                    scores[0][lanes].fill(score[0][0]);
                }),
            }
        }
        // From the last: a source's scores are made from those of the sources before it, still independent.
        for (number, member) in members.iter().enumerate().skip(1).rev() {
            let source = &list[*member];
            let (before, own) = self.scores.split_at_mut(number * groups);
            let own = &mut own[..groups];
            for (group, own) in own.iter_mut().enumerate() {
                for l in 0..W {
                    let mut score = factor[number][number] * own[l];
                    for (other, share) in factor[number][..number].iter().enumerate() {
                        score += share * before[other * groups + group][l];
                    }
                    own[l] = score;
                }
            }
            source.distribution.transform_scores(own.as_flattened_mut());
            let start = source.place.start_of(slot);
            for (row, deviations) in self.values[start..start + groups].iter_mut().zip(own) {
                *row = deviations.map(|x| x as f32);
            }
        }
        self.draw(&list[members[0]], slot);
    }

    /// Adds the rows of two places up, in the rows of a third that has as many groups as the finer of them.
    pub(in crate::random) fn add(&mut self, to: &Place, groups: usize, of: [&Place; 2], slot: usize) {
        for group in 0..groups {
            let [first, second] = of.map(|place| *self.at(place, slot, group * to.channels_a_group));
            let sum = &mut self.values[to.start_of(slot) + group];
            for l in 0..W {
                sum[l] = first[l] + second[l];
            }
        }
    }

    /// The row of a channel's deviations.
    #[inline(always)]
    pub(in crate::random) fn at(&self, place: &Place, slot: usize, channel: usize) -> &[f32; W] {
        let group = if place.channels_a_group == 1 { channel } else { channel / place.channels_a_group };
        &self.values[place.start_of(slot) + group]
    }

    /// The rows of channels that have a draw each; `None` where some share one.
    #[inline(always)]
    pub(in crate::random) fn rows(
        &self,
        place: &Place,
        slot: usize,
        channels: Range<usize>,
    ) -> Option<&[[f32; W]]> {
        let start = place.start_of(slot);
        (place.channels_a_group == 1).then(|| &self.values[start + channels.start..start + channels.end])
    }

    /// Deviation of one lane of a source, by slot and group.
    pub(crate) fn deviation(&self, source: &Source, slot: usize, group: usize, lane: usize) -> f64 {
        f64::from(self.values[source.place.start_of(slot) + group][lane])
    }
}

/// The lots that a batch's trials belong to, each with its lanes. A lot's number takes the trial's place in a draw, so a
/// draw for each lot depends neither on the lanes nor on where a batch begins.
fn for_each_lot<const W: usize>(first_trial: u64, lot: u64, mut draw: impl FnMut(u64, Range<usize>)) {
    let mut lane = 0;
    while lane < W {
        let trial = first_trial + lane as u64;
        let left = (lot - trial % lot).min((W - lane) as u64) as usize;
        draw(trial / lot, lane..lane + left);
        lane += left;
    }
}
