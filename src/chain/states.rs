//! Codes of the two stepped blocks, and the error of a state, given for each bit or for each state.

use crate::chain::{Listed, NEPERS_A_DB};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Table, keys};
use crate::random::{Draws, Sources, Tolerance, Toleranced, Value};

/// The code a stepped block stands at.
pub(crate) type Code = u32;

/// How the error of a state is composed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Composition {
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
pub(super) struct StateErrors<T = Value> {
    composition: Composition,
    bits: usize,
    phase: T,
    gain: T,
}

keys! {
    pub(super) KEYS: "Errors of the states of a stepped block";
    pub(super) BIT_PHASE_ERROR: Toleranced =
        Key::tolerance("bit_phase_error", Dimension::Angle, Check::Any, "0 deg", "Phase error of each bit that is on; errors add up").or_exactly(0.0);
    pub(super) BIT_GAIN_ERROR: Toleranced =
        Key::tolerance("bit_gain_error", Dimension::Level, Check::Any, "0 dB", "Gain error of each bit that is on; errors add up").or_exactly(0.0);
    pub(super) STATE_PHASE_ERROR: Toleranced =
        Key::tolerance("state_phase_error", Dimension::Angle, Check::Any, "0 deg", "Phase error of each state").or_exactly(0.0);
    pub(super) STATE_GAIN_ERROR: Toleranced =
        Key::tolerance("state_gain_error", Dimension::Level, Check::Any, "0 dB", "Gain error of each state").or_exactly(0.0);
}

impl Composition {
    /// The keys that state errors so: of phase, of gain.
    fn keys(self) -> [&'static Key<Toleranced>; 2] {
        match self {
            Composition::EachBit => [&BIT_PHASE_ERROR, &BIT_GAIN_ERROR],
            Composition::EachState => [&STATE_PHASE_ERROR, &STATE_GAIN_ERROR],
        }
    }
}

impl StateErrors<Tolerance> {
    /// Reads `bit_phase_error` and `bit_gain_error`, or `state_phase_error` and `state_gain_error`.
    pub(super) fn read(table: &Table, bits: usize) -> StateErrors<Tolerance> {
        let has = |of: Composition| of.keys().into_iter().find(|key| table.has(key));
        let has_states = has(Composition::EachState).is_some();
        let composition = if has_states { Composition::EachState } else { Composition::EachBit };
        if has_states && let Some(second) = has(Composition::EachBit) {
            // Read it, so that it is not called unknown as well.
            read_tolerance(table, second);
            table.error(
                Some(table.span_of(second)),
                "errors are given for each bit and for each state",
                "one of the two is expected",
                Some("keep the `bit_...` keys or the `state_...` keys".into()),
            );
        }
        let [phase, gain] = composition.keys();
        StateErrors {
            composition,
            bits,
            phase: read_tolerance(table, phase),
            gain: read_tolerance(table, gain),
        }
    }
}

impl<T> StateErrors<T> {
    /// What stands in the place of the tolerances, drawn only once a state needs them where `on_use` says so.
    pub(super) fn map<'a, U>(
        &'a self,
        on_use: bool,
        to: &mut impl FnMut(Listed<'a, T>) -> U,
    ) -> StateErrors<U> {
        let slots = match self.composition {
            Composition::EachBit => self.bits,
            Composition::EachState => 1 << self.bits,
        };
        let [phase, gain] = self.composition.keys();
        let errors = |key, tolerance| Listed { slots, on_use, ..Listed::one(key, tolerance) };
        StateErrors {
            composition: self.composition,
            bits: self.bits,
            phase: to(errors(phase, &self.phase)),
            gain: to(errors(gain, &self.gain)),
        }
    }
}

impl StateErrors {
    /// How the errors are composed.
    pub(super) fn composition(&self) -> Composition {
        self.composition
    }

    /// True where state 0 has an error: with one for each bit no bit is on there.
    pub(super) fn shows_state_0(&self) -> bool {
        self.composition == Composition::EachState && !(self.phase.is_zero() && self.gain.is_zero())
    }

    /// Draws the errors of the states that some channel of some unit stands at.
    pub(super) fn need<const W: usize>(&self, codes: &[[Code; W]], sources: &Sources, draws: &mut Draws<W>) {
        let mut need = |slot| {
            sources.need(&self.phase, slot, draws);
            sources.need(&self.gain, slot, draws);
        };
        match self.composition {
            Composition::EachBit => {
                let on = codes.as_flattened().iter().fold(0, |on, code| on | code);
                (0..self.bits).filter(|bit| on >> bit & 1 == 1).for_each(&mut need);
            }
            Composition::EachState => codes.as_flattened().iter().for_each(|code| need(*code as usize)),
        }
    }

