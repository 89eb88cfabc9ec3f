//! The states of the shifters that are stepped. Where states are products of a few bits a table costs less than to remember it; others are
//! tabled once for a batch, whatever plan, pass or arm asks for them.

use crate::chain::{PhaseShifter, States};

/// Most bytes that a thread keeps; where all channels need more, each is tabled anew.
const MOST_BYTES: usize = 2 << 20;

/// Which units the tables are of, and as seen by which view of which model.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::engine) struct Units {
    /// The model's address: models that share units are compiled apart.
    pub model: usize,
    pub view: usize,
    pub first_trial: u64,
}

/// Tables of the states of every shifter, made as they are needed.
#[derive(Clone, Debug)]
pub(super) struct Shifters<const W: usize> {
    units: Units,
    /// `[channel]`, or one for whichever was stepped last.
    tables: Vec<States<W>>,
    is_there: Vec<bool>,
    /// The one that was asked for last.
    last: usize,
}

impl<const W: usize> Shifters<W> {
    /// Room for the shifters of so many channels.
    pub(super) fn new(shifter: &PhaseShifter, channels: usize) -> Shifters<W> {
        let table = shifter.room::<W>();
        let bytes = channels * table.high.len() * size_of_val(&table.high[0]);
        let kept = if table.low.len() > 1 || bytes > MOST_BYTES { 1 } else { channels };
        Shifters { units: Units::default(), tables: vec![table; kept], is_there: vec![false; kept], last: 0 }
    }

    /// Tables of no shifter.
    #[cfg(test)]
    pub(super) fn none() -> Shifters<W> {
        Shifters { units: Units::default(), tables: vec![States::default()], is_there: vec![false], last: 0 }
    }

    /// The table of a channel, and whether it is there; whoever is given one that is not has to make it.
    pub(super) fn of(
        &mut self,
        units: Units,
        shifter: &PhaseShifter,
        channel: usize,
    ) -> (&mut States<W>, bool) {
        let is_kept = self.tables.len() > 1;
        self.last = if is_kept { channel } else { 0 };
        // Views see other states only where these are measured over frequency.
        let units = if shifter.is_measured() { units } else { Units { view: 0, ..units } };
        if self.units != units {
            self.units = units;
            self.is_there.fill(false);
        }
        let is_there = std::mem::replace(&mut self.is_there[self.last], is_kept);
        (&mut self.tables[self.last], is_there)
    }

    /// The table that was asked for last.
    pub(super) fn last(&self) -> &States<W> {
        &self.tables[self.last]
    }
}
