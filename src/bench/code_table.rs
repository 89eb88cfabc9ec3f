//! What a calibration yields.

use crate::bench::{Code, Work};
use crate::math::elementary::round;

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
    pub phase: Vec<[f64; W]>,
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

    /// Shifter code of a channel for a beam that commands `command` rad, with `states` codes a turn. A phase
    /// midway between two codes goes to the even one.
    #[inline]
    pub fn shifter_code(&self, channel: usize, command: f64, states: usize) -> [Code; W] {
        let codes_a_radian = states as f64 / crate::math::TAU;
        let mask = states as Code - 1;
        let phase = &self.phase[channel];
        std::array::from_fn(|l| {
            let whole = match self.offsets {
                Offsets::Codes => round(command * codes_a_radian) + round(phase[l] * codes_a_radian),
                Offsets::Phases => round((command + phase[l]) * codes_a_radian),
            };
            (whole as i32 as Code) & mask
        })
    }
}