    /// Gain error of one bit or state of one channel, dB: a common part, and one for each lane.
    #[inline(always)]
    pub(super) fn gain_at<'a, const W: usize>(
        &self,
        draws: &'a Draws<W>,
        channel: usize,
        slot: usize,
    ) -> (f32, &'a [f32; W]) {
        (self.gain.nominal as f32, self.gain.deviation_at(draws, slot, channel))
    }

    /// The same of the phase, rad.
    #[inline(always)]
    pub(super) fn phase_at<'a, const W: usize>(
        &self,
        draws: &'a Draws<W>,
        channel: usize,
        slot: usize,
    ) -> (f32, &'a [f32; W]) {
        (self.phase.nominal as f32, self.phase.deviation_at(draws, slot, channel))
    }

    /// Adds the errors of the states that channels from `first` on stand at: nepers, rad, `[channel][lane]`.
    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        draws: &Draws<W>,
        first: usize,
        codes: &[[Code; W]],
        gain: &mut [[f32; W]],
        phase: &mut [[f32; W]],
    ) {
        match self.composition {
            Composition::EachBit => {
                // The highest bit that is on somewhere; those above add nothing.
                let on = codes.as_flattened().iter().fold(0, |on, code| on | code);
                let bits = (Code::BITS - on.leading_zeros()) as usize;
                add_bits(&self.gain, SINGLE_NEPERS_A_DB, draws, bits, first, codes, gain);
                add_bits(&self.phase, 1.0, draws, bits, first, codes, phase);
            }
            Composition::EachState => {
                for (channel, code) in codes.iter().enumerate() {
                    for l in 0..W {
                        let state = code[l] as usize;
                        let db = self.gain_at(draws, first + channel, state);
                        let turn = self.phase_at(draws, first + channel, state);
                        gain[channel][l] += SINGLE_NEPERS_A_DB * (db.0 + db.1[l]);
                        phase[channel][l] += turn.0 + turn.1[l];
                    }
                }
            }
        }
    }
}

/// Adds the errors of the lowest `bits` bits times `scale`, each where its bit is on.
#[inline(always)]
fn add_bits<const W: usize>(
    error: &Value,
    scale: f32,
    draws: &Draws<W>,
    bits: usize,
    first: usize,
    codes: &[[Code; W]],
    sum: &mut [[f32; W]],
) {
    if error.is_zero() {
        return;
    }
    let nominal = error.nominal as f32;
    let few = |bit| Few { bit, scale, nominal, codes: codes.as_flattened() };
    let rows = |bit| {
        let rows = if bit < bits { error.deviations(draws, bit, first..first + codes.len()) } else { None };
        rows.map(<[_]>::as_flattened)
    };
    let mut bit = 0;
    while bit < bits {
        match (rows(bit), rows(bit + 1), rows(bit + 2)) {
            (Some(a), Some(b), Some(c)) => {
                few(bit).add([a, b, c], sum.as_flattened_mut());
                bit += 3;
            }
            (Some(a), ..) => {
                few(bit).add([a], sum.as_flattened_mut());
                bit += 1;
            }
            (None, ..) => {
                for (channel, (sum, codes)) in sum.iter_mut().zip(codes).enumerate() {
                    let deviation = error.deviation_at(draws, bit, first + channel);
                    Few { codes, ..few(bit) }.add([deviation], sum);
                }
                bit += 1;
            }
        }
    }
}

/// A few neighbouring bits of many codes.
struct Few<'a> {
    /// The lowest bit.
    bit: usize,
    scale: f32,
    nominal: f32,
    codes: &'a [Code],
}

impl Few<'_> {
    /// Adds the errors of N bits in one flat loop, which is what a compiler makes the most of.
    #[inline(always)]
    fn add<const N: usize>(&self, deviations: [&[f32]; N], sum: &mut [f32]) {
        let count = sum.len();
        let codes = &self.codes[..count];
        let deviations = deviations.map(|row| &row[..count]);
        for i in 0..count {
            let mut total = sum[i];
            for n in 0..N {
                let is_on = (codes[i] >> (self.bit + n)) & 1 == 1;
                let error = self.scale * (self.nominal + deviations[n][i]);
                total += if is_on { error } else { 0.0 };
            }
            sum[i] = total;
        }
    }
}

pub(super) const SINGLE_NEPERS_A_DB: f32 = NEPERS_A_DB as f32;
