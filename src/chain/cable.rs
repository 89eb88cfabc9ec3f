//! A coaxial cable.

use crate::array::SPEED_OF_LIGHT;
use crate::chain::{Conditions, Listed, NEPERS_A_DB, Roles};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Nested, Quantity, Table, keys, quantity};
use crate::math::TAU;
use crate::random::{Draws, Tolerance, Toleranced, Value};

/// A cable: length, velocity factor, loss, and how its electrical length drifts with temperature.
///
/// Formula: phase = -2 pi f L/(c VF) (1 + k (T - T0) + size (s(T) - s(T0))), T0 the reference temperature; s rises from 0
/// to 1 between two temperatures as 3 t^2 - 2 t^3, a stand-in for the measured curve of the step that PTFE makes near room
/// temperature (its density falls by about 1.5 % between 18 and 22 degC, the electrical length by some hundred
/// ppm). Loss = attenuation L sqrt(f/f0) + dielectric_attenuation L f/f0: the conductors and the dielectric, both stated at the
/// command frequency f0. Units: m, 1, dB/m, 1/K, K. Source: definition of the velocity factor; the two terms of the loss
/// Pozar, Microwave Engineering (from memory); the step common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Cable<T = Value> {
    length: T,
    velocity_factor: T,
    attenuation: T,
    dielectric_attenuation: T,
    phase_temperature: T,
    step_size: T,
    /// Temperatures that the step begins and ends at, K.
    step: Option<(f64, f64)>,
}

/// Lowest velocity factor that a draw can give.
const SLOWEST: f64 = 0.05;

/// From what a refrigerator of a laboratory reaches to what no cable stands.
const TEMPERATURES: Check = Check::Within(1.0, 600.0);

keys! {
    pub(super) KEYS: "A cable";
    LENGTH: Toleranced =
        Key::tolerance("length", Dimension::Length, Check::NonNegative, "80 mm", "Length");
    VELOCITY_FACTOR: Toleranced =
        Key::tolerance("velocity_factor", Dimension::Ratio, Check::Within(0.1, 1.0), "0.7", "Speed of the wave over that of light");
    ATTENUATION: Toleranced =
        Key::tolerance("attenuation", Dimension::LevelPerLength, Check::NonNegative, "1 dB/m",
            "Loss that grows with the square root of frequency, at the command frequency").or_exactly(0.0);
    DIELECTRIC_ATTENUATION: Toleranced =
        Key::tolerance("dielectric_attenuation", Dimension::LevelPerLength, Check::NonNegative, "0.1 dB/m",
            "Loss that grows with frequency, at the command frequency").or_exactly(0.0);
    PHASE_TEMPERATURE: Toleranced =
        Key::tolerance("phase_temperature", Dimension::RatioPerTemperature, Check::Any, "-40 ppm/K",
            "Relative change of the electrical length for each kelvin").or_exactly(0.0);
    PHASE_STEP: Nested =
        Key::table("phase_step", &STEP, "{ size = 0.0001, from = \"15 degC\", to = \"25 degC\" }");
}

keys! {
    STEP: "A step of the electrical length over a range of temperatures";
    SIZE: Toleranced =
        Key::tolerance("phase_step.size", Dimension::Ratio, Check::Within(-0.1, 0.1), "0.0001", "Relative change over the whole step");
    FROM: Quantity =
        Key::quantity("from", Dimension::Temperature, TEMPERATURES, "15 degC", "Temperature that the step begins at");
    TO: Quantity =
        Key::quantity("to", Dimension::Temperature, TEMPERATURES, "25 degC", "Temperature that the step ends at");
}

impl Cable<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "cable";

    pub(super) fn read(table: &Table) -> Cable<Tolerance> {
        let step = table.table(PHASE_STEP);
        Cable {
            length: read_tolerance(table, &LENGTH),
            velocity_factor: read_tolerance(table, &VELOCITY_FACTOR),
            attenuation: read_tolerance(table, &ATTENUATION),
            dielectric_attenuation: read_tolerance(table, &DIELECTRIC_ATTENUATION),
            phase_temperature: read_tolerance(table, &PHASE_TEMPERATURE),
            step_size: step.as_ref().map_or(Tolerance::exact(0.0), |step| read_tolerance(step, &SIZE)),
            step: step.as_ref().map(read_step),
        }
    }
}

