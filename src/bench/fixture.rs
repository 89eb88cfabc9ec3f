//! The coupler and the cables of the bench.

use crate::io::{Check, Dimension, Table};
use crate::random::{Scope, Sources, Tolerance};

/// Imbalance of the coupler's arms, and what changes when a test cable is moved.
///
/// The nominal imbalance is the one on the coupler's certificate: the bench takes it out of every phase it
/// finds. Its spread is what the certificate does not know: one draw a unit, as if each unit met another
/// bench of the same make. Repeatability is drawn anew at each reconnection.
#[derive(Clone, Debug, PartialEq)]
pub struct Fixture {
    /// Gain of the stepped arm over the reference arm, dB.
    pub gain_imbalance: Tolerance,
    /// Phase of the stepped arm over the reference arm, rad.
    pub phase_imbalance: Tolerance,
    /// Gain change at a reconnection, dB.
    pub reconnection_gain: Tolerance,
    /// Phase change at a reconnection, rad.
    pub reconnection_phase: Tolerance,
}

impl Fixture {
    /// Slot of the reconnection draws while levelling.
    pub const WHILE_LEVELLING: usize = 0;
    /// Slot of the reconnection draws while aligning.
    pub const WHILE_ALIGNING: usize = 1;

    /// Reads `coupler` and `reconnection` of the bench; what is absent is ideal.
    pub fn read(bench: Option<&Table>) -> Fixture {
        let read = |table: &str, keys: [&'static str; 2], scope| {
            let part: [Tolerance; 2] = match bench.and_then(|bench| bench.table(table)) {
                None => [Tolerance::exact(0.0), Tolerance::exact(0.0)],
                Some(table) => [
                    Tolerance::read_in_scope(&table, keys[0], Dimension::Level, Check::Any, 0.0, scope),
                    Tolerance::read_in_scope(&table, keys[1], Dimension::Angle, Check::Any, 0.0, scope),
                ],
            };
            part
        };
        let [gain_imbalance, phase_imbalance] =
            read("coupler", ["gain_imbalance", "phase_imbalance"], Scope::Unit);
        let [reconnection_gain, reconnection_phase] = read("reconnection", ["gain", "phase"], Scope::Channel);
        Fixture { gain_imbalance, phase_imbalance, reconnection_gain, reconnection_phase }
    }

    /// True when the stepped arm is like the reference arm and a reconnection changes nothing.
    pub fn is_ideal(&self) -> bool {
        let parts =
            [&self.gain_imbalance, &self.phase_imbalance, &self.reconnection_gain, &self.reconnection_phase];
        parts.iter().all(|part| part.is_zero())
    }

    /// Gives every tolerance its place among the draws.
    pub fn bind(&mut self, sources: &mut Sources) {
        sources.bind(
            "bench.coupler.gain_imbalance".into(),
            &mut self.gain_imbalance,
            1,
            Dimension::Level,
            false,
        );
        sources.bind(
            "bench.coupler.phase_imbalance".into(),
            &mut self.phase_imbalance,
            1,
            Dimension::Angle,
            false,
        );
        sources.bind(
            "bench.reconnection.gain".into(),
            &mut self.reconnection_gain,
            2,
            Dimension::Level,
            false,
        );
        sources.bind(
            "bench.reconnection.phase".into(),
            &mut self.reconnection_phase,
            2,
            Dimension::Angle,
            false,
        );
    }
}
