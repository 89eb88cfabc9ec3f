//! What the two stepped blocks share: how far a state that is commanded is off nominal, from every cause.

use crate::chain::state_table::{OffNominal, STATES, Step};
use crate::chain::states::{self, StateErrors};
use crate::chain::stuck_bits::{STUCK_BIT, StuckBits};
use crate::chain::{Code, Conditions, Listed, NEPERS_A_DB, StateTable, VectorSum};
use crate::io::{Findings, Keys, Table};
use crate::random::{Draws, Sources, Tolerance, Value};
use multiversion::multiversion;
use std::slice::from_mut;

/// The states of a stepped block.
///
/// Formula: a measured table, the same in all channels, and on top of it the errors of bits or states, or else the errors of a
/// vector sum; all of it at the code that is taken, which stuck bits make another than the commanded one. Units: rad, dB.
/// Source: own derivation.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stepped<T = Value> {
    pub(super) errors: StateErrors<T>,
    pub(super) measured: Option<StateTable>,
    pub(super) vector_sum: Option<VectorSum<T>>,
    pub(super) stuck: Option<StuckBits<T>>,
}

/// The keys that both have.
pub(super) const KEYS: Keys =
    Keys { about: "", own: &[&STATES, &STUCK_BIT], with: &[&states::KEYS], kinds: &[] };

impl Stepped<Tolerance> {
    /// Reads the keys of errors and of tables.
    pub(super) fn read(table: &Table, bits: usize) -> Stepped<Tolerance> {
        Stepped {
            errors: StateErrors::read(table, bits),
            measured: StateTable::read(table, 1 << bits),
            vector_sum: None,
            stuck: StuckBits::read(table, bits),
        }
    }
}

impl<T> Stepped<T> {
    /// What stands in the place of the tolerances; errors are drawn only once a state needs them where `on_use` says so.
    pub(super) fn map<'a, U>(&'a self, on_use: bool, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Stepped<U> {
        Stepped {
            errors: self.errors.map(on_use, to),
            vector_sum: self.vector_sum.as_ref().map(|sum| sum.map(to)),
            stuck: self.stuck.as_ref().map(|stuck| stuck.map(to)),
            measured: self.measured.clone(),
        }
    }

    /// What a report says of so many bits: "6 bits, 64 states, 5.625 deg a step, measured states from shifter.csv, left at code 3".
    pub(super) fn words(&self, bits: usize, step: &str, stands_at: Option<Code>) -> String {
        let noun = if bits == 1 { "bit" } else { "bits" };
        let mut words = format!("{bits} {noun}, {} states, {step} a step", 1u64 << bits);
        if let Some(measured) = &self.measured {
            words.push_str(&format!(", {}", measured.words()));
        }
        if let Some(sum) = &self.vector_sum {
            words.push_str(&format!(", vector sum of {}-bit weights", sum.dac_bits()));
        }
        if let Some(code) = stands_at {
            words.push_str(&format!(", left at code {code}"));
        }
        words
    }

    /// Interpolates what was measured for the frequencies in use, Hz.
    pub(super) fn prepare(&mut self, frequencies: &[f64], step: Step, findings: &Findings) {
        if let Some(measured) = &mut self.measured {
            measured.prepare(frequencies, step, findings);
        }
    }
}

impl Stepped {
    /// True where code 0 does something of its own. A measured state 0 does not: the others are held against it.
    pub(super) fn shows_code_0(&self) -> bool {
        self.errors.shows_state_0() || self.stuck.is_some() || self.vector_sum.is_some()
    }

    /// Draws the errors of the states that some channel of some unit stands at.
    pub(super) fn need<const W: usize>(&self, codes: &[[Code; W]], sources: &Sources, draws: &mut Draws<W>) {
        let Some(stuck) = &self.stuck else {
            self.errors.need(codes, sources, draws);
            return;
        };
        for (channel, codes) in codes.iter().enumerate() {
            let taken = stuck.taken(draws, channel, codes);
            self.errors.need(&[taken], sources, draws);
        }
    }

    /// What was measured at a frequency in use.
    #[inline(always)]
    pub(super) fn measured_at(&self, at: &Conditions) -> Option<&OffNominal> {
        self.measured.as_ref().map(|measured| measured.at(at.frequency))
    }

    /// Adds how far the states are off nominal that channels from `first` on are commanded to: nepers, rad,
    /// `[channel][lane]`. `step` is what one code more does.
    #[inline(always)]
    #[allow(clippy::too_many_arguments, reason = "where, what and whereto")]
    pub(super) fn add<const W: usize>(
        &self,
        step: Step,
        at: &Conditions,
        draws: &Draws<W>,
        first: usize,
        codes: &[[Code; W]],
        gain: &mut [[f32; W]],
        phase: &mut [[f32; W]],
    ) {
        match &self.stuck {
            None => self.add_taken(at, draws, first, codes, gain, phase),
            Some(stuck) => add_stuck(self, stuck, step, at, draws, first, codes, gain, phase),
        }
    }

    /// The same for codes that the parts really take.
    #[inline(always)]
    fn add_taken<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        first: usize,
        codes: &[[Code; W]],
        gain: &mut [[f32; W]],
        phase: &mut [[f32; W]],
    ) {
        if let Some(measured) = self.measured_at(at) {
            measured.add(codes, gain, phase);
        }
        if let Some(vector_sum) = &self.vector_sum {
            vector_sum.add(draws, first, codes, gain, phase);
        }
        self.errors.add(draws, first, codes, gain, phase);
    }

    /// Adds the same for a code that one channel is left at in all lanes.
    #[inline(always)]
    #[allow(clippy::too_many_arguments, reason = "where, what and whereto")]
    pub(super) fn add_standing<const W: usize>(
        &self,
        step: Step,
        at: &Conditions,
        draws: &Draws<W>,
        channel: usize,
        code: Code,
        gain: &mut [f64; W],
        phase: &mut [f64; W],
    ) {
        let (mut off_gain, mut off_phase) = ([[0.0; W]], [[0.0; W]]);
        self.add(step, at, draws, channel, &[[code; W]], &mut off_gain, &mut off_phase);
        for l in 0..W {
            gain[l] += f64::from(off_gain[0][l]);
            phase[l] += f64::from(off_phase[0][l]);
        }
    }
}

/// Apart from the rest, so that blocks without stuck bits keep a short way.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
#[allow(clippy::too_many_arguments, reason = "where, what and whereto")]
fn add_stuck<const W: usize>(
    stepped: &Stepped,
    stuck: &StuckBits,
    step: Step,
    at: &Conditions,
    draws: &Draws<W>,
    first: usize,
    codes: &[[Code; W]],
    gain: &mut [[f32; W]],
    phase: &mut [[f32; W]],
) {
    let (gain_step, phase_step) = ((NEPERS_A_DB * step.gain_db) as f32, step.phase as f32);
    let sums = gain.iter_mut().zip(phase);
    for (channel, ((gain, phase), commanded)) in (first..).zip(sums.zip(codes)) {
        let taken = stuck.taken(draws, channel, commanded);
        for l in 0..W {
            // Codes have 12 bits, so that differences are exact.
            let away = (taken[l] as i32 - commanded[l] as i32) as f32;
            gain[l] += gain_step * away;
            phase[l] += phase_step * away;
        }
        stepped.add_taken(at, draws, channel, &[taken], from_mut(gain), from_mut(phase));
    }
}

#[cfg(test)]
mod tests;
