//! An amplifier.

use crate::chain::compression;
use crate::chain::{Conditions, Listed, NEPERS_A_DB, Rapp, Roles};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Nested, Table, keys};
use crate::random::{Draws, Tolerance, Toleranced, Value};

/// An amplifier: gain, insertion phase, gain slope, drift.
///
/// Formula: gain_dB(f) = gain + slope (f - f0) + gain_temperature (T - T0), f0 the command frequency, T0 the reference
/// temperature; phase = phase + phase_temperature (T - T0), the same at every frequency; for compression see [`Rapp`]. Units: dB,
/// rad, dB/Hz, dB/K, rad/K. Source: common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Amplifier<T = Value> {
    pub(super) gain: T,
    phase: T,
    pub(super) slope: T,
    pub(super) gain_temperature: T,
    phase_temperature: T,
    pub(super) compression: Option<Rapp<T>>,
}

keys! {
    pub(super) KEYS: "An amplifier";
    GAIN: Toleranced =
        Key::tolerance("gain", Dimension::Level, Check::Any, "20 dB", "Gain before it compresses");
    PHASE: Toleranced =
        Key::tolerance("phase", Dimension::Angle, Check::Any, "0 deg", "Phase").or_exactly(0.0);
    SLOPE: Toleranced =
        Key::tolerance("slope", Dimension::LevelPerFrequency, Check::Any, "0.1 dB/GHz",
            "Gain over frequency, from the command frequency").or_exactly(0.0);
    GAIN_TEMPERATURE: Toleranced =
        Key::tolerance("gain_temperature", Dimension::LevelPerTemperature, Check::Any, "-0.02 dB/K",
            "Gain over temperature").or_exactly(0.0);
    PHASE_TEMPERATURE: Toleranced =
        Key::tolerance("phase_temperature", Dimension::AnglePerTemperature, Check::Any, "0.1 deg/K",
            "Phase over temperature").or_exactly(0.0);
    COMPRESSION: Nested =
        Key::table("compression", &compression::KEYS, "{ saturation = \"15 dBm\" }");
}

impl Amplifier<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "amplifier";

    pub(super) fn read(table: &Table) -> Amplifier<Tolerance> {
        let compression = table.table(COMPRESSION);
        Amplifier {
            gain: read_tolerance(table, &GAIN),
            phase: read_tolerance(table, &PHASE),
            slope: read_tolerance(table, &SLOPE),
            gain_temperature: read_tolerance(table, &GAIN_TEMPERATURE),
            phase_temperature: read_tolerance(table, &PHASE_TEMPERATURE),
            compression: compression.as_ref().map(Rapp::read),
        }
    }
}

impl<T> Amplifier<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Amplifier<U> {
        Amplifier {
            gain: to(Listed::one(&GAIN, &self.gain)),
            phase: to(Listed::one(&PHASE, &self.phase)),
            slope: to(Listed::one(&SLOPE, &self.slope)),
            gain_temperature: to(Listed::one(&GAIN_TEMPERATURE, &self.gain_temperature)),
            phase_temperature: to(Listed::one(&PHASE_TEMPERATURE, &self.phase_temperature)),
            compression: self.compression.as_ref().map(|compression| compression.map(to)),
        }
    }
}

impl<T> Roles<T> for Amplifier<T> {
    fn compression(&self) -> Option<(&Amplifier<T>, &Rapp<T>)> {
        self.compression.as_ref().map(|compression| (self, compression))
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
