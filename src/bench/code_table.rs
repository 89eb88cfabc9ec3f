//! The result of a calibration.

use crate::bench::Code;
use crate::math::{TAU, elementary, single};
use multiversion::multiversion;

/// How the found phases are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Offsets {
    /// Rounded to whole codes and added to the beam's own rounded code: two roundings.
    Codes,
    /// Kept as phases and added to the beam's phase before the one rounding.
    Phases,
}

impl Offsets {
    /// Words for `offsets`.
    pub(crate) const KINDS: &[(&'static str, Offsets)] =
        &[("codes", Offsets::Codes), ("phases", Offsets::Phases)];
}

/// Codes and phases for every channel.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct CodeTable<const W: usize> {
    /// Attenuator codes, `[channel][lane]`.
    pub attenuator: Vec<[Code; W]>,
    /// Attenuation that is wanted over that of the codes, dB, `[channel][lane]`; empty unless attenuators reach it.
    pub short: Vec<[f32; W]>,
    /// Phases that align each channel with the reference, before any rounding, rad, `[channel][lane]`.
    pub phase: Vec<[f32; W]>,
    /// How they are added to a beam's phase.
    pub offsets: Offsets,
    /// The measured states, where the plan characterises.
    pub measured: Measured<W>,
}

/// Measured states of the stepped blocks; empty where they were not measured.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Measured<const W: usize> {
    /// Attenuation over code 0, dB, `[channel][code][lane]` in a row.
    pub attenuation: Vec<[f32; W]>,
    /// Phase over that of code 0, rad, in the same order.
    pub phase: Vec<[f32; W]>,
}

impl<const W: usize> Measured<W> {
    /// The measured attenuations, if there are any.
    pub(crate) fn attenuations(&self) -> Option<&[[f32; W]]> {
        (!self.attenuation.is_empty()).then_some(&*self.attenuation)
    }

    /// The measured phases, if there are any.
    pub(crate) fn phases(&self) -> Option<&[[f32; W]]> {
        (!self.phase.is_empty()).then_some(&*self.phase)
    }
}

impl<const W: usize> CodeTable<W> {
    /// A table of zeros: a unit as it comes from assembly.
    pub(crate) fn new(channels: usize) -> CodeTable<W> {
        CodeTable {
            attenuator: vec![[0; W]; channels],
            short: Vec::new(),
            phase: vec![[0.0; W]; channels],
            offsets: Offsets::Codes,
            measured: Measured::default(),
        }
    }

    /// Back to no phases, the attenuators at `rest`, `[channel]`.
    pub(crate) fn clear(&mut self, rest: &[Code]) {
        for (code, rest) in self.attenuator.iter_mut().zip(rest) {
            *code = [*rest; W];
        }
        self.short.clear();
        self.phase.fill([0.0; W]);
        self.measured.attenuation.clear();
        self.measured.phase.clear();
    }
}

/// How a shifter is set for a beam and the phase that a calibration found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ShifterSetting {
    /// How the found phases are kept.
    pub offsets: Offsets,
    /// Codes a turn, a power of two.
    pub states: usize,
}

impl ShifterSetting {
    /// The code for a beam's command and a found phase, rad. A phase midway between two codes goes to the even one.
    #[inline(always)]
    pub(crate) fn code(&self, command: &Command, found: f32) -> Code {
        let rest = match self.offsets {
            Offsets::Codes => 0.0,
            Offsets::Phases => command.rest,
        };
        let offset = single::nearest_bits(rest + found * (self.states as f64 / TAU) as f32);
        command.code.wrapping_add(offset) & (self.states as Code - 1)
    }

    /// The same in every lane, by the measured phases of the channel's states, where there are any.
    #[inline(always)]
    pub(crate) fn codes_by<const W: usize>(
        &self,
        command: &Command,
        found: &[f32; W],
        measured: Option<&[[f32; W]]>,
        codes: &mut [Code; W],
    ) {
        match measured {
            None => {
                for l in 0..W {
                    codes[l] = self.code(command, found[l]);
                }
            }
            Some(measured) => nearest_measured(measured, command.phase(self.states), found, codes),
        }
    }

    /// Phase between a code and the one that is wanted, rad: the rounding error.
    pub(crate) fn left<const W: usize>(
        &self,
        command: &Command,
        found: f32,
        measured: Option<&[[f32; W]]>,
        code: Code,
        lane: usize,
    ) -> f32 {
        let reached = match measured {
            None => (TAU / self.states as f64) as f32 * code as f32,
            Some(measured) => measured[code as usize][lane],
        };
        single::within_half_a_turn(command.phase(self.states) + found - reached)
    }
}

impl Command {
    /// Broadside.
    pub(crate) const ZERO: Command = Command { code: 0, rest: 0.0 };

    /// The phase that is commanded, rad, with `states` codes a turn.
    pub(crate) fn phase(&self, states: usize) -> f32 {
        (TAU / states as f64) as f32 * (self.code as f32 + self.rest)
    }
}

/// The codes whose measured phases over code 0, rad, `[code][lane]`, are nearest to a command's and the one that was found; the lowest
/// of equals.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn nearest_measured<const W: usize>(
    measured: &[[f32; W]],
    command: f32,
    found: &[f32; W],
    codes: &mut [Code; W],
) {
    let (mut wanted, mut least) = ([0.0; W], [f32::INFINITY; W]);
    for l in 0..W {
        (wanted[l], codes[l]) = (command + found[l], 0);
    }
    for (code, phase) in (0..).zip(measured) {
        for l in 0..W {
            let turns = (phase[l] - wanted[l]) * (1.0 / TAU) as f32;
            let miss = (turns - single::round(turns)).abs();
            codes[l] = if miss < least[l] { code } else { codes[l] };
            least[l] = if miss < least[l] { miss } else { least[l] };
        }
    }
}

/// A beam's command to a shifter: the nearest code, and how far the phase is from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Command {
    /// The nearest code.
    pub code: Code,
    /// The rest, in codes, at most a half either way.
    pub rest: f32,
}

impl Command {
    /// The command for a phase, rad, with `states` codes a turn.
    pub(crate) fn new(phase: f64, states: usize) -> Command {
        let codes = phase * (states as f64 / TAU);
        let nearest = elementary::round(codes);
        Command { code: nearest as i64 as Code & (states as Code - 1), rest: (codes - nearest) as f32 }
    }
}
