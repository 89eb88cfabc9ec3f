//! A digital phase shifter.

use crate::chain::state_table::Step;
use crate::chain::states::{Composition, SINGLE_NEPERS_A_DB};
use crate::chain::stepped::{self, Stepped};
use crate::chain::vector_sum;
use crate::chain::{Code, Conditions, Listed, NEPERS_A_DB, Roles, VectorSum};
use crate::inspection::read_tolerance;
use crate::io::{Check, Count, Dimension, Findings, Key, Nested, Optional, Table, keys, quantity};
use crate::math::{Complex, Lanes, TAU, single};
use crate::random::{Draws, Tolerance, Toleranced, Value};

/// Most bits a stepped block can have.
pub(crate) const MOST_BITS: u64 = 12;

/// A phase shifter of `bits` bits over a full turn.
///
/// Formula: state m has phase m 2 pi/2^bits plus its error, and gain by its error alone; `loss` is common to
/// all states. The error is that of bits or states, of a measured table ([`StateTable`](crate::chain::StateTable)), or of a vector sum ([`VectorSum`]).
/// Units: rad, dB. Source: common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PhaseShifter<T = Value> {
    bits: usize,
    loss: T,
    pub(super) stepped: Stepped<T>,
    /// Code it is left at; `None` when the bench and the beam step it.
    pub stands_at: Option<Code>,
}

keys! {
    pub(super) KEYS: "A digital phase shifter", with stepped::KEYS;
    BITS: Count =
        Key::count("bits", 1..=MOST_BITS, "6", "Number of bits over a full turn").bounding();
    LOSS: Toleranced =
        Key::tolerance("loss", Dimension::Level, Check::NonNegative, "6 dB", "Loss common to all states").or_exactly(0.0);
    STANDS_AT: Optional<Count> =
        Key::count("stands_at", 0..=(1 << MOST_BITS) - 1, "5",
            "Code that it is left at; where it is left out, the bench and the beam step it").optional();
    pub(super) VECTOR_SUM: Nested =
        Key::table("vector_sum", &vector_sum::KEYS, "{ dac_bits = 7 }");
}

impl PhaseShifter<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "phase_shifter";

    pub(super) fn read(table: &Table) -> PhaseShifter<Tolerance> {
        let bits = table.read(&BITS) as usize;
        PhaseShifter {
            bits,
            loss: read_tolerance(table, &LOSS),
            stepped: Stepped { vector_sum: VectorSum::read(table, 1 << bits), ..Stepped::read(table, bits) },
            stands_at: table.read(&STANDS_AT.up_to((1 << bits) - 1)).map(|code| code as Code),
        }
    }
}

impl<T> PhaseShifter<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> PhaseShifter<U> {
        PhaseShifter {
            bits: self.bits,
            loss: to(Listed::one(&LOSS, &self.loss)),
            stepped: self.stepped.map(false, to),
            stands_at: self.stands_at,
        }
    }

    /// Number of states.
    pub(crate) fn states(&self) -> usize {
        1 << self.bits
    }

    /// Phase between neighbouring codes, rad.
    pub(crate) fn step(&self) -> f64 {
        TAU / self.states() as f64
    }

    /// What one code more does.
    fn one_code(&self) -> Step {
        Step { gain_db: 0.0, phase: self.step() }
    }
}

impl<T> Roles<T> for PhaseShifter<T> {
    fn stepped_in_phase(&self) -> Option<&PhaseShifter<T>> {
        self.stands_at.is_none().then_some(self)
    }

    fn may_stick(&self) -> bool {
        self.stepped.stuck.is_some()
    }

    fn words(&self) -> Option<String> {
        let step = quantity::format(self.step(), Dimension::Angle);
        Some(self.stepped.words(self.bits, &step, self.stands_at))
    }

    fn prepare(&mut self, frequencies: &[f64], findings: &Findings) {
        self.stepped.prepare(frequencies, self.one_code(), findings);
    }
}

impl PhaseShifter {
    /// True where code 0 does something of its own.
    pub(super) fn shows_code_0(&self) -> bool {
        self.stepped.shows_code_0()
    }

