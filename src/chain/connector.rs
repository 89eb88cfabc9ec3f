//! A connector: two reflections and the line between them.

use crate::array::SPEED_OF_LIGHT;
use crate::chain::{Conditions, Listed, NEPERS_A_DB, Roles};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Table, keys};
use crate::math::{PI, TAU, arc, elementary, single};
use crate::random::{Distribution, Draws, Scope, Spread, Tolerance, Toleranced, Uniform, Value};

/// A pair of reflections, by their voltage standing-wave ratios, a distance apart.
///
/// Formula: gain = 1/(1 - G1 G2 e^(j t)), G = (S - 1)/(S + 1), t the phase of the round trip: as drawn at the command frequency f0,
/// and t(f) = t(f0) - 4 pi (f - f0) L/(c VF). The transmission of what stands on either side counts as measured against a matched
/// load, so that no mismatch loss comes on top. Where the phase is anywhere on the full turn (as it is unless stated) the nominal
/// gain is 1: the mean over the turn both of the gain in dB and of its phase is exactly 0. Units: 1, rad, m; gain in dB for people.
/// Source: signal-flow graph of two reflections, Pozar, Microwave Engineering (from memory).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Connector<T = Value> {
    vswr_in: T,
    vswr_out: T,
    phase: T,
    length: T,
    velocity_factor: T,
}

/// From a match to what reflects as good as all.
const RATIOS: Check = Check::Within(1.0, 1e6);

/// Lowest velocity factor that a draw can give.
const SLOWEST: f64 = 0.05;

keys! {
    pub(super) KEYS: "A pair of connectors with a line between them";
    VSWR_IN: Toleranced =
        Key::tolerance("vswr_in", Dimension::Ratio, RATIOS, "1.15", "Standing-wave ratio of the one");
    VSWR_OUT: Toleranced =
        Key::tolerance("vswr_out", Dimension::Ratio, RATIOS, "1.2", "Standing-wave ratio of the other");
    PHASE: Toleranced =
        Key::tolerance("phase", Dimension::Angle, Check::Any, "20 deg",
            "Phase between the two reflections; any, equally likely, where it is left out").or_exactly(0.0);
    LENGTH: Toleranced =
        Key::tolerance("length", Dimension::Length, Check::NonNegative, "30 mm",
            "Length of the line between them; none where it is left out").or_nothing();
    VELOCITY_FACTOR: Toleranced =
        Key::tolerance("velocity_factor", Dimension::Ratio, Check::Within(0.1, 1.0), "0.7",
            "Speed of the wave on that line over that of light").or_nothing();
}

impl Connector<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "connector";

    pub(super) fn read(table: &Table) -> Connector<Tolerance> {
        let (length, velocity_factor) = if table.has(LENGTH) || table.has(VELOCITY_FACTOR) {
            (read_tolerance(table, &LENGTH), read_tolerance(table, &VELOCITY_FACTOR))
        } else {
            (Tolerance::exact(0.0), Tolerance::exact(1.0))
        };
        Connector {
            vswr_in: read_tolerance(table, &VSWR_IN),
            vswr_out: read_tolerance(table, &VSWR_OUT),
            phase: if table.has(PHASE) { read_tolerance(table, &PHASE) } else { any_phase() },
            length,
            velocity_factor,
        }
    }
}

impl<T> Connector<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Connector<U> {
        Connector {
            vswr_in: to(Listed::one(&VSWR_IN, &self.vswr_in)),
            vswr_out: to(Listed::one(&VSWR_OUT, &self.vswr_out)),
            phase: to(Listed::one(&PHASE, &self.phase)),
            length: to(Listed::one(&LENGTH, &self.length)),
            velocity_factor: to(Listed::one(&VELOCITY_FACTOR, &self.velocity_factor)),
        }
    }
}

impl<T> Roles<T> for Connector<T> {}

impl Connector {
    pub(super) fn nominal_gain_db(&self, at: &Conditions) -> f64 {
        self.nominal(at).0 / NEPERS_A_DB
    }

