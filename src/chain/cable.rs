//! A coaxial cable.

use crate::array::SPEED_OF_LIGHT;
use crate::chain::{Conditions, Listed, NEPERS_A_DB};
use crate::io::{Check, Dimension, Table};
use crate::math::TAU;
use crate::random::{Draws, Tolerance};

/// A cable: length, velocity factor, loss.
///
/// Formula: phase = -2 pi f L/(c VF); loss = attenuation L sqrt(f/f0), f0 the command frequency that the
/// attenuation is stated at (conductor loss). Units: m, 1, dB/m. Source: definition of the velocity factor.
#[derive(Clone, Debug, PartialEq)]
pub struct Cable {
    length: Tolerance,
    velocity_factor: Tolerance,
    attenuation: Tolerance,
}

/// Lowest velocity factor that a draw can give.
const SLOWEST: f64 = 0.05;

impl Cable {
    /// Word for `kind`.
    pub const KIND: &'static str = "cable";

    pub(super) fn read(table: &Table) -> Cable {
        Cable {
            length: Tolerance::read(table, "length", Dimension::Length, Check::NonNegative),
            velocity_factor: Tolerance::read(table, "velocity_factor", Dimension::Ratio, Check::Within(0.1, 1.0)),
            attenuation: Tolerance::read_or(
                table,
                "attenuation",
                Dimension::LevelPerLength,
                Check::NonNegative,
                0.0,
            ),
        }
    }

    pub(super) fn tolerances(&mut self) -> Vec<Listed<'_>> {
        vec![
            Listed::one("length", &mut self.length, Dimension::Length),
            Listed::one("velocity_factor", &mut self.velocity_factor, Dimension::Ratio),
            Listed::one("attenuation", &mut self.attenuation, Dimension::LevelPerLength),
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
        let turn = -TAU * at.frequency / SPEED_OF_LIGHT;
        let loss = -NEPERS_A_DB * (at.frequency / at.command_frequency).sqrt();
        let nominal_length = self.length.nominal / self.velocity_factor.nominal;
        let nominal_loss = self.attenuation.nominal * self.length.nominal;
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase).enumerate() {
            let length = self.length.at(draws, 0, channel);
            let velocity_factor = self.velocity_factor.at(draws, 0, channel);
            let attenuation = self.attenuation.at(draws, 0, channel);
            for l in 0..W {
                // A wide normal law can reach zero and below; no cable is that slow.
                let velocity_factor = velocity_factor[l].max(SLOWEST);
                phase[l] += turn * (length[l] / velocity_factor - nominal_length);
                gain[l] += loss * (attenuation[l] * length[l] - nominal_loss);
            }
        }
    }
}
