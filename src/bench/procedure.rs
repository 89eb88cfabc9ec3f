//! A calibration plan: characterise, level, align, and so on once more; then keep the offsets.

use crate::bench::passes::Passes;
use crate::bench::{ALIGN, CHARACTERISE, LEVEL};
use crate::bench::{
    Align, Bench, Characterise, Code, CodeTable, Command, DeadRule, Level, LiveChannels, Offsets, Scratch,
    Tables,
};
use crate::io::{Count, Flag, Key, Nested, Optional, Or, Table, Text, Word, keys};

/// One `[[calibration]]` of a study.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Calibration {
    /// Name, unique in the study.
    pub name: String,
    /// Measuring the steps first, if at all.
    pub characterise: Option<Characterise>,
    /// Levelling, if any.
    pub level: Option<Level>,
    /// Phasing, if any.
    pub align: Option<Align>,
    /// How often both are done, one after the other.
    pub passes: u32,
    /// Levelling once more after the last phases are set.
    pub relevels: bool,
    /// How the phases are kept.
    pub offsets: Offsets,
    /// Readings averaged for each one used, where the plan differs from the receiver.
    pub averages: Option<u32>,
    /// The tables that it makes.
    pub tables: Tables,
}

/// The hardware as a calibration needs it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Hardware {
    /// Steps of the attenuator: dB each, and how many states; `None` without one.
    pub attenuator: Option<(f64, usize)>,
    /// States of the shifter.
    pub shifter: usize,
    /// Level each channel should have, dB over a nominal channel, `[channel]`: the taper.
    pub wanted_db: Vec<f64>,
    /// Codes the attenuators stand at when nothing is levelled, `[channel]`.
    pub rest: Vec<Code>,
    /// Attenuation that is wanted over that of these codes, dB, `[channel]`.
    pub rest_short: Vec<f32>,
    /// The stepped blocks that are free of rounding.
    pub unrounded: Unrounded,
    /// Phase of the coupler's stepped arm over the reference arm, as certified, rad.
    pub known_imbalance: f64,
    /// How dead channels are recognised.
    pub dead: DeadRule,
}

/// Stepped blocks that reach, in use, any value between two codes: no real ones, but they show the cost of rounding. The errors of
/// the code that is set stay, and on the bench all stand at whole codes, so a method that finds whole codes alone is no better.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Unrounded {
    /// The shifter, when a beam is steered to: both roundings where offsets are kept as codes.
    pub shifter: bool,
    /// The attenuator, when levels or a taper are set.
    pub attenuator: bool,
}

/// Most passes.
const MOST_PASSES: u64 = 16;

keys! {
    /// Keys of a `[[calibration]]`.
    pub(crate) CALIBRATION: "A calibration plan; without characterise, level and align units stay as built", with super::tables::KEYS;
    /// Key of its name.
    pub(crate) NAME: Text = Key::text("name", "thorough", "What the plan is called, unlike all others");
    PASSES: Or<Count, u64> =
        Key::count("passes", 1..=MOST_PASSES, "2", "How often levelling and phasing are done, one after the other; 1 where it is left out").or(1);
    RELEVEL: Flag = Key::flag("relevel", "Whether to level once more after the last phases are set");
    OFFSETS: Or<Word<Offsets>, Offsets> =
        Key::word("offsets", "way to keep offsets", || Offsets::KINDS.to_vec(), "phases",
            "How the phases are kept; as codes where it is left out").or(Offsets::Codes);
    AVERAGES: Optional<Count> =
        Key::count("averages", 1..=super::receiver::MOST_AVERAGES, "8",
            "Readings averaged for each one used, where the plan differs from the receiver").optional();
    CHARACTERISES: Nested = CHARACTERISE;
    LEVELS: Nested = LEVEL;
    ALIGNS: Nested = ALIGN;
}

impl Calibration {
    /// Reads one `[[calibration]]` for a unit of `channels` and a shifter of `states`.
    pub(crate) fn read(table: &Table, channels: usize, states: usize) -> Calibration {
        let characterise = Characterise::read(table, states);
        let level = Level::read(table);
        let align = Align::read(table, channels, states);
        let averages = table.read(&AVERAGES);
        let calibration = Calibration {
            name: table.read(&NAME),
            passes: table.read(&PASSES) as u32,
            relevels: table.read(&RELEVEL),
            offsets: table.read(&OFFSETS),
            averages: averages.map(|n| n as u32),
            tables: Tables::read(table, align.as_ref()),
            characterise,
            level,
            align,
        };
        calibration.check(table);
        calibration
    }

