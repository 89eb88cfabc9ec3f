//! A calibration plan: characterise, level, align, and so on once more; then keep the offsets.

use crate::bench::align::Knowledge;
use crate::bench::{
    Align, Attenuations, Characterise, Code, CodeTable, Command, DeadRule, Desk, Level, Living, Measured,
    Offsets, ShifterSetting, SweepScratch, Tables,
};
use crate::io::Table;
use crate::math::TAU;

/// One `[[calibration]]` of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
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
    /// What there is a table for.
    pub tables: Tables,
}

/// What a calibration has to know of the hardware.
#[derive(Clone, Debug, PartialEq)]
pub struct Hardware {
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
    /// What is free of rounding.
    pub unrounded: Unrounded,
    /// Phase of the coupler's stepped arm over the reference arm, as certified, rad.
    pub known_imbalance: f64,
    /// How dead channels are known.
    pub dead: DeadRule,
}

/// Stepped blocks that reach, in use, what lies between two codes: no real ones, but they show what rounding costs. The errors of
/// the code that is set stay, and on the bench all stand at whole codes, so what a method finds to whole codes alone is no better.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unrounded {
    /// The shifter, when a beam is steered to: both roundings where offsets are kept as codes.
    pub shifter: bool,
    /// The attenuator, when levels or a taper are set.
    pub attenuator: bool,
}

/// Most passes.
const MOST_PASSES: u64 = 16;

