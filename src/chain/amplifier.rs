//! An amplifier.

use crate::chain::{Conditions, Listed, NEPERS_A_DB, Rapp};
use crate::inspection::{read_tolerance, read_tolerance_or};
use crate::io::{Check, Dimension, Table};
use crate::random::{Draws, Tolerance, Value};

/// An amplifier: gain, insertion phase, gain slope, drift.
///
/// Formula: gain_dB(f) = gain + slope (f - f0) + gain_temperature (T - T0), f0 the command frequency, T0 the reference
/// temperature; phase = phase + phase_temperature (T - T0), the same at every frequency; for compression see [`Rapp`]. Units: dB,
/// rad, dB/Hz, dB/K, rad/K. Source: common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub struct Amplifier<T = Value> {
    pub(super) gain: T,
    phase: T,
    pub(super) slope: T,
    pub(super) gain_temperature: T,
    phase_temperature: T,
    pub(super) compression: Option<Rapp<T>>,
}

impl Amplifier<Tolerance> {
    /// Word for `kind`.
    pub const KIND: &'static str = "amplifier";

    pub(super) fn read(table: &Table) -> Amplifier<Tolerance> {
        let compression = table.table("compression");
        Amplifier {
            gain: read_tolerance(table, "gain", Dimension::Level, Check::Any),
            phase: read_tolerance_or(table, "phase", Dimension::Angle, Check::Any, 0.0),
            slope: read_tolerance_or(table, "slope", Dimension::LevelPerFrequency, Check::Any, 0.0),
            gain_temperature: read_tolerance_or(
                table,
                "gain_temperature",
                Dimension::LevelPerTemperature,
                Check::Any,
                0.0,
            ),
            phase_temperature: read_tolerance_or(
                table,
                "phase_temperature",
                Dimension::AnglePerTemperature,
                Check::Any,
                0.0,
            ),
            compression: compression.as_ref().map(Rapp::read),
        }
    }
}

impl<T> Amplifier<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Amplifier<U> {
        Amplifier {
            gain: to(Listed::one("gain", &self.gain, Dimension::Level)),
            phase: to(Listed::one("phase", &self.phase, Dimension::Angle)),
            slope: to(Listed::one("slope", &self.slope, Dimension::LevelPerFrequency)),
            gain_temperature: to(Listed::one(
                "gain_temperature",
                &self.gain_temperature,
                Dimension::LevelPerTemperature,
            )),
            phase_temperature: to(Listed::one(
                "phase_temperature",
                &self.phase_temperature,
                Dimension::AnglePerTemperature,
            )),
            compression: self.compression.as_ref().map(|law| law.map(to)),
        }
    }
}

impl Amplifier {
    pub(super) fn nominal_gain_db(&self, at: &Conditions) -> f64 {
        self.gain.nominal + self.slope.nominal * (at.frequency - at.command_frequency)
    }

    /// Adds all but its compression, which hangs on what comes in; see [`crate::chain::Compression`].
    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        gain: &mut [[f64; W]],
        phase: &mut [[f64; W]],
    ) {
        let away = at.frequency - at.command_frequency;
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase.iter_mut()).enumerate() {
            let level = self.gain.at(draws, 0, channel);
            let slope = self.slope.at(draws, 0, channel);
            let insertion = self.phase.at(draws, 0, channel);
            for l in 0..W {
                let db = (level[l] - self.gain.nominal) + (slope[l] - self.slope.nominal) * away;
                gain[l] += NEPERS_A_DB * db;
                phase[l] += insertion[l] - self.phase.nominal;
            }
        }
        if !(self.gain_temperature.is_zero() && self.phase_temperature.is_zero()) {
            self.add_drift(at.warming(), draws, gain, phase);
        }
    }

    /// Adds what warming (K) does, to the nominal amplifier too.
    #[inline(always)]
    fn add_drift<const W: usize>(
        &self,
        warming: f64,
        draws: &Draws<W>,
        gain: &mut [[f64; W]],
        phase: &mut [[f64; W]],
    ) {
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase).enumerate() {
            let db_a_kelvin = self.gain_temperature.at(draws, 0, channel);
            let turn_a_kelvin = self.phase_temperature.at(draws, 0, channel);
            for l in 0..W {
                gain[l] += NEPERS_A_DB * db_a_kelvin[l] * warming;
                phase[l] += turn_a_kelvin[l] * warming;
            }
        }
    }
}
