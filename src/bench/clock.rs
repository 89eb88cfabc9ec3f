//! The time that bench work takes.

use crate::io::{Check, Dimension, Key, Nested, Or, Quantity, Table, keys};

/// Seconds for each kind of bench work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Clock {
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
pub(crate) struct Work<const W: usize> {
    /// Cables moved.
    pub reconnections: [u32; W],
    /// Readings taken, each of them after a code was set, and averaged.
    pub readings: [u32; W],
}

impl<const W: usize> Default for Work<W> {
    fn default() -> Work<W> {
        Work { reconnections: [0; W], readings: [0; W] }
    }
}

impl<const W: usize> Work<W> {
    /// Counts as many readings in every lane.
    pub(crate) fn count(&mut self, readings: usize) {
        self.count_where(&[true; W], readings);
    }

    /// Counts them in the lanes that take them.
    #[inline]
    pub(crate) fn count_where(&mut self, takes: &[bool; W], readings: usize) {
        for l in 0..W {
            let readings = u32::from(takes[l]).wrapping_neg() & readings as u32;
            self.readings[l] += readings;
        }
    }

    /// Counts cables moved in the lanes that do it.
    pub(crate) fn move_where(&mut self, takes: &[bool; W], cables: u32) {
        for l in 0..W {
            self.reconnections[l] += if takes[l] { cables } else { 0 };
        }
    }
}

/// The kinds of work that time is split into, in the order of [`Clock::split`].
pub(crate) const KINDS_OF_WORK: [&str; 4] = [SET_UP.name, RECONNECTION.name, SETTING.name, READING.name];

keys! {
    KEYS: "What bench work takes; nothing where it is left out";
    SET_UP: Or<Quantity, f64> = time("set_up", "5 min", "Setting up a unit");
    RECONNECTION: Or<Quantity, f64> = time("reconnection", "30 s", "Moving a test cable");
    SETTING: Or<Quantity, f64> = time("setting", "0.2 s", "Setting a code");
    READING: Or<Quantity, f64> = time("reading", "0.1 s", "One reading, before averaging");
}

/// Key of the times in the table of the bench.
pub(crate) const TIME: Key<Nested> =
    Key::table("time", &KEYS, "{ setting = \"0.2 s\", reading = \"0.1 s\" }");

const fn time(name: &'static str, example: &'static str, about: &'static str) -> Key<Or<Quantity, f64>> {
    Key::quantity(name, Dimension::Time, Check::NonNegative, example, about).or(0.0)
}

impl Clock {
    /// Reads `time = { ... }` of the bench; absent parts cost nothing.
    pub(crate) fn read(bench: Option<&Table>) -> Clock {
        let table = bench.and_then(|bench| bench.table(TIME));
        let seconds = |key| table.as_ref().map_or(0.0, |table| table.read(key));
        Clock {
            set_up: seconds(&SET_UP),
            reconnection: seconds(&RECONNECTION),
            setting: seconds(&SETTING),
            reading: seconds(&READING),
        }
    }

    /// Seconds for so many reconnections and readings of one unit, each after a setting.
    #[inline(always)]
    pub(crate) fn seconds_of(&self, reconnections: u32, readings: u32, averages: u32) -> f64 {
        self.set_up
            + self.reconnection * f64::from(reconnections)
            + self.setting * f64::from(readings)
            + self.reading * f64::from(averages) * f64::from(readings)
    }

    /// Seconds for some work at a number of averages a reading, by [kind of work](KINDS_OF_WORK).
    pub(crate) fn split<const W: usize>(&self, work: &Work<W>, averages: u32) -> [[f64; W]; 4] {
        [
            [self.set_up; W],
            work.reconnections.map(|count| self.reconnection * f64::from(count)),
            work.readings.map(|count| self.setting * f64::from(count)),
            work.readings.map(|count| self.reading * f64::from(averages) * f64::from(count)),
        ]
    }
}
