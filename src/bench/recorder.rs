//! A log of the operations on a bench, with the readings of the unit in its first lane.

use crate::bench::{Bench, Code, Pair, Tabled, Work};
use crate::math::{Complex, LN_10, single};

/// The signal that a reading is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Of {
    /// A channel alone.
    Alone {
        /// The channel.
        channel: usize,
    },
    /// Two channels in the coupler.
    Pair {
        /// How they are joined.
        pair: Pair,
        /// Shifter code of the reference.
        turned: Code,
    },
    /// A channel among all others in front of the probe.
    Rest {
        /// The channel whose shifter is stepped.
        channel: usize,
    },
    /// All channels in front of the probe, some turned by half a turn.
    All {
        /// Number of the reading.
        row: u32,
    },
}

/// One reading of the bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reading {
    /// Its signal.
    pub of: Of,
    /// Shifter code of the stepped channel; of a channel alone the code of its attenuator.
    pub code: Code,
    /// Level, dB over a nominal channel.
    pub level_db: f32,
}

/// An operation on the bench.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Event {
    /// A code table begins, by its number among those of the plan.
    Table(usize),
    /// Attenuators are set.
    Attenuators,
    /// Shifters are set to stand.
    Shifters,
    /// All channels that are not known to be dead are read alone, by the number of times that they were connected for it.
    Alone(u32),
    /// One channel is read alone to see whether it is live; connected for it unless it still is.
    Detect {
        /// The channel.
        channel: usize,
        /// Its cable is moved for it.
        is_connected_anew: bool,
    },
    /// A pair is joined.
    Join(Pair),
    /// One channel is to be stepped among all others in front of the probe.
    Rest(usize),
    /// Some channels are turned by half a turn, all are read; `[channel]`.
    Toggle(Vec<bool>),
    /// A reading.
    Read(Reading),
}

impl Event {
    /// The reading, where it is one.
    pub(crate) fn reading(self) -> Option<Reading> {
        match self {
            Event::Read(reading) => Some(reading),
            _ => None,
        }
    }
}

/// A bench that logs what the unit in its first lane meets: operations and readings.
#[derive(Clone, Debug)]
pub(crate) struct Recorder<D> {
    /// The bench that it is done on.
    pub bench: D,
    of: Of,
    is_joined: bool,
    attenuators: Vec<Code>,
    tables: usize,
    /// The operations and readings so far, in order.
    pub events: Vec<Event>,
}

impl<D> Recorder<D> {
    /// Logs the operations on a bench from here on.
    pub(crate) fn new(bench: D) -> Recorder<D> {
        Recorder {
            bench,
            of: Of::All { row: 0 },
            is_joined: false,
            attenuators: Vec::new(),
            tables: 0,
            events: Vec::new(),
        }
    }

    /// Notes what is joined, or that the first unit has no part in it.
    fn join_first(&mut self, is_joined: bool, of: Of, event: Event) {
        self.is_joined = is_joined;
        if is_joined {
            self.of = of;
            self.events.push(event);
        }
    }

    fn read_one_alone(&mut self, channel: usize, level_db: f32) {
        let code = self.attenuators.get(channel).copied().unwrap_or(0);
        self.events.push(Event::Read(Reading { of: Of::Alone { channel }, code, level_db }));
    }
}

impl<D: Tabled<W>, const W: usize> Tabled<W> for Recorder<D> {
    fn begin(&mut self, view: usize, point: Option<usize>) -> Result<(), D::Fault> {
        self.attenuators.clear();
        self.events.push(Event::Table(self.tables));
        self.tables += 1;
        self.bench.begin(view, point)
    }
}

impl<D: Bench<W>, const W: usize> Bench<W> for Recorder<D> {
    type Fault = D::Fault;

    fn work(&self) -> &Work<W> {
        self.bench.work()
    }

    fn read_alone(
        &mut self,
        round: u32,
        repeat: u32,
        takes: Option<&[[bool; W]]>,
        readings: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        self.bench.read_alone(round, repeat, takes, readings)?;
        self.events.push(Event::Alone(round));
        for (channel, level_db) in readings.iter().enumerate() {
            if takes.is_none_or(|takes| takes[channel][0]) {
                self.read_one_alone(channel, level_db[0]);
            }
        }
        Ok(())
    }

    fn detect(
        &mut self,
        channel: usize,
        round: u32,
        repeat: u32,
        takes: &[bool; W],
    ) -> Result<[f32; W], D::Fault> {
        let reading = self.bench.detect(channel, round, repeat, takes)?;
        if takes[0] {
            self.events.push(Event::Detect { channel, is_connected_anew: repeat == 0 });
            self.read_one_alone(channel, reading[0]);
        }
        Ok(reading)
    }

    fn set_attenuators(&mut self, codes: &[[Code; W]]) -> Result<(), D::Fault> {
        self.attenuators = codes.iter().map(|code| code[0]).collect();
        self.events.push(Event::Attenuators);
        self.bench.set_attenuators(codes)
    }

    fn set_shifters(&mut self, codes: &[[Code; W]]) -> Result<(), D::Fault> {
        self.events.push(Event::Shifters);
        self.bench.set_shifters(codes)
    }

    fn join(&mut self, pair: Pair, takes: &[bool; W]) -> Result<(), D::Fault> {
        self.join_first(takes[0], Of::Pair { pair, turned: 0 }, Event::Join(pair));
        self.bench.join(pair, takes)
    }

    fn set_reference(&mut self, code: Code) -> Result<(), D::Fault> {
        if let Of::Pair { turned, .. } = &mut self.of {
            *turned = code;
        }
        self.bench.set_reference(code)
    }

    fn join_all(&mut self, stepped: usize, round: u32, takes: &[bool; W]) -> Result<(), D::Fault> {
        self.join_first(takes[0], Of::Rest { channel: stepped }, Event::Rest(stepped));
        self.bench.join_all(stepped, round, takes)
    }

    fn read_toggled(&mut self, row: u32, is_turned: &[bool]) -> Result<Complex<W>, D::Fault> {
        let field = self.bench.read_toggled(row, is_turned)?;
        let level_db = single::ln(field.power().0[0]) * (10.0 / LN_10) as f32;
        self.events.push(Event::Toggle(is_turned.to_vec()));
        self.events.push(Event::Read(Reading { of: Of::All { row }, code: 0, level_db }));
        Ok(field)
    }

    // The bench's other ways to read are left to the trait, which takes every reading through here.
    fn read_each(&mut self, codes: &[Code; W], takes: &[bool; W]) -> Result<[f32; W], D::Fault> {
        let reading = self.bench.read_each(codes, takes)?;
        if takes[0] && self.is_joined {
            let reading = Reading { of: self.of, code: codes[0], level_db: reading[0] };
            self.events.push(Event::Read(reading));
        }
        Ok(reading)
    }
}
