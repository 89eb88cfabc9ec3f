//! What bench work costs in time.

use crate::io::{Check, Dimension, Table};

/// Seconds for each kind of bench work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clock {
    /// Mounting and warming up a unit, s.
    pub set_up: f64,
    /// Moving one cable, s.
    pub reconnection: f64,
    /// Setting one code and waiting for it to settle, s.
    pub setting: f64,
    /// One reading, before averaging, s.
    pub reading: f64,
}

/// Work done on the units of a batch; counts that depend on the readings differ by lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Work<const W: usize> {
    /// Cables moved.
    pub reconnections: u32,
    /// Codes set.
    pub settings: [u32; W],
    /// Readings taken, each of them averaged.
    pub readings: [u32; W],
}

impl<const W: usize> Default for Work<W> {
    fn default() -> Work<W> {
        Work { reconnections: 0, settings: [0; W], readings: [0; W] }
    }
}

impl Clock {
    /// Reads `time = { ... }` of the bench; what is absent costs nothing.
    pub fn read(bench: Option<&Table>) -> Clock {
        let table = bench.and_then(|bench| bench.table("time"));
        let seconds = |key| {
            table
                .as_ref()
                .map_or(0.0, |table| table.quantity_or(key, Dimension::Time, Check::NonNegative, 0.0))
        };
        Clock {
            set_up: seconds("set_up"),
            reconnection: seconds("reconnection"),
            setting: seconds("setting"),
            reading: seconds("reading"),
        }
    }

    /// Seconds for some work at a number of averages a reading.
    pub fn seconds<const W: usize>(&self, work: &Work<W>, averages: u32) -> [f64; W] {
        std::array::from_fn(|l| {
            self.set_up
                + self.reconnection * f64::from(work.reconnections)
                + self.setting * f64::from(work.settings[l])
                + self.reading * f64::from(averages) * f64::from(work.readings[l])
        })
    }
}