    /// Adds how far the states are off nominal, code times [`PhaseShifter::step`], that channels from `first` on are
    /// commanded to: nepers, rad, `[channel][lane]`.
    #[inline(always)]
    pub(crate) fn add_states<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        first: usize,
        codes: &[[Code; W]],
        gain: &mut [[f32; W]],
        phase: &mut [[f32; W]],
    ) {
        self.stepped.add(self.one_code(), at, draws, first, codes, gain, phase);
    }

    /// True where its states are those of a measured table, which depend on the frequency.
    pub(crate) fn is_measured(&self) -> bool {
        self.stepped.measured.is_some()
    }

    pub(super) fn nominal_gain_db(&self, _: &Conditions) -> f64 {
        -self.loss.nominal
    }

    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        gain: &mut [[f64; W]],
        phase: &mut [[f64; W]],
    ) {
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase).enumerate() {
            let loss = self.loss.at(draws, 0, channel);
            for l in 0..W {
                gain[l] -= NEPERS_A_DB * (loss[l] - self.loss.nominal);
            }
            if let Some(code) = self.stands_at {
                self.stepped.add_standing(self.one_code(), at, draws, channel, code, gain, phase);
            }
        }
    }

    /// Room for the states of one channel.
    pub(crate) fn room<const W: usize>(&self) -> States<W> {
        let one = Complex { re: Lanes([1.0; W]), im: Lanes::ZERO };
        let Stepped { errors, measured, vector_sum, .. } = &self.stepped;
        let is_product =
            errors.composition() == Composition::EachBit && measured.is_none() && vector_sum.is_none();
        let low_bits = if is_product { self.bits.min(LOW_BITS) } else { 0 };
        States {
            high: vec![one; 1 << (self.bits - low_bits)],
            low: vec![one; 1 << low_bits],
            bits: vec![one; self.bits],
        }
    }

    /// The complex gain of every state of one channel.
    ///
    /// With an error for each bit a state is the product of its bits, so tables double bit by bit: one complex
    /// product a state in place of a sine and a cosine, and one more that joins high and low bits.
    #[inline(always)]
    pub(crate) fn states_of<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        channel: usize,
        states: &mut States<W>,
    ) {
        self.sound_states_of(at, draws, channel, states);
        if let Some(stuck) = &self.stepped.stuck {
            stuck.force(draws, channel, &mut states.low, &mut states.high);
        }
    }

    /// The same where no bit is stuck.
    #[inline(always)]
    fn sound_states_of<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        channel: usize,
        states: &mut States<W>,
    ) {
        if let Some(vector_sum) = &self.stepped.vector_sum {
            vector_sum.states_of(draws, channel, &mut states.high);
            return;
        }
        match self.stepped.errors.composition() {
            Composition::EachBit => {
                // A stuck bit of the last channel has left another number there.
                let one = Complex { re: Lanes([1.0; W]), im: Lanes::ZERO };
                (states.low[0], states.high[0]) = (one, one);
                for (bit, factor) in states.bits.iter_mut().enumerate() {
                    self.factor(draws, channel, bit, f64::from(1u32 << bit), factor);
                }
                let low_bits = states.low.len().trailing_zeros() as usize;
                let (low, high) = states.bits.split_at(low_bits);
                multiply_out(low, &mut states.low);
                multiply_out(high, &mut states.high);
            }
            Composition::EachState => {
                for (state, factor) in states.high.iter_mut().enumerate() {
                    self.factor(draws, channel, state, state as f64, factor);
                }
            }
        }
        if let Some(measured) = self.stepped.measured_at(at) {
            // State 0 stays as it is: it is what the others are measured against.
            for (state, factor) in states.high.iter_mut().zip(&measured.factor) {
                *state = state.times(*factor);
            }
        }
    }

    /// The complex gain of one bit or state that turns the phase by `steps`.
    #[inline(always)]
    fn factor<const W: usize>(
        &self,
        draws: &Draws<W>,
        channel: usize,
        slot: usize,
        steps: f64,
        factor: &mut Complex<W>,
    ) {
        let (common_db, db) = self.stepped.errors.gain_at(draws, channel, slot);
        let (common_turn, turn) = self.stepped.errors.phase_at(draws, channel, slot);
        let common_turn = common_turn + (steps * self.step()) as f32;
        for l in 0..W {
            let size = single::exp(SINGLE_NEPERS_A_DB * (common_db + db[l]));
            (factor.re.0[l], factor.im.0[l]) = single::polar(size, common_turn + turn[l]);
        }
    }
}

/// Bits of a state that are tabled apart from the rest.
const LOW_BITS: usize = 2;

/// Complex gain of every state of one channel: state m is `high[m / low.len()]` times `low[m % low.len()]`.
#[derive(Clone, Debug, Default)]
pub(crate) struct States<const W: usize> {
    /// Products of the high bits.
    pub high: Vec<Complex<W>>,
    /// Products of the low bits.
    pub low: Vec<Complex<W>>,
    /// The bits.
    bits: Vec<Complex<W>>,
}

/// Fills a table whose first entry is 1 with the products of factors, two factors at a time.
#[inline(always)]
fn multiply_out<const W: usize>(factors: &[Complex<W>], table: &mut [Complex<W>]) {
    let mut filled = 1;
    for pair in factors.chunks(2) {
        let (done, rest) = table.split_at_mut(filled);
        let (once, rest) = rest.split_at_mut(filled);
        if let [first, second] = *pair {
            let (twice, both) = rest.split_at_mut(filled);
            for (((from, once), twice), both) in done.iter().zip(once).zip(twice).zip(both) {
                let product = *from * first;
                *once = product;
                *twice = *from * second;
                *both = product * second;
            }
        } else {
            for (from, to) in done.iter().zip(once) {
                *to = *from * pair[0];
            }
        }
        filled <<= pair.len();
    }
}
