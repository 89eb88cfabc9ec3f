//! A printed line.

use crate::array::SPEED_OF_LIGHT;
use crate::chain::{Conditions, Listed, NEPERS_A_DB};
use crate::inspection::{read_tolerance, read_tolerance_or};
use crate::io::{Check, Dimension, Table};
use crate::math::TAU;
use crate::random::{Draws, Tolerance, Value};

/// A printed line: length, effective permittivity, loss.
///
/// Formula: phase = -2 pi f L sqrt(eps)/c; loss = attenuation L sqrt(f/f0), f0 the command frequency that the
/// attenuation is stated at. Units: m, 1, dB/m. Source: definition of the effective permittivity.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace<T = Value> {
    length: T,
    effective_permittivity: T,
    attenuation: T,
}

impl Trace<Tolerance> {
    /// Word for `kind`.
    pub const KIND: &'static str = "trace";

    pub(super) fn read(table: &Table) -> Trace<Tolerance> {
        Trace {
            length: read_tolerance(table, "length", Dimension::Length, Check::NonNegative),
            effective_permittivity: read_tolerance(
                table,
                "effective_permittivity",
                Dimension::Ratio,
                Check::Within(1.0, 100.0),
            ),
            attenuation: read_tolerance_or(
                table,
                "attenuation",
                Dimension::LevelPerLength,
                Check::NonNegative,
                0.0,
            ),
        }
    }
}

impl<T> Trace<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Trace<U> {
        Trace {
            length: to(Listed::one("length", &self.length, Dimension::Length)),
            effective_permittivity: to(Listed::one(
                "effective_permittivity",
                &self.effective_permittivity,
                Dimension::Ratio,
            )),
            attenuation: to(Listed::one("attenuation", &self.attenuation, Dimension::LevelPerLength)),
        }
    }
}

impl Trace {
    pub(super) fn nominal_gain_db(&self, at: &Conditions) -> f64 {
        let times = (at.frequency / at.command_frequency).sqrt();
        -self.attenuation.nominal * self.length.nominal * times
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
        let nominal_length = self.length.nominal * self.effective_permittivity.nominal.sqrt();
        let nominal_loss = self.attenuation.nominal * self.length.nominal;
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase).enumerate() {
            let length = self.length.at(draws, 0, channel);
            let permittivity = self.effective_permittivity.at(draws, 0, channel);
            let attenuation = self.attenuation.at(draws, 0, channel);
            for l in 0..W {
                // A wide normal law can cross 1; no line is faster than light.
                phase[l] += turn * (length[l] * permittivity[l].max(1.0).sqrt() - nominal_length);
                gain[l] += loss * (attenuation[l] * length[l] - nominal_loss);
            }
        }
    }
}
