//! Cables that are moved: what each connection draws.

use super::SimulatedBench;
use crate::bench::KEPT_CONNECTIONS;
use crate::random::Value;
use std::ptr::from_ref;

/// Connections of rounds that the draws of a batch do not hold, drawn for all channels at once and kept while they are in use.
#[derive(Clone, Debug, Default)]
pub(super) struct Connections<const W: usize> {
    /// The batch that they are of.
    first_trial: u64,
    rounds: Vec<Round<W>>,
}

/// The deviations that a slot of a value draws, `[channel][lane]`.
#[derive(Clone, Debug)]
struct Round<const W: usize> {
    /// The value's address: models that share units are compiled apart.
    value: usize,
    slot: u32,
    rows: Vec<[f32; W]>,
}

impl<const W: usize> Round<W> {
    fn is_of(&self, value: &Value, slot: u32) -> bool {
        (self.value, self.slot) == (from_ref(value) as usize, slot)
    }
}

/// Rounds that are kept: those of gain and phase of the arms, and of channels read alone, of a pass and the one before it.
const MOST: usize = 8;

impl<const W: usize> SimulatedBench<'_, W> {
    /// Draws the connections of all channels in a round, if they are not there.
    pub(super) fn connect(&mut self, value: &Value, slot: u32) {
        if (slot as usize) < KEPT_CONNECTIONS || value.is_zero() {
            return;
        }
        let Connections { first_trial, rounds } = &mut self.room.connections;
        if *first_trial != self.first_trial {
            *first_trial = self.first_trial;
            rounds.clear();
        }
        if rounds.iter().any(|round| round.is_of(value, slot)) {
            return;
        }
        if rounds.len() == MOST {
            rounds.remove(0);
        }
        let rows = self.model.sources.draw_once(value, slot, self.model.channels(), self.draws);
        rounds.push(Round { value: from_ref(value) as usize, slot, rows });
    }

    /// The deviation that a connection draws: one of those that are kept, or one made now.
    pub(super) fn connection(&self, value: &Value, slot: u32, channel: usize) -> [f32; W] {
        if (slot as usize) < KEPT_CONNECTIONS {
            return *value.deviation_at(self.draws, slot as usize, channel);
        }
        match self.room.connections.rounds.iter().find(|round| round.is_of(value, slot)) {
            Some(round) => round.rows[channel],
            None => self.model.sources.draw_once(value, slot, channel + 1, self.draws)[channel],
        }
    }
}
