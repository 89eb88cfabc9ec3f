//! One code table in the making, pass by pass.

use crate::bench::align::PassState;
use crate::bench::{
    Align, Attenuations, Bench, Calibration, Code, CodeTable, Command, Hardware, Level, LiveChannels,
    ShifterSetting, SweepScratch,
};
use crate::math::TAU;

/// Buffers of a calibration on its way to a code table: made once, reused.
#[derive(Clone, Debug, Default)]
pub(crate) struct Scratch<const W: usize> {
    /// Levels of channels read alone, dB, `[channel][lane]`.
    alone: Vec<[f32; W]>,
    /// Codes that the shifters stand at, `[channel][lane]`; empty until they are set.
    standing: Vec<[Code; W]>,
    sweep: SweepScratch<W>,
}

/// The passes of a calibration, with the data that they share.
pub(super) struct Passes<'a, D, const W: usize> {
    pub plan: &'a Calibration,
    pub hardware: &'a Hardware,
    /// The command of the table's beam, if it is made for one.
    pub command: Option<&'a [Command]>,
    /// The table's first round of reading channels alone, and of joining them.
    pub alone: u32,
    pub joined: u32,
    pub bench: &'a mut D,
    pub live: &'a mut LiveChannels<W>,
    pub scratch: &'a mut Scratch<W>,
    pub table: &'a mut CodeTable<W>,
}

