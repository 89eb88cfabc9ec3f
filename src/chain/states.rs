//! What the two stepped blocks share: codes, and the error of a state, given for each bit or for each state.

use crate::chain::{Listed, NEPERS_A_DB};
use crate::io::{Check, Dimension, Table};
use crate::random::{Draws, Tolerance};

/// The code a stepped block stands at.
pub type Code = u32;

/// How the error of a state is composed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Law {
    /// Each bit has its own error, added when the bit is on.
    EachBit,
    /// Each state has its own, independent error.
    EachState,
}

/// Gain and phase error of every state of a stepped block.
///
/// Formula: for each bit, sum of the errors of the bits that are on; for each state, the state's own error.
/// Units: rad, dB. Source: step-error model, common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub struct StateErrors {
    law: Law,
    bits: usize,
    phase: Tolerance,
    gain: Tolerance,
}

impl StateErrors {
    /// Reads `bit_phase_error` and `bit_gain_error`, or `state_phase_error` and `state_gain_error`.
    pub(super) fn read(table: &Table, bits: usize) -> StateErrors {
        let each_state = ["state_phase_error", "state_gain_error"];
        let each_bit = ["bit_phase_error", "bit_gain_error"];
        let (law, keys) = if each_state.iter().any(|key| table.has(key)) {
            (Law::EachState, each_state)
        } else {
            (Law::EachBit, each_bit)
        };
        if law == Law::EachState
            && let Some(second) = each_bit.into_iter().find(|key| table.has(key))
        {
            // Read it, so that it is not called unknown as well.
            Tolerance::read_or(table, second, dimension(second), Check::Any, 0.0);
            table.error(
                Some(table.span_of(second)),
                "errors are given for each bit and for each state",
                "one of the two is due",
                Some("keep the `bit_...` keys or the `state_...` keys".into()),
            );
        }
        StateErrors {
            law,
            bits,
            phase: Tolerance::read_or(table, keys[0], Dimension::Angle, Check::Any, 0.0),
            gain: Tolerance::read_or(table, keys[1], Dimension::Level, Check::Any, 0.0),
        }
    }

    pub(super) fn tolerances(&mut self) -> Vec<Listed<'_>> {
        let (slots, phase, gain) = match self.law {
            Law::EachBit => (self.bits, "bit_phase_error", "bit_gain_error"),
            Law::EachState => (1 << self.bits, "state_phase_error", "state_gain_error"),
        };
        vec![
            Listed { key: phase, tolerance: &mut self.phase, slots, dimension: Dimension::Angle },
            Listed { key: gain, tolerance: &mut self.gain, slots, dimension: Dimension::Level },
        ]
    }

    /// How the errors are composed.
    pub fn law(&self) -> Law {
        self.law
    }

    /// Phase error of one bit, rad, as spread (standard deviation); `None` when given for each state.
    pub fn phase_sd(&self) -> f64 {
        self.phase.sd()
    }

    /// Gain error of one bit or state, dB (standard deviation).
    pub fn gain_sd_db(&self) -> f64 {
        self.gain.sd()
    }

    /// Error of one bit of one channel: nepers, rad.
    pub(super) fn bit<const W: usize>(
        &self,
        draws: &Draws<W>,
        channel: usize,
        bit: usize,
    ) -> ([f64; W], [f64; W]) {
        let gain = self.gain.at(draws, bit, channel).map(|db| NEPERS_A_DB * db);
        (gain, self.phase.at(draws, bit, channel))
    }

    /// Adds the error of the state each lane stands at: nepers, rad.
    #[inline]
    pub(super) fn add<const W: usize>(
        &self,
        draws: &Draws<W>,
        channel: usize,
        code: &[Code; W],
        gain: &mut [f64; W],
        phase: &mut [f64; W],
    ) {
        match self.law {
            Law::EachBit => {
                for bit in 0..self.bits {
                    let (bit_gain, bit_phase) = self.bit(draws, channel, bit);
                    for l in 0..W {
                        let on = f64::from((code[l] >> bit) & 1);
                        gain[l] += on * bit_gain[l];
                        phase[l] += on * bit_phase[l];
                    }
                }
            }
            Law::EachState => {
                for l in 0..W {
                    let state = code[l] as usize;
                    gain[l] += NEPERS_A_DB * self.gain.at(draws, state, channel)[l];
                    phase[l] += self.phase.at(draws, state, channel)[l];
                }
            }
        }
    }
}

fn dimension(key: &str) -> Dimension {
    if key.ends_with("phase_error") { Dimension::Angle } else { Dimension::Level }
}
