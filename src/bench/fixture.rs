//! The coupler, the cables and the probe of the bench.

use crate::io::{Check, Dimension, Table};
use crate::random::{Scope, Sources, Tolerance, Value};

/// Imbalance of the coupler's arms, and the changes when a test cable is moved.
///
/// The nominal imbalance is the one on the coupler's certificate: the bench takes it out of every phase it
/// finds. Its spread is the uncertainty of the certificate: one draw a unit, as if each unit met another
/// bench of the same make. Repeatability is drawn anew at each reconnection. The probe stands where the study says a beam points, or
/// at broadside; its ways to the channels are known but for the draws here.
#[derive(Clone, Debug, PartialEq)]
pub struct Fixture<T = Value> {
    /// Gain of the stepped arm over the reference arm, dB.
    pub gain_imbalance: T,
    /// Phase of the stepped arm over the reference arm, rad.
    pub phase_imbalance: T,
    /// Gain change at a reconnection, dB.
    pub reconnection_gain: T,
    /// Phase change at a reconnection, rad.
    pub reconnection_phase: T,
    /// Gain of a channel's way to the probe over its known value, dB.
    pub probe_gain: T,
    /// Phase of the same, rad.
    pub probe_phase: T,
}

/// Which arm of the coupler a channel's cable goes to, or none when it is read alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Port {
    /// Read alone.
    Alone,
    /// The arm that is stepped.
    Stepped,
    /// The other, held against this channel.
    Reference,
}

impl Port {
    /// The draw of this port's connection in a round, held against a channel that it meets anew each time (none: the connection is
    /// made once a round). The first round's are the fixture's own slots; the others are drawn when they are made.
    pub fn slot(self, round: u32, against: Option<usize>) -> u32 {
        let port = match self {
            Port::Alone => 0,
            Port::Stepped => 1,
            Port::Reference => 2,
        };
        let against = against.map_or(0, |channel| channel as u32 + 1);
        port + 3 * (against + MOST_PARTNERS * round)
    }
}

/// More than the channels that one can be held against.
const MOST_PARTNERS: u32 = 1 << 13;

/// Draws of a connection that are kept: the first levelling's and the first phasing's.
pub const KEPT_CONNECTIONS: usize = 2;

impl Fixture<Tolerance> {
    /// Reads `coupler`, `reconnection` and `probe` of the bench; absent parts are ideal.
    pub fn read(bench: Option<&Table>) -> Fixture<Tolerance> {
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
        let [probe_gain, probe_phase] = read("probe", ["gain", "phase"], Scope::Channel);
        Fixture {
            gain_imbalance,
            phase_imbalance,
            reconnection_gain,
            reconnection_phase,
            probe_gain,
            probe_phase,
        }
    }

    /// Gives every tolerance its place among the draws: the fixture as units meet it.
    pub fn bind(&self, sources: &mut Sources) -> Fixture {
        let mut bind = |name: &str, tolerance, slots, dimension| {
            sources.bind(name.into(), tolerance, slots, dimension, false)
        };
        let slots = KEPT_CONNECTIONS;
        Fixture {
            gain_imbalance: bind("bench.coupler.gain_imbalance", &self.gain_imbalance, 1, Dimension::Level),
            phase_imbalance: bind(
                "bench.coupler.phase_imbalance",
                &self.phase_imbalance,
                1,
                Dimension::Angle,
            ),
            reconnection_gain: bind(
                "bench.reconnection.gain",
                &self.reconnection_gain,
                slots,
                Dimension::Level,
            ),
            reconnection_phase: bind(
                "bench.reconnection.phase",
                &self.reconnection_phase,
                slots,
                Dimension::Angle,
            ),
            probe_gain: bind("bench.probe.gain", &self.probe_gain, 1, Dimension::Level),
            probe_phase: bind("bench.probe.phase", &self.probe_phase, 1, Dimension::Angle),
        }
    }
}

impl Fixture {
    /// True when the stepped arm is like the reference arm and a reconnection changes nothing.
    pub fn is_ideal(&self) -> bool {
        let parts =
            [&self.gain_imbalance, &self.phase_imbalance, &self.reconnection_gain, &self.reconnection_phase];
        parts.iter().all(|part| part.is_zero())
    }
}
