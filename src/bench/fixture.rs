//! The coupler, the cables and the probe of the bench.

use crate::io::{Check, Dimension, Key, Nested, Table, keys};
use crate::random::{Scope, Sources, Tolerance, Toleranced, Value};

/// Imbalance of the coupler's arms, and the changes when a test cable is moved.
///
/// The nominal imbalance is the one on the coupler's certificate: the bench takes it out of every phase it
/// finds. Its spread is the uncertainty of the certificate: one draw a unit, as if each unit met another
/// bench of the same make. Repeatability is drawn anew at each reconnection. The probe stands where the study says a beam points, or
/// at broadside; its ways to the channels are known but for the draws here.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Fixture<T = Value> {
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
pub(crate) enum Port {
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
    pub(crate) fn slot(self, round: u32, against: Option<usize>) -> u32 {
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
pub(crate) const KEPT_CONNECTIONS: usize = 2;

keys! {
    /// Its tables in that of the bench.
    pub(crate) FIXTURE: "";
    COUPLER: Nested = Key::table("coupler", &COUPLER_KEYS, "{ phase_imbalance = \"2 deg\" }");
    RECONNECTION: Nested =
        Key::table("reconnection", &RECONNECTION_KEYS, "{ phase = { normal = { sd = \"1 deg\" } } }");
    PROBE: Nested = Key::table("probe", &PROBE_KEYS, "{ phase = { normal = { sd = \"1 deg\" } } }");
}

keys! {
    COUPLER_KEYS: "The coupler that joins a pair; ideal where it is left out";
    GAIN_IMBALANCE: Toleranced =
        gain("bench.coupler.gain_imbalance", Scope::Unit, "Gain of the stepped arm over the reference arm");
    PHASE_IMBALANCE: Toleranced =
        phase("bench.coupler.phase_imbalance", Scope::Unit, "Phase of the stepped arm over the reference arm; its nominal is certified");
}

keys! {
    RECONNECTION_KEYS: "What changes when a test cable is moved; nothing where it is left out";
    RECONNECTION_GAIN: Toleranced = gain("bench.reconnection.gain", Scope::Channel, "Change of gain");
    RECONNECTION_PHASE: Toleranced = phase("bench.reconnection.phase", Scope::Channel, "Change of phase");
}

keys! {
    PROBE_KEYS: "The probe of methods over the air; ideal where it is left out";
    PROBE_GAIN: Toleranced =
        gain("bench.probe.gain", Scope::Channel, "Gain of a channel's way to the probe over what is known of it");
    PROBE_PHASE: Toleranced =
        phase("bench.probe.phase", Scope::Channel, "Phase of a channel's way to the probe over what is known of it");
}

const fn gain(path: &'static str, scope: Scope, about: &'static str) -> Key<Toleranced> {
    Key::tolerance(path, Dimension::Level, Check::Any, "0 dB", about).or_exactly(0.0).in_scope(scope)
}

const fn phase(path: &'static str, scope: Scope, about: &'static str) -> Key<Toleranced> {
    Key::tolerance(path, Dimension::Angle, Check::Any, "2 deg", about).or_exactly(0.0).in_scope(scope)
}

impl Fixture<Tolerance> {
    /// Reads `coupler`, `reconnection` and `probe` of the bench; absent parts are ideal.
    pub(crate) fn read(bench: Option<&Table>) -> Fixture<Tolerance> {
        let read = |table: &Key<Nested>, keys: [&Key<Toleranced>; 2]| -> [Tolerance; 2] {
            match bench.and_then(|bench| bench.table(table)) {
                None => [Tolerance::exact(0.0), Tolerance::exact(0.0)],
                Some(table) => keys.map(|key| Tolerance::read_in_scope(&table, key)),
            }
        };
        let [gain_imbalance, phase_imbalance] = read(&COUPLER, [&GAIN_IMBALANCE, &PHASE_IMBALANCE]);
        let [reconnection_gain, reconnection_phase] =
            read(&RECONNECTION, [&RECONNECTION_GAIN, &RECONNECTION_PHASE]);
        let [probe_gain, probe_phase] = read(&PROBE, [&PROBE_GAIN, &PROBE_PHASE]);
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
    pub(crate) fn bind(&self, sources: &mut Sources) -> Fixture {
        let mut bind = |key: &Key<Toleranced>, tolerance, slots| {
            sources.bind(key.takes.path.into(), tolerance, slots, key.takes.dimension, false)
        };
        let slots = KEPT_CONNECTIONS;
        Fixture {
            gain_imbalance: bind(&GAIN_IMBALANCE, &self.gain_imbalance, 1),
            phase_imbalance: bind(&PHASE_IMBALANCE, &self.phase_imbalance, 1),
            reconnection_gain: bind(&RECONNECTION_GAIN, &self.reconnection_gain, slots),
            reconnection_phase: bind(&RECONNECTION_PHASE, &self.reconnection_phase, slots),
            probe_gain: bind(&PROBE_GAIN, &self.probe_gain, 1),
            probe_phase: bind(&PROBE_PHASE, &self.probe_phase, 1),
        }
    }
}

impl Fixture {
    /// True when the stepped arm is like the reference arm and a reconnection changes nothing.
    pub(crate) fn is_ideal(&self) -> bool {
        let parts =
            [&self.gain_imbalance, &self.phase_imbalance, &self.reconnection_gain, &self.reconnection_phase];
        parts.iter().all(|part| part.is_zero())
    }
}