impl<T> Cable<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Cable<U> {
        Cable {
            length: to(Listed::one(&LENGTH, &self.length)),
            velocity_factor: to(Listed::one(&VELOCITY_FACTOR, &self.velocity_factor)),
            attenuation: to(Listed::one(&ATTENUATION, &self.attenuation)),
            dielectric_attenuation: to(Listed::one(&DIELECTRIC_ATTENUATION, &self.dielectric_attenuation)),
            phase_temperature: to(Listed::one(&PHASE_TEMPERATURE, &self.phase_temperature)),
            step_size: to(Listed { of_temperature: true, ..Listed::one(&SIZE, &self.step_size) }),
            step: self.step,
        }
    }
}

impl<T> Roles<T> for Cable<T> {
    fn words(&self) -> Option<String> {
        let (from, to) = self.step?;
        let kelvin = |at| quantity::format(at, Dimension::Temperature);
        Some(format!("its phase steps between {} and {}", kelvin(from), kelvin(to)))
    }
}

impl Cable {
    pub(super) fn nominal_gain_db(&self, at: &Conditions) -> f64 {
        let times = at.frequency / at.command_frequency;
        let per_metre = self.attenuation.nominal * times.sqrt() + self.dielectric_attenuation.nominal * times;
        -per_metre * self.length.nominal
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
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase.iter_mut()).enumerate() {
            let length = self.length.at(draws, 0, channel);
            let velocity_factor = self.velocity_factor.at(draws, 0, channel);
            let attenuation = self.attenuation.at(draws, 0, channel);
            for l in 0..W {
                // A wide normal distribution can reach zero and below; no cable is that slow.
                let velocity_factor = velocity_factor[l].max(SLOWEST);
                phase[l] += turn * (length[l] / velocity_factor - nominal_length);
                gain[l] += loss * (attenuation[l] * length[l] - nominal_loss);
            }
        }
        if !self.dielectric_attenuation.is_zero() {
            self.add_dielectric_loss(at, draws, gain);
        }
        if !(self.phase_temperature.is_zero() && self.step_size.is_zero()) {
            self.add_drift(at, draws, phase);
        }
    }

    #[inline(always)]
    fn add_dielectric_loss<const W: usize>(&self, at: &Conditions, draws: &Draws<W>, gain: &mut [[f64; W]]) {
        let loss = -NEPERS_A_DB * (at.frequency / at.command_frequency);
        let nominal_loss = self.dielectric_attenuation.nominal * self.length.nominal;
        for (channel, gain) in gain.iter_mut().enumerate() {
            let length = self.length.at(draws, 0, channel);
            let attenuation = self.dielectric_attenuation.at(draws, 0, channel);
            for l in 0..W {
                gain[l] += loss * (attenuation[l] * length[l] - nominal_loss);
            }
        }
    }

    /// Adds what temperature does to the electrical length, of the nominal cable too.
    #[inline(always)]
    fn add_drift<const W: usize>(&self, at: &Conditions, draws: &Draws<W>, phase: &mut [[f64; W]]) {
        let turn = -TAU * at.frequency / SPEED_OF_LIGHT;
        let warming = at.warming();
        let stepped = self.passed(at.temperature) - self.passed(at.reference_temperature);
        for (channel, phase) in phase.iter_mut().enumerate() {
            let length = self.length.at(draws, 0, channel);
            let velocity_factor = self.velocity_factor.at(draws, 0, channel);
            let slope = self.phase_temperature.at(draws, 0, channel);
            let size = self.step_size.at(draws, 0, channel);
            for l in 0..W {
                let electrical = length[l] / velocity_factor[l].max(SLOWEST);
                phase[l] += turn * electrical * (slope[l] * warming + size[l] * stepped);
            }
        }
    }

    /// The share of the step below a temperature (K).
    fn passed(&self, temperature: f64) -> f64 {
        let Some((from, to)) = self.step else { return 0.0 };
        let t = ((temperature - from) / (to - from)).clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    }
}