    /// Gain and phase that the drawing states: nepers, rad.
    fn nominal(&self, at: &Conditions) -> (f64, f64) {
        let covers_the_turn = |Spread { distribution, .. }: &Spread| {
            matches!(distribution, Distribution::Uniform(_))
                && distribution.half_range().is_some_and(|half| half >= 0.999_999 * PI)
        };
        if self.phase.spread().is_some_and(covers_the_turn) {
            return (0.0, 0.0);
        }
        let delay = self.length.nominal / self.velocity_factor.nominal;
        ripple(self.vswr_in.nominal, self.vswr_out.nominal, self.phase.nominal + turn_a_metre(at) * delay)
    }

    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        gain: &mut [[f64; W]],
        phase: &mut [[f64; W]],
    ) {
        let nominal = self.nominal(at);
        let turn = turn_a_metre(at);
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase).enumerate() {
            let vswr_in = self.vswr_in.at(draws, 0, channel);
            let vswr_out = self.vswr_out.at(draws, 0, channel);
            let drawn = self.phase.at(draws, 0, channel);
            let length = self.length.at(draws, 0, channel);
            let velocity_factor = self.velocity_factor.at(draws, 0, channel);
            for l in 0..W {
                let delay = length[l] / velocity_factor[l].max(SLOWEST);
                let (nepers, radians) = ripple(vswr_in[l], vswr_out[l], drawn[l] + turn * delay);
                gain[l] += nepers - nominal.0;
                phase[l] += radians - nominal.1;
            }
        }
    }
}

/// Anywhere on the full turn, by each channel on its own.
fn any_phase() -> Tolerance {
    let mut phase = Tolerance::exact(0.0);
    let law = Uniform::new(PI).ok();
    phase.spread = law.map(|law| Spread { distribution: Distribution::Uniform(law), scope: Scope::Channel });
    phase
}

/// How far the round trip turns for each metre of electrical length, over the command frequency: rad/m.
fn turn_a_metre(at: &Conditions) -> f64 {
    -2.0 * TAU * (at.frequency - at.command_frequency) / SPEED_OF_LIGHT
}

/// Reflection of a voltage standing-wave ratio; a draw below 1 counts as a match.
#[inline(always)]
fn reflection(vswr: f64) -> f64 {
    let vswr = if vswr > 1.0 { vswr } else { 1.0 };
    (vswr - 1.0) / (vswr + 1.0)
}

/// Gain (nepers) and phase (rad) of two reflections whose round trip has a phase, rad.
#[inline(always)]
fn ripple(vswr_in: f64, vswr_out: f64, round_trip: f64) -> (f64, f64) {
    let both = reflection(vswr_in) * reflection(vswr_out);
    let turns = round_trip * (1.0 / TAU);
    let (sine, cosine) = single::sin_cos(((turns - elementary::round(turns)) * TAU) as f32);
    let (re, im) = (1.0 - both * f64::from(cosine), both * f64::from(sine));
    (-0.5 * elementary::ln(re * re + im * im), arc::angle(re, im))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::scalar;

    #[test]
    fn a_reflection_and_its_mismatch_loss() {
        // -10 log10(1 - G^2) of one VSWR, dB: any handbook (from memory), right to the last digit.
        for (vswr, printed) in [(1.2, 0.03604), (1.5, 0.1773), (2.0, 0.5115), (3.0, 1.249)] {
            let of = reflection(vswr);
            let loss = -10.0 * scalar::log10(1.0 - of * of);
            assert!((loss - printed).abs() < 5.1e-4 * printed, "{vswr}: {loss}");
        }
        assert_eq!((reflection(1.0), reflection(0.3)), (0.0, 0.0));
    }

    #[test]
    fn two_reflections_add_and_take_away() {
        // VSWR 1.5 and 2: p = 1/15; -20 log10(1 - p), -20 log10(1 + p), asin p. Own derivation.
        let db = |(nepers, _): (f64, f64)| nepers / NEPERS_A_DB;
        assert!((db(ripple(1.5, 2.0, 0.0)) - 0.599_264).abs() < 1e-5);
        assert!((db(ripple(1.5, 2.0, PI)) + 0.560_574).abs() < 1e-5);
        let p: f64 = 1.0 / 15.0;
        let steepest = (0..3600).map(|i| ripple(1.5, 2.0, f64::from(i) * TAU / 3600.0).1).fold(0.0, f64::max);
        assert!((steepest - scalar::asin(p)).abs() < 1e-6, "{steepest}");
        assert_eq!(ripple(1.0, 2.0, 1.0), (0.0, 0.0));
        // A wave that comes later adds a phase of the same sign as its own lag.
        assert!(ripple(1.5, 2.0, 0.5).1 > 0.0 && ripple(1.5, 2.0, -0.5).1 < 0.0);
    }

    #[test]
    fn the_mean_over_the_turn_is_nothing() {
        let count = 720;
        let all = (0..count).map(|i| ripple(3.0, 3.0, f64::from(i) * TAU / f64::from(count)));
        let (gain, phase) = all.fold((0.0, 0.0), |sum, of| (sum.0 + of.0, sum.1 + of.1));
        assert!((gain / f64::from(count)).abs() < 1e-7 && (phase / f64::from(count)).abs() < 1e-7);
    }
}
