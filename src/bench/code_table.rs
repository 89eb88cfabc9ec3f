//! What a calibration yields.

use crate::bench::{Code, Work};
use crate::math::{TAU, elementary, single};

/// How the found phases are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Offsets {
    /// Rounded to whole codes and added to the beam's own rounded code: two roundings.
    Codes,
    /// Kept as phases and added to the beam's phase before the one rounding.
    Phases,
}

impl Offsets {
    /// Words for `offsets`.
    pub const KINDS: &[(&'static str, Offsets)] = &[("codes", Offsets::Codes), ("phases", Offsets::Phases)];
}

/// Codes and phases for every channel, and what they cost.
#[derive(Clone, Debug, PartialEq)]
pub struct CodeTable<const W: usize> {
    /// Attenuator codes, `[channel][lane]`.
    pub attenuator: Vec<[Code; W]>,
    /// Phases that align each channel with the reference, before any rounding, rad, `[channel][lane]`.
    pub phase: Vec<[f32; W]>,
    /// How they are added to a beam's phase.
    pub offsets: Offsets,
    /// Work done for it.
    pub work: Work<W>,
    /// Time taken, s.
    pub seconds: [f64; W],
}

impl<const W: usize> CodeTable<W> {
    /// A table of zeros: a unit as it comes from assembly.
    pub fn new(channels: usize) -> CodeTable<W> {
        CodeTable {
            attenuator: vec![[0; W]; channels],
            phase: vec![[0.0; W]; channels],
            offsets: Offsets::Codes,
            work: Work::default(),
            seconds: [0.0; W],
        }
    }

    /// Back to zeros.
    pub fn clear(&mut self) {
        self.attenuator.fill([0; W]);
        self.phase.fill([0.0; W]);
        self.work = Work::default();
        self.seconds = [0.0; W];
    }
}

/// How a shifter is set for a beam on top of what a calibration found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShifterSetting {
    /// How the found phases are kept.
    pub offsets: Offsets,
    /// Codes a turn, a power of two.
    pub states: usize,
}

impl ShifterSetting {
    /// The code for a beam's command and a found phase, rad. A phase midway between two codes goes to the even one.
    #[inline(always)]
    pub fn code(&self, command: &Command, found: f32) -> Code {
        let rest = match self.offsets {
            Offsets::Codes => 0.0,
            Offsets::Phases => command.rest,
        };
        let offset = single::nearest_bits(rest + found * (self.states as f64 / TAU) as f32);
        command.code.wrapping_add(offset) & (self.states as Code - 1)
    }
}

/// What a beam commands a shifter to: the nearest code, and how far the phase lies from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Command {
    /// The nearest code.
    pub code: Code,
    /// The rest, in codes, at most a half either way.
    pub rest: f32,
}

impl Command {
    /// The command for a phase, rad, with `states` codes a turn.
    pub fn new(phase: f64, states: usize) -> Command {
        let codes = phase * (states as f64 / TAU);
        let nearest = elementary::round(codes);
        Command { code: nearest as i64 as Code & (states as Code - 1), rest: (codes - nearest) as f32 }
    }
}
