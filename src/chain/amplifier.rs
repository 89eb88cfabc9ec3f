//! An amplifier in its linear range.

use crate::chain::{Conditions, Listed, NEPERS_A_DB};
use crate::io::{Check, Dimension, Table};
use crate::random::{Draws, Tolerance};

/// An amplifier: gain, insertion phase, gain slope.
///
/// Formula: gain_dB(f) = gain + slope (f - f0), f0 the command frequency; the insertion phase is the same at
/// every frequency. Units: dB, rad, dB/Hz. Source: common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub struct Amplifier {
    gain: Tolerance,
    phase: Tolerance,
    slope: Tolerance,
}

impl Amplifier {
    /// Word for `kind`.
    pub const KIND: &'static str = "amplifier";

    pub(super) fn read(table: &Table) -> Amplifier {
        Amplifier {
            gain: Tolerance::read(table, "gain", Dimension::Level, Check::Any),
            phase: Tolerance::read_or(table, "phase", Dimension::Angle, Check::Any, 0.0),
            slope: Tolerance::read_or(table, "slope", Dimension::LevelPerFrequency, Check::Any, 0.0),
        }
    }

    pub(super) fn tolerances(&mut self) -> Vec<Listed<'_>> {
        vec![
            Listed::one("gain", &mut self.gain, Dimension::Level),
            Listed::one("phase", &mut self.phase, Dimension::Angle),
            Listed::one("slope", &mut self.slope, Dimension::LevelPerFrequency),
        ]
    }

    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        gain: &mut [[f64; W]],
        phase: &mut [[f64; W]],
    ) {
        let away = at.frequency - at.command_frequency;
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase).enumerate() {
            let level = self.gain.at(draws, 0, channel);
            let slope = self.slope.at(draws, 0, channel);
            let insertion = self.phase.at(draws, 0, channel);
            for l in 0..W {
                let db = (level[l] - self.gain.nominal) + (slope[l] - self.slope.nominal) * away;
                gain[l] += NEPERS_A_DB * db;
                phase[l] += insertion[l] - self.phase.nominal;
            }
        }
    }
}
