//! The radiator at the end of a channel.

use crate::chain::{Conditions, Listed, NEPERS_A_DB, Roles};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Nested, Table, keys};
use crate::random::{Draws, Scope, Tolerance, Toleranced, Value};

/// A radiating element: its own spread, and what couples to it from its nearest neighbours.
///
/// Formula: gain_dB = gain, phase = phase, alike at every frequency; with coupling c = 10^(level/20) e^(j phase) the excitation x_n of
/// an element becomes x_n + c sum x_m over its nearest neighbours m, the ideal excitation staying x_n: coupling is an error.
/// Units: dB, rad. Source: coupling to first order with one coefficient, common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Element<T = Value> {
    gain: T,
    phase: T,
    coupling: Option<NeighbourCoupling<T>>,
}

/// What an element picks up from each of its nearest neighbours, relative to their excitation; one draw a unit, as it is
/// the board and not the part that couples.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct NeighbourCoupling<T = Value> {
    /// Level, dB.
    pub level: T,
    /// Phase, rad.
    pub phase: T,
}

/// Coupling as strong as the excitation itself is none.
const LEVELS: Check = Check::Within(-200.0, 0.0);

keys! {
    pub(super) KEYS: "An antenna element at the end of the channel";
    GAIN: Toleranced =
        Key::tolerance("gain", Dimension::Level, Check::Any, "0 dB", "Gain over that of the others").or_exactly(0.0);
    PHASE: Toleranced =
        Key::tolerance("phase", Dimension::Angle, Check::Any, "0 deg", "Phase over that of the others").or_exactly(0.0);
    COUPLING: Nested =
        Key::table("coupling", &COUPLED, "{ level = \"-20 dB\" }");
}

keys! {
    COUPLED: "Coupling to each of the nearest neighbours; none where it is left out";
    COUPLING_LEVEL: Toleranced =
        Key::tolerance("coupling.level", Dimension::Level, LEVELS, "-20 dB", "Level of what couples over").or_exactly(0.0).in_scope(Scope::Unit).needed();
    COUPLING_PHASE: Toleranced =
        Key::tolerance("coupling.phase", Dimension::Angle, Check::Any, "0 deg", "Phase of what couples over").or_exactly(0.0).in_scope(Scope::Unit);
}

impl Element<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "element";

    pub(super) fn read(table: &Table) -> Element<Tolerance> {
        let coupling = table.table(COUPLING).map(|coupling| NeighbourCoupling {
            level: Tolerance::read_in_scope(&coupling, &COUPLING_LEVEL),
            phase: Tolerance::read_in_scope(&coupling, &COUPLING_PHASE),
        });
        Element { gain: read_tolerance(table, &GAIN), phase: read_tolerance(table, &PHASE), coupling }
    }
}

impl<T> Element<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Element<U> {
        Element {
            gain: to(Listed::one(&GAIN, &self.gain)),
            phase: to(Listed::one(&PHASE, &self.phase)),
            coupling: self.coupling.as_ref().map(|NeighbourCoupling { level, phase }| NeighbourCoupling {
                level: to(Listed::one(&COUPLING_LEVEL, level)),
                phase: to(Listed::one(&COUPLING_PHASE, phase)),
            }),
        }
    }
}

impl<T> Roles<T> for Element<T> {
    /// It mixes channels, so that it is added when the beam is steered.
    fn coupling(&self) -> Option<&NeighbourCoupling<T>> {
        self.coupling.as_ref()
    }
}

impl Element {
    pub(super) fn nominal_gain_db(&self, _: &Conditions) -> f64 {
        self.gain.nominal
    }

    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        _: &Conditions,
        draws: &Draws<W>,
        gain: &mut [[f64; W]],
        phase: &mut [[f64; W]],
    ) {
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase).enumerate() {
            let level = self.gain.at(draws, 0, channel);
            let turn = self.phase.at(draws, 0, channel);
            for l in 0..W {
                gain[l] += NEPERS_A_DB * (level[l] - self.gain.nominal);
                phase[l] += turn[l] - self.phase.nominal;
            }
        }
    }
}