impl<D: Bench<W>, const W: usize> Passes<'_, D, W> {
    /// Makes the table.
    pub(super) fn run(&mut self) -> Result<(), D::Fault> {
        let Scratch { alone, standing, .. } = &mut *self.scratch;
        alone.clear();
        alone.resize(self.table.phase.len(), [0.0; W]);
        standing.clear();
        self.first()?;
        for pass in 1..self.plan.passes {
            self.again(pass)?;
        }
        self.relevel()
    }

    /// The first pass, from an unknown unit: measured states stand in for nominal steps from there on, and readings of channels alone
    /// show which of them are live.
    fn first(&mut self) -> Result<(), D::Fault> {
        let is_read = self.characterise_attenuators()?;
        self.level_first(is_read)?;
        self.bench.set_attenuators(&self.table.attenuator)?;
        self.find_reference()?;
        self.characterise_shifters()?;
        if self.plan.align.is_some() && self.command.is_some() {
            self.stand()?;
        }
        self.phase(0)
    }

    /// A further pass, which begins from the phases found so far.
    fn again(&mut self, pass: u32) -> Result<(), D::Fault> {
        self.stand()?;
        self.level_on(self.alone + pass)?;
        self.bench.set_attenuators(&self.table.attenuator)?;
        self.phase(pass)
    }

    /// Levels once more with the last phases set.
    fn relevel(&mut self) -> Result<(), D::Fault> {
        if self.plan.relevels {
            self.stand()?;
            self.level_on(self.alone + self.plan.passes)?;
        }
        Ok(())
    }

    /// Measures the attenuators, if the plan does; says whether channels were read at code 0 for it.
    fn characterise_attenuators(&mut self) -> Result<bool, D::Fault> {
        let Some(characterise) = self.plan.characterise.as_ref().filter(|of| of.attenuator) else {
            return Ok(false);
        };
        let round = self.alone + self.plan.levellings();
        let (level, measured) = (&mut self.scratch.alone, &mut self.table.measured);
        characterise.attenuators(self.bench, self.hardware, round, self.live, level, measured)?;
        Ok(true)
    }

    /// Levels by readings at code 0, which also show the dead channels; they are taken unless they are there.
    fn level_first(&mut self, is_read: bool) -> Result<(), D::Fault> {
        let Some((level, known)) = self.levelling() else { return Ok(()) };
        let levels = &mut self.scratch.alone;
        if !is_read {
            self.bench.read_alone(self.alone, 0, self.live.to_read().as_deref(), levels)?;
        }
        over_wanted(self.hardware, levels);
        self.live.classify(self.bench, self.hardware, self.alone, levels)?;
        self.table.attenuator.fill([0; W]);
        let by_whole_steps = self.table.measured.attenuations().is_none();
        self.choose(level, known, by_whole_steps);
        Ok(())
    }

    /// Levels by readings with everything as it stands.
    fn level_on(&mut self, round: u32) -> Result<(), D::Fault> {
        let Some((level, known)) = self.levelling() else { return Ok(()) };
        let levels = &mut self.scratch.alone;
        self.bench.read_alone(round, 0, self.live.to_read().as_deref(), levels)?;
        over_wanted(self.hardware, levels);
        self.live.mute(levels);
        self.choose(level, known, false);
        Ok(())
    }

    /// How the plan levels, and by steps of how many dB and how many states; `None` where it does not.
    fn levelling(&self) -> Option<(Level, (f64, usize))> {
        self.plan.level.zip(self.hardware.attenuator)
    }

    /// Chooses the attenuators' codes by the levels that were read: afresh by whole steps, or on from where they stand.
    fn choose(&mut self, level: Level, (step_db, states): (f64, usize), by_whole_steps: bool) {
        let levels = &self.scratch.alone;
        let CodeTable { attenuator, short, measured, .. } = &mut *self.table;
        let dead_below_db = self.hardware.dead.below_db as f32;
        let known = Attenuations { step_db, states, measured: measured.attenuations(), dead_below_db };
        let is_reached = self.hardware.unrounded.attenuator;
        let wanted = is_reached.then(|| level.wanted(levels, &known, attenuator));
        if by_whole_steps {
            level.codes(levels, &known, attenuator);
        } else {
            level.adjust(levels, &known, attenuator);
        }
        *short = wanted.map_or(Vec::new(), |wanted| over_codes(wanted, &known, attenuator));
    }

    /// Finds the reference of the comparisons, where there are any.
    fn find_reference(&mut self) -> Result<(), D::Fault> {
        if self.plan.has_reference() {
            let every = self.plan.align.as_ref().is_some_and(Align::depends_on_every_channel);
            self.live.find_reference(self.bench, self.hardware, every)?;
        }
        Ok(())
    }

    /// Measures the shifters, if the plan does.
    fn characterise_shifters(&mut self) -> Result<(), D::Fault> {
        if let Some(characterise) = &self.plan.characterise {
            let (round, channels) = (self.joined + self.plan.phasings(), self.table.phase.len());
            let (scratch, measured) = (&mut self.scratch.sweep, &mut self.table.measured);
            characterise.shifters(self.bench, self.live, channels, round, scratch, measured)?;
        }
        Ok(())
    }

    /// Sets the shifters to the codes of the phases found so far, for the table's beam or broadside.
    fn stand(&mut self) -> Result<(), D::Fault> {
        let states = self.hardware.shifter;
        let setting = ShifterSetting { offsets: self.plan.offsets, states };
        let measured = self.table.measured.phases();
        let standing = &mut self.scratch.standing;
        standing.clear();
        for (channel, phase) in self.table.phase.iter().enumerate() {
            let command = self.command.map_or(Command::ZERO, |command| command[channel]);
            let steps = measured.map(|of| &of[channel * states..][..states]);
            let mut codes = [0; W];
            setting.codes_by(&command, phase, steps, &mut codes);
            standing.push(codes);
        }
        self.bench.set_shifters(standing)
    }

    /// Finds the phases.
    fn phase(&mut self, number: u32) -> Result<(), D::Fault> {
        let Some(align) = &self.plan.align else { return Ok(()) };
        let standing = self.standing_phases();
        let CodeTable { phase, measured, .. } = &mut *self.table;
        let pass = PassState {
            round: self.joined + number * align.rounds(),
            imbalance: self.hardware.known_imbalance as f32,
            steps: measured.phases(),
            states: self.hardware.shifter,
            standing: &standing,
            live: self.live,
        };
        align.run(self.bench, &pass, &mut self.scratch.sweep, phase)?;
        if let Some(command) = self.command {
            take_out(command, self.live, self.hardware.shifter, phase);
        }
        Ok(())
    }

    /// Phases of the codes the shifters stand at, rad, as they are known; only alignment over the air needs them.
    fn standing_phases(&self) -> Vec<[f32; W]> {
        if !self.plan.is_over_the_air() {
            return Vec::new();
        }
        let (standing, states) = (&self.scratch.standing, self.hardware.shifter);
        if standing.is_empty() {
            return vec![[0.0; W]; self.table.phase.len()];
        }
        let step = (TAU / states as f64) as f32;
        let measured = self.table.measured.phases();
        let of = |(channel, codes): (usize, &[Code; W])| {
            std::array::from_fn(|l| match measured {
                Some(measured) => measured[channel * states + codes[l] as usize][l],
                None => step * codes[l] as f32,
            })
        };
        standing.iter().enumerate().map(of).collect()
    }
}

/// Readings over the wanted level of each channel.
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
fn take_out<const W: usize>(
    command: &[Command],
    live: &LiveChannels<W>,
    states: usize,
    phase: &mut [[f32; W]],
) {
    let of_reference: [f32; W] = std::array::from_fn(|l| command[live.reference(l)].phase(states));
    for (phase, command) in phase.iter_mut().zip(command) {
        (0..W).for_each(|l| phase[l] -= command.phase(states) - of_reference[l]);
    }
}