impl Calibration {
    /// Reads one `[[calibration]]` for a unit of `channels` and a shifter of `states`.
    pub fn read(table: &Table, channels: usize, states: usize) -> Calibration {
        let characterise = Characterise::read(table, states);
        let level = Level::read(table);
        let align = Align::read(table, channels, states);
        let averages = table.optional_count("averages", 1..=super::receiver::MOST_AVERAGES);
        let calibration = Calibration {
            name: table.text("name"),
            passes: table.count_or("passes", 1..=MOST_PASSES, 1) as u32,
            relevels: table.flag_or("relevel", false),
            offsets: table.choice_or("offsets", "way to keep offsets", Offsets::KINDS, Offsets::Codes),
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
        let refuse = |key, message: &str, label: &str, help: &str| {
            table.error(table.span_of(key), message, label, Some(help.into()));
        };
        // What is there but broken has its error already.
        let lacks = |key| !table.has(key);
        if self.relevels && lacks("level") {
            let help = "add `level = { ... }`, or leave `relevel` out";
            refuse("relevel", "nothing to level again by", "the plan has no `level`", help);
        }
        if self.passes > 1 && lacks("align") {
            let help = "add `align = { ... }`, or leave `passes` out";
            refuse("passes", "a second pass begins from phases", "the plan has no `align`", help);
        }
        let Some(characterise) = &self.characterise else { return };
        if characterise.attenuator && lacks("level") {
            let help = "add `level = { ... }`, or leave the attenuator out";
            refuse("characterise", "measured attenuations serve nothing", "the plan has no `level`", help);
        }
        let by_codes = self.offsets == Offsets::Codes && (lacks("offsets") || table.is_sound("offsets"));
        if characterise.shifter.is_some() && by_codes {
            let help = "add `offsets = \"phases\"`: codes are then chosen by the measured phases, once";
            refuse("characterise", "offsets in whole codes know no measured phases", "needs phases", help);
        }
    }

    /// A plan that leaves the unit as it comes from assembly.
    pub fn none(name: &str) -> Calibration {
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
    pub fn is_none(&self) -> bool {
        self.level.is_none() && self.align.is_none() && self.characterise.is_none()
    }

    /// True when a probe in front of the unit takes the place of cables and coupler.
    pub fn is_over_the_air(&self) -> bool {
        self.align.as_ref().is_some_and(Align::is_over_the_air)
    }

    /// Runs of levelling for each table.
    fn levellings(&self) -> u32 {
        if self.level.is_some() { self.passes + u32::from(self.relevels) } else { 0 }
    }

    /// Runs of phasing for each table, exchanged arms counted.
    fn phasings(&self) -> u32 {
        self.align.as_ref().map_or(0, |align| self.passes * align.rounds())
    }

    /// Frequencies that it is done at, Hz.
    pub fn frequencies(&self, command_frequency: f64) -> Vec<f64> {
        match &self.tables {
            Tables::Frequencies(frequencies) => frequencies.clone(),
            _ => vec![command_frequency],
        }
    }

    /// Rounds of joining for `tables` code tables: as many as noise of pairs is drawn anew.
    pub fn rounds(&self, tables: usize) -> u32 {
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

    /// The channel that the plan phases the others against, if it lives.
    pub fn reference(&self) -> usize {
        self.align.as_ref().map_or(0, |align| align.reference)
    }

    /// True when something is held against a reference.
    pub fn has_reference(&self) -> bool {
        self.align.is_some() || self.characterise.as_ref().is_some_and(|of| of.shifter.is_some())
    }

    /// True when a unit's phases hang on channels that are dead and were taken for living ones; `is_dead` says which channels are, of as
    /// many as `channels`.
    pub fn is_misled<const W: usize>(
        &self,
        living: &Living<W>,
        lane: usize,
        channels: usize,
        is_dead: impl Fn(usize) -> bool,
    ) -> bool {
        let is_taken_for_living = |channel| is_dead(channel) && living.lives(channel, lane);
        if (0..channels).filter(|channel| !is_dead(*channel)).count() < 2 {
            return false;
        }
        let reference = living.reference(lane);
        let by_states = self.characterise.as_ref().is_some_and(|of| of.shifter.is_some());
        if by_states {
            let against = living.neighbour(reference, channels, lane);
            if is_taken_for_living(reference) || against.is_some_and(is_taken_for_living) {
                return true;
            }
        }
        self.align
            .as_ref()
            .is_some_and(|align| align.is_misled(reference, channels, &is_dead, is_taken_for_living))
    }

    /// Calibrates W units on a desk; `number` is that of the code table among those of the plan, `command` what its beam commands
    /// the shifters to where it is made for one. What is found out about channels that live stays known for the tables after the first.
    #[allow(clippy::too_many_arguments, reason = "what is known, what is asked of it, and room")]
    pub fn run<const W: usize>(
        &self,
        desk: &mut impl Desk<W>,
        hardware: &Hardware,
        number: usize,
        command: Option<&[Command]>,
        living: &mut Living<W>,
        scratch: &mut SweepScratch<W>,
        table: &mut CodeTable<W>,
    ) {
        if number == 0 {
            living.begin(hardware, self.reference());
        }
        table.clear(&hardware.rest);
        table.offsets = self.offsets;
        if hardware.unrounded.attenuator {
            table.short.extend(hardware.rest_short.iter().map(|short| [*short; W]));
        }
        if self.is_none() {
            return;
        }
        let number = number as u32;
        let channels = table.phase.len();
        let alone = number * self.alone();
        let joined = number * self.joinings();
        // The phases are not found yet, so their room holds the readings at code 0 meanwhile.
        let mut is_read = false;
        if let Some(characterise) = self.characterise.as_ref().filter(|of| of.attenuator) {
            let (round, CodeTable { phase, measured, .. }) = (alone + self.levellings(), &mut *table);
            characterise.attenuators(desk, hardware, round, living, phase, measured);
            is_read = true;
        }
        let mut standing = vec![[0; W]; 0];
        for pass in 0..self.passes {
            if pass > 0 {
                self.stand(hardware, command, table, &mut standing);
                desk.set_shifters(&standing);
            }
            if let (Some(level), Some((step_db, states))) = (&self.level, hardware.attenuator) {
                if pass == 0 {
                    if !is_read {
                        desk.read_alone(alone, 0, living.worth_reading().as_deref(), &mut table.phase);
                    }
                    over_wanted(hardware, &mut table.phase);
                    living.judge_all(desk, hardware, alone, &mut table.phase);
                    table.attenuator.fill([0; W]);
                    let CodeTable { attenuator, short, phase, measured, .. } = &mut *table;
                    let known = attenuations(hardware, step_db, states, measured);
                    let wanted = || level.wanted(phase, &known, attenuator);
                    let wanted = hardware.unrounded.attenuator.then(wanted);
                    if known.measured.is_some() {
                        level.adjust(phase, &known, attenuator);
                    } else {
                        level.codes(phase, &known, attenuator);
                    }
                    *short = wanted.map_or(Vec::new(), |wanted| over_codes(wanted, &known, attenuator));
                } else {
                    self.level_on(desk, hardware, alone + pass, living, table);
                }
            }
            if pass == 0 {
                table.phase.fill([0.0; W]);
            }
            desk.set_attenuators(&table.attenuator);
            if pass == 0 && self.has_reference() {
                living.settle(desk, hardware, self.align.as_ref().is_some_and(Align::leans_on_every_channel));
            }
            if let (0, Some(characterise)) = (pass, &self.characterise) {
                let round = joined + self.phasings();
                characterise.shifters(desk, living, channels, round, scratch, &mut table.measured);
            }
            if let Some(align) = &self.align {
                if pass == 0 && command.is_some() {
                    self.stand(hardware, command, table, &mut standing);
                    desk.set_shifters(&standing);
                }
                let standing = self.standing_phases(hardware, &standing, table);
                let known = Knowledge {
                    round: joined + pass * align.rounds(),
                    imbalance: hardware.known_imbalance as f32,
                    steps: table.measured.phases(),
                    states: hardware.shifter,
                    standing: &standing,
                    living,
                };
                align.run(desk, &known, scratch, &mut table.phase);
                if let Some(command) = command {
                    take_out(command, living, hardware.shifter, &mut table.phase);
                }
            }
        }
        if self.relevels {
            self.stand(hardware, command, table, &mut standing);
            desk.set_shifters(&standing);
            self.level_on(desk, hardware, alone + self.passes, living, table);
        }
    }

    /// Levels by readings with everything as it stands.
    fn level_on<const W: usize>(
        &self,
        desk: &mut impl Desk<W>,
        hardware: &Hardware,
        round: u32,
        living: &Living<W>,
        table: &mut CodeTable<W>,
    ) {
        let (Some(level), Some((step_db, states))) = (&self.level, hardware.attenuator) else { return };
        let mut readings = vec![[0.0; W]; table.phase.len()];
        desk.read_alone(round, 0, living.worth_reading().as_deref(), &mut readings);
        over_wanted(hardware, &mut readings);
        living.silence(&mut readings);
        let CodeTable { attenuator, short, measured, .. } = table;
        let known = attenuations(hardware, step_db, states, measured);
        let wanted = hardware.unrounded.attenuator.then(|| level.wanted(&readings, &known, attenuator));
        level.adjust(&readings, &known, attenuator);
        *short = wanted.map_or(Vec::new(), |wanted| over_codes(wanted, &known, attenuator));
    }

    /// The codes of the phases found so far, for the table's beam or broadside.
    fn stand<const W: usize>(
        &self,
        hardware: &Hardware,
        command: Option<&[Command]>,
        table: &CodeTable<W>,
        standing: &mut Vec<[Code; W]>,
    ) {
        let setting = ShifterSetting { offsets: self.offsets, states: hardware.shifter };
        standing.clear();
        for (channel, phase) in table.phase.iter().enumerate() {
            let command = command.map_or(Command::ZERO, |command| command[channel]);
            let steps =
                table.measured.phases().map(|of| &of[channel * hardware.shifter..][..hardware.shifter]);
            standing.push(std::array::from_fn(|l| setting.code_by(&command, phase[l], steps, l)));
        }
    }

    /// Phases of the codes the shifters stand at, rad, as they are known.
    fn standing_phases<const W: usize>(
        &self,
        hardware: &Hardware,
        standing: &[[Code; W]],
        table: &CodeTable<W>,
    ) -> Vec<[f32; W]> {
        if !self.is_over_the_air() {
            return Vec::new();
        }
        if standing.is_empty() {
            return vec![[0.0; W]; table.phase.len()];
        }
        let step = (TAU / hardware.shifter as f64) as f32;
        let of = |(channel, codes): (usize, &[Code; W])| {
            std::array::from_fn(|l| match table.measured.phases() {
                Some(measured) => measured[channel * hardware.shifter + codes[l] as usize][l],
                None => step * codes[l] as f32,
            })
        };
        standing.iter().enumerate().map(of).collect()
    }
}

/// What is known of attenuations.
fn attenuations<'m, const W: usize>(
    hardware: &Hardware,
    step_db: f64,
    states: usize,
    measured: &'m Measured<W>,
) -> Attenuations<'m, W> {
    let dead_below_db = hardware.dead.below_db as f32;
    Attenuations { step_db, states, measured: measured.attenuations(), dead_below_db }
}

/// Readings over what each channel should have.
fn over_wanted<const W: usize>(hardware: &Hardware, readings: &mut [[f32; W]]) {
    for (reading, wanted) in readings.iter_mut().zip(&hardware.wanted_db) {
        reading.iter_mut().for_each(|r| *r -= *wanted as f32);
    }
}

/// Attenuations over those of the codes, dB, `[channel][lane]`.
fn over_codes<const W: usize>(
    mut wanted: Vec<[f32; W]>,
    known: &Attenuations<W>,
    codes: &[[Code; W]],
) -> Vec<[f32; W]> {
    for (channel, (wanted, codes)) in wanted.iter_mut().zip(codes).enumerate() {
        (0..W).for_each(|l| wanted[l] -= known.of(channel, codes[l], l));
    }
    wanted
}

/// Takes a beam's own phases, over the reference's, out of those found while it was commanded.
fn take_out<const W: usize>(command: &[Command], living: &Living<W>, states: usize, phase: &mut [[f32; W]]) {
    let of_reference: [f32; W] = std::array::from_fn(|l| command[living.reference(l)].phase(states));
    for (phase, command) in phase.iter_mut().zip(command) {
        (0..W).for_each(|l| phase[l] -= command.phase(states) - of_reference[l]);
    }
}
