//! A digital phase shifter.

use crate::chain::{Code, Conditions, Law, Listed, NEPERS_A_DB, StateErrors};
use crate::io::{Check, Dimension, Table};
use crate::math::{TAU, slice};
use crate::random::{Draws, Tolerance};
use multiversion::multiversion;

/// Most bits a stepped block can have.
pub const MOST_BITS: u64 = 12;

/// A phase shifter of `bits` bits over a full turn.
///
/// Formula: state m has phase m 2 pi/2^bits plus its error, and gain by its error alone; `loss` is common to
/// all states. Units: rad, dB. Source: common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub struct PhaseShifter {
    bits: usize,
    loss: Tolerance,
    errors: StateErrors,
    /// Code it is left at; `None` when the bench and the beam step it.
    pub stands_at: Option<Code>,
}

impl PhaseShifter {
    /// Word for `kind`.
    pub const KIND: &'static str = "phase_shifter";

    pub(super) fn read(table: &Table) -> PhaseShifter {
        let bits = table.bounding_count("bits", 1..=MOST_BITS) as usize;
        PhaseShifter {
            bits,
            loss: Tolerance::read_or(table, "loss", Dimension::Level, Check::NonNegative, 0.0),
            errors: StateErrors::read(table, bits),
            stands_at: table.optional_count("stands_at", 0..=(1 << bits) - 1).map(|code| code as Code),
        }
    }

    pub(super) fn tolerances(&mut self) -> Vec<Listed<'_>> {
        let mut list = vec![Listed::one("loss", &mut self.loss, Dimension::Level)];
        list.extend(self.errors.tolerances());
        list
    }

    /// Bits.
    pub fn bits(&self) -> usize {
        self.bits
    }

    /// Number of states.
    pub fn states(&self) -> usize {
        1 << self.bits
    }

    /// Phase between neighbouring codes, rad.
    pub fn step(&self) -> f64 {
        TAU / self.states() as f64
    }

    /// The errors of its states.
    pub fn errors(&self) -> &StateErrors {
        &self.errors
    }

    pub(super) fn add<const W: usize>(
        &self,
        _: &Conditions,
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
                self.errors.add(draws, channel, &[code; W], gain, phase);
            }
        }
    }

    /// Adds the state each lane stands at: nepers, rad.
    #[inline]
    pub fn set<const W: usize>(
        &self,
        draws: &Draws<W>,
        channel: usize,
        code: &[Code; W],
        gain: &mut [f64; W],
        phase: &mut [f64; W],
    ) {
        let step = self.step();
        for l in 0..W {
            phase[l] += f64::from(code[l]) * step;
        }
        self.errors.add(draws, channel, code, gain, phase);
    }

    /// The complex gain of every state of one channel, `[state][lane]`.
    ///
    /// With an error for each bit a state is the product of its bits, so the table doubles bit by bit: one
    /// complex product a state in place of a sine and a cosine.
    pub fn table<const W: usize>(&self, draws: &Draws<W>, channel: usize, re: &mut [f64], im: &mut [f64]) {
        match self.errors.law() {
            Law::EachBit => {
                re[..W].fill(1.0);
                im[..W].fill(0.0);
                for bit in 0..self.bits {
                    let (gain, mut phase) = self.errors.bit(draws, channel, bit);
                    phase.iter_mut().for_each(|p| *p += f64::from(1u32 << bit) * self.step());
                    let (mut bit_re, mut bit_im) = ([0.0; W], [0.0; W]);
                    slice::polar(&gain, &phase, &mut bit_re, &mut bit_im);
                    double(W << bit, &bit_re, &bit_im, re, im);
                }
            }
            Law::EachState => {
                for state in 0..self.states() {
                    let (mut gain, mut phase) = ([0.0; W], [0.0; W]);
                    self.set(draws, channel, &[state as Code; W], &mut gain, &mut phase);
                    let at = state * W..(state + 1) * W;
                    slice::polar(&gain, &phase, &mut re[at.clone()], &mut im[at]);
                }
            }
        }
    }
}

/// Fills the second half of a table of `2 * half` numbers with the first half times the bit's factor.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn double<const W: usize>(half: usize, bit_re: &[f64; W], bit_im: &[f64; W], re: &mut [f64], im: &mut [f64]) {
    let (low_re, high_re) = re[..2 * half].split_at_mut(half);
    let (low_im, high_im) = im[..2 * half].split_at_mut(half);
    let low = low_re.as_chunks::<W>().0.iter().zip(low_im.as_chunks::<W>().0);
    let high = high_re.as_chunks_mut::<W>().0.iter_mut().zip(high_im.as_chunks_mut::<W>().0);
    for ((a_re, a_im), (b_re, b_im)) in low.zip(high) {
        for l in 0..W {
            b_re[l] = a_re[l] * bit_re[l] - a_im[l] * bit_im[l];
            b_im[l] = a_re[l] * bit_im[l] + a_im[l] * bit_re[l];
        }
    }
}