    fn check(&self, table: &Table) {
        let refuse = |key: &str, message: &str, label: &str, help: &str| {
            table.error(table.span_of(key), message, label, Some(help.into()));
        };
        // What is there but broken has its error already.
        let lacks = |key: &str| !table.has(key);
        if self.relevels && lacks(LEVEL.name) {
            let help = "add `level = { ... }`, or leave `relevel` out";
            refuse(RELEVEL.name, "nothing to level again by", "the plan has no `level`", help);
        }
        if self.passes > 1 && lacks(ALIGN.name) {
            let help = "add `align = { ... }`, or leave `passes` out";
            refuse(PASSES.name, "a second pass begins from phases", "the plan has no `align`", help);
        }
        let Some(characterise) = &self.characterise else { return };
        if characterise.attenuator && lacks(LEVEL.name) {
            let help = "add `level = { ... }`, or leave the attenuator out";
            refuse(CHARACTERISE.name, "measured attenuations serve nothing", "the plan has no `level`", help);
        }
        let by_codes = self.offsets == Offsets::Codes && (lacks(OFFSETS.name) || table.is_sound(OFFSETS));
        if characterise.shifter.is_some() && by_codes {
            let help = "add `offsets = \"phases\"`: codes are then chosen by the measured phases, once";
            refuse(CHARACTERISE.name, "offsets in whole codes know no measured phases", "needs phases", help);
        }
    }

    /// A plan that leaves the unit as it comes from assembly.
    pub(crate) fn none(name: &str) -> Calibration {
        Calibration {
            name: name.to_owned(),
            characterise: None,
            level: None,
            align: None,
            passes: 1,
            relevels: false,
            offsets: Offsets::Codes,
            averages: None,
            tables: Tables::One,
        }
    }

    /// True when the plan leaves the unit as it comes from assembly.
    pub(crate) fn is_none(&self) -> bool {
        self.level.is_none() && self.align.is_none() && self.characterise.is_none()
    }

    /// True when a probe in front of the unit takes the place of cables and coupler.
    pub(crate) fn is_over_the_air(&self) -> bool {
        self.align.as_ref().is_some_and(Align::is_over_the_air)
    }

    /// Runs of levelling for each table.
    pub(super) fn levellings(&self) -> u32 {
        if self.level.is_some() { self.passes + u32::from(self.relevels) } else { 0 }
    }

    /// Runs of phasing for each table, exchanged arms counted.
    pub(super) fn phasings(&self) -> u32 {
        self.align.as_ref().map_or(0, |align| self.passes * align.rounds())
    }

    /// Frequencies that it is done at, Hz.
    pub(crate) fn frequencies(&self, command_frequency: f64) -> Vec<f64> {
        match &self.tables {
            Tables::Frequencies(frequencies) => frequencies.clone(),
            _ => vec![command_frequency],
        }
    }

    /// Rounds of joining for `tables` code tables: as many as noise of pairs is drawn anew.
    pub(crate) fn rounds(&self, tables: usize) -> u32 {
        tables as u32 * self.joinings()
    }

    /// Runs of reading channels alone for each table, the measured attenuators' not counted.
    fn alone(&self) -> u32 {
        self.levellings() + u32::from(self.characterise.is_some())
    }

    /// Runs of joining for each table.
    fn joinings(&self) -> u32 {
        self.phasings() + u32::from(self.characterise.is_some())
    }

    /// The channel that the plan phases the others against, if it is live.
    pub(crate) fn reference(&self) -> usize {
        self.align.as_ref().map_or(0, |align| align.reference)
    }

    /// True when channels are compared with a reference.
    pub(crate) fn has_reference(&self) -> bool {
        self.align.is_some() || self.characterise.as_ref().is_some_and(|of| of.shifter.is_some())
    }

    /// True when a unit's phases depend on channels that are dead and were taken for live ones; `is_dead` says which channels are, of as
    /// many as `channels`.
    pub(crate) fn is_misled<const W: usize>(
        &self,
        live: &LiveChannels<W>,
        lane: usize,
        channels: usize,
        is_dead: impl Fn(usize) -> bool,
    ) -> bool {
        let is_mistaken = |channel| is_dead(channel) && live.is_live(channel, lane);
        if (0..channels).filter(|channel| !is_dead(*channel)).count() < 2 {
            return false;
        }
        let reference = live.reference(lane);
        let by_states = self.characterise.as_ref().is_some_and(|of| of.shifter.is_some());
        if by_states {
            let against = live.neighbour(reference, channels, lane);
            if is_mistaken(reference) || against.is_some_and(is_mistaken) {
                return true;
            }
        }
        self.align.as_ref().is_some_and(|align| align.is_misled(reference, channels, &is_dead, is_mistaken))
    }

    /// Calibrates W units on a bench; `number` is that of the code table among those of the plan, `command` the command of its
    /// beam where it is made for one. Dead channels stay known for the tables after the first.
    /// A fault of the bench ends it, and the table means nothing then.
    #[allow(clippy::too_many_arguments, reason = "what is known, what is asked of it, and room")]
    pub(crate) fn run<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        hardware: &Hardware,
        number: usize,
        command: Option<&[Command]>,
        live: &mut LiveChannels<W>,
        scratch: &mut Scratch<W>,
        table: &mut CodeTable<W>,
    ) -> Result<(), D::Fault> {
        if number == 0 {
            live.begin(hardware, self.reference());
        }
        table.clear(&hardware.rest);
        table.offsets = self.offsets;
        if hardware.unrounded.attenuator {
            table.short.extend(hardware.rest_short.iter().map(|short| [*short; W]));
        }
        if self.is_none() {
            return Ok(());
        }
        let number = number as u32;
        let (alone, joined) = (number * self.alone(), number * self.joinings());
        Passes { plan: self, hardware, command, alone, joined, bench, live, scratch, table }.run()
    }
}