fn read_step(step: &Table) -> (f64, f64) {
    let (from, to) = (step.read(&FROM), step.read(&TO));
    let is_read = [FROM, TO].iter().all(|key| step.has(key) && step.is_sound(key));
    if is_read && to <= from {
        step.error(
            step.span_of(TO),
            "the step ends before it begins",
            "not above `from`",
            Some("such as `from = \"17 degC\"`, `to = \"23 degC\"`".into()),
        );
    }
    (from, to)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Grouping, Sources};

    /// A metre of cable of velocity factor 0.695.
    fn metre() -> Cable {
        let none = || Value::exact(0.0);
        Cable {
            length: Value::exact(1.0),
            velocity_factor: Value::exact(0.695),
            attenuation: Value::exact(1.039),
            dielectric_attenuation: none(),
            phase_temperature: none(),
            step_size: none(),
            step: None,
        }
    }

    /// Phase over nominal at 28 GHz and a temperature (degC), the reference being 25 degC, in degrees.
    fn degrees(cable: &Cable, celsius: f64) -> f64 {
        let at = Conditions {
            frequency: 28e9,
            command_frequency: 10e9,
            temperature: 273.15 + celsius,
            reference_temperature: 298.15,
        };
        let draws = Sources::new(1, Grouping::of_chips(1, 1)).buffer::<1>();
        let (mut gain, mut phase) = ([[0.0]], [[0.0]]);
        cable.add(&at, &draws, &mut gain, &mut phase);
        assert_eq!(gain, [[0.0]]);
        phase[0][0].to_degrees()
    }

    #[test]
    fn a_metre_drifts_by_its_ppm() {
        // Rows A5.7: 48.379 deg for 100 ppm/K over 10 K, 0.048379 deg for 1 ppm: definition, last digits.
        let drifting = Cable { phase_temperature: Value::exact(-100e-6), ..metre() };
        assert!((degrees(&drifting, 35.0) - 48.379).abs() < 5e-4);
        assert!((degrees(&drifting, 15.0) + 48.379).abs() < 5e-4);
        assert_eq!(degrees(&drifting, 25.0), 0.0);
        assert_eq!(degrees(&metre(), 35.0), 0.0);
        let one = Cable { phase_temperature: Value::exact(-1e-6), ..metre() };
        assert!((degrees(&one, 26.0) - 0.048_379).abs() < 5e-7);
    }

    #[test]
    fn the_step_is_passed_once() {
        let step = Some((290.15, 296.15));
        let stepping = Cable { step_size: Value::exact(-800e-6), step, ..metre() };
        // Electrically longer on the cold side, all of it; by a half in the middle; nothing on the warm side.
        let a_ppm = 0.048_379;
        assert!((degrees(&stepping, -20.0) + 800.0 * a_ppm).abs() < 5e-4);
        assert!((degrees(&stepping, 17.0) + 800.0 * a_ppm).abs() < 5e-4);
        assert!((degrees(&stepping, 20.0) + 400.0 * a_ppm).abs() < 5e-4);
        // 3 t^2 - 2 t^3 at a quarter: 5/32.
        assert!((degrees(&stepping, 18.5) + (1.0 - 5.0 / 32.0) * 800.0 * a_ppm).abs() < 5e-4);
        assert_eq!(degrees(&stepping, 60.0), 0.0);
    }

    #[test]
    fn conductors_and_dielectric_grow_each_their_own_way() {
        // Rows A5.6, dB/m of RG-402 at 10 GHz and at 28 GHz: Pozar's coax table (from memory), last digits.
        let cable = Cable { dielectric_attenuation: Value::exact(0.2638), ..metre() };
        let at = |frequency| Conditions {
            frequency,
            command_frequency: 10e9,
            temperature: 298.15,
            reference_temperature: 298.15,
        };
        assert!((cable.nominal_gain_db(&at(10e9)) + 1.039 + 0.2638).abs() < 1e-12);
        assert!((cable.nominal_gain_db(&at(28e9)) + 1.738 + 0.7387).abs() < 1e-3);
        assert!((metre().nominal_gain_db(&at(28e9)) + 1.738).abs() < 1e-3);
    }
}
