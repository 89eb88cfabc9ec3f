//! One output of a power divider.

use crate::chain::{Conditions, Listed, NEPERS_A_DB, Roles};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Table, keys};
use crate::random::{Draws, Tolerance, Toleranced, Value};

/// A divider's output: how it is off from its sisters, and what all stand below the input.
///
/// Formula: gain_dB = gain - loss, phase = phase; `loss` counts the split itself where the feed stands before it. Both are alike at
/// every frequency. Units: dB, rad. Source: output imbalance as data sheets state it, common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Divider<T = Value> {
    gain: T,
    phase: T,
    loss: T,
}

keys! {
    pub(super) KEYS: "A divider's output";
    GAIN: Toleranced =
        Key::tolerance("gain", Dimension::Level, Check::Any, "0 dB", "How far an output is off the others in gain").or_exactly(0.0);
    PHASE: Toleranced =
        Key::tolerance("phase", Dimension::Angle, Check::Any, "0 deg", "How far an output is off the others in phase").or_exactly(0.0);
    LOSS: Toleranced =
        Key::tolerance("loss", Dimension::Level, Check::NonNegative, "13 dB", "Loss common to all outputs").or_exactly(0.0);
}

impl Divider<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "divider";

    pub(super) fn read(table: &Table) -> Divider<Tolerance> {
        Divider {
            gain: read_tolerance(table, &GAIN),
            phase: read_tolerance(table, &PHASE),
            loss: read_tolerance(table, &LOSS),
        }
    }
}

impl<T> Divider<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Divider<U> {
        Divider {
            gain: to(Listed::one(&GAIN, &self.gain)),
            phase: to(Listed::one(&PHASE, &self.phase)),
            loss: to(Listed::one(&LOSS, &self.loss)),
        }
    }
}

impl<T> Roles<T> for Divider<T> {}

impl Divider {
    pub(super) fn nominal_gain_db(&self, _: &Conditions) -> f64 {
        self.gain.nominal - self.loss.nominal
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
            let loss = self.loss.at(draws, 0, channel);
            let turn = self.phase.at(draws, 0, channel);
            for l in 0..W {
                let db = (level[l] - self.gain.nominal) - (loss[l] - self.loss.nominal);
                gain[l] += NEPERS_A_DB * db;
                phase[l] += turn[l] - self.phase.nominal;
            }
        }
    }
}
