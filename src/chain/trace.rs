//! A printed line.

use crate::array::SPEED_OF_LIGHT;
use crate::chain::{Conditions, Listed, NEPERS_A_DB, Roles};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Table, keys};
use crate::math::TAU;
use crate::random::{Draws, Tolerance, Toleranced, Value};

/// A printed line: length, effective permittivity, loss.
///
/// Formula: phase = -2 pi f L sqrt(eps)/c; loss = attenuation L sqrt(f/f0), f0 the command frequency that the
/// attenuation is stated at. Units: m, 1, dB/m. Source: definition of the effective permittivity.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Trace<T = Value> {
    length: T,
    effective_permittivity: T,
    attenuation: T,
}

keys! {
    pub(super) KEYS: "A trace on a circuit board whose effective permittivity is known";
    LENGTH: Toleranced =
        Key::tolerance("length", Dimension::Length, Check::NonNegative, "30 mm", "Length");
    EFFECTIVE_PERMITTIVITY: Toleranced =
        Key::tolerance("effective_permittivity", Dimension::Ratio, Check::Within(1.0, 100.0), "3.0",
            "Effective relative permittivity that the wave sees");
    ATTENUATION: Toleranced =
        Key::tolerance("attenuation", Dimension::LevelPerLength, Check::NonNegative, "10 dB/m",
            "Loss at the command frequency").or_exactly(0.0);
}

impl Trace<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "trace";

    pub(super) fn read(table: &Table) -> Trace<Tolerance> {
        Trace {
            length: read_tolerance(table, &LENGTH),
            effective_permittivity: read_tolerance(table, &EFFECTIVE_PERMITTIVITY),
            attenuation: read_tolerance(table, &ATTENUATION),
        }
    }
}

impl<T> Trace<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Trace<U> {
        Trace {
            length: to(Listed::one(&LENGTH, &self.length)),
            effective_permittivity: to(Listed::one(&EFFECTIVE_PERMITTIVITY, &self.effective_permittivity)),
            attenuation: to(Listed::one(&ATTENUATION, &self.attenuation)),
        }
    }
}

impl<T> Roles<T> for Trace<T> {}

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
                // A wide normal distribution can cross 1; no line is faster than light.
                phase[l] += turn * (length[l] * permittivity[l].max(1.0).sqrt() - nominal_length);
                gain[l] += loss * (attenuation[l] * length[l] - nominal_loss);
            }
        }
    }
}
