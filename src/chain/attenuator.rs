//! A step attenuator.

use crate::chain::state_table::Step;
use crate::chain::stepped::{self, Stepped};
use crate::chain::{Code, Conditions, Listed, NEPERS_A_DB, Roles, phase_shifter::MOST_BITS};
use crate::inspection::read_tolerance;
use crate::io::{Check, Count, Dimension, Findings, Key, Optional, Quantity, Table, keys, quantity};
use crate::random::{Draws, Sources, Tolerance, Toleranced, Value};

/// An attenuator of `bits` bits, `step` dB each code.
///
/// Formula: state m attenuates by m step, plus its gain error, and turns the phase by its incidental phase;
/// `loss` is common to all states. Both errors are those of bits or states, or of a measured table ([`StateTable`](crate::chain::StateTable)). Units: dB,
/// rad. Source: common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Attenuator<T = Value> {
    bits: usize,
    step_db: f64,
    loss: T,
    stepped: Stepped<T>,
    /// Code it is left at; `None` when the bench steps it.
    pub stands_at: Option<Code>,
}

keys! {
    pub(super) KEYS: "A digital attenuator", with stepped::KEYS;
    BITS: Count =
        Key::count("bits", 1..=MOST_BITS, "5", "Number of bits").bounding();
    STEP: Quantity =
        Key::quantity("step", Dimension::Level, Check::Positive, "0.5 dB", "Attenuation of one code");
    LOSS: Toleranced =
        Key::tolerance("loss", Dimension::Level, Check::NonNegative, "2 dB", "Loss common to all states").or_exactly(0.0);
    STANDS_AT: Optional<Count> =
        Key::count("stands_at", 0..=(1 << MOST_BITS) - 1, "5",
            "Code that it is left at; where it is left out, the bench and the taper step it").optional();
}

impl Attenuator<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "attenuator";

    pub(super) fn read(table: &Table) -> Attenuator<Tolerance> {
        let bits = table.read(&BITS) as usize;
        Attenuator {
            bits,
            step_db: table.read(&STEP),
            loss: read_tolerance(table, &LOSS),
            stepped: Stepped::read(table, bits),
            stands_at: table.read(&STANDS_AT.up_to((1 << bits) - 1)).map(|code| code as Code),
        }
    }
}

impl<T> Attenuator<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Attenuator<U> {
        // Most units need few of its states.
        let on_use = self.stands_at.is_none();
        Attenuator {
            bits: self.bits,
            step_db: self.step_db,
            loss: to(Listed::one(&LOSS, &self.loss)),
            stepped: self.stepped.map(on_use, to),
            stands_at: self.stands_at,
        }
    }

    /// Number of states.
    pub(crate) fn states(&self) -> usize {
        1 << self.bits
    }

    /// Attenuation between neighbouring codes, dB.
    pub(crate) fn step_db(&self) -> f64 {
        self.step_db
    }

    /// What one code more does.
    fn one_code(&self) -> Step {
        Step { gain_db: -self.step_db, phase: 0.0 }
    }
}

impl<T> Roles<T> for Attenuator<T> {
    fn stepped_in_level(&self) -> Option<&Attenuator<T>> {
        self.stands_at.is_none().then_some(self)
    }

    fn may_stick(&self) -> bool {
        self.stepped.stuck.is_some()
    }

    fn words(&self) -> Option<String> {
        let step = quantity::format(self.step_db, Dimension::Level);
        Some(self.stepped.words(self.bits, &step, self.stands_at))
    }

    fn prepare(&mut self, frequencies: &[f64], findings: &Findings) {
        self.stepped.prepare(frequencies, self.one_code(), findings);
    }
}

impl Attenuator {
    /// At code 0, or at the code that it is left at.
    pub(super) fn nominal_gain_db(&self, _: &Conditions) -> f64 {
        -self.loss.nominal - self.step_db * f64::from(self.stands_at.unwrap_or(0))
    }

    /// True where code 0 does something of its own.
    pub(super) fn shows_code_0(&self) -> bool {
        self.stepped.shows_code_0()
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

    /// Draws the errors of the states that some channel of some unit stands at; call it before [`Attenuator::set`].
    pub(crate) fn need<const W: usize>(&self, codes: &[[Code; W]], sources: &Sources, draws: &mut Draws<W>) {
        self.stepped.need(codes, sources, draws);
    }

    /// Adds the states that channels from `first` on stand at: nepers, rad, `[channel][lane]`.
    #[inline(always)]
    pub(crate) fn set<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        first: usize,
        codes: &[[Code; W]],
        gain: &mut [[f32; W]],
        phase: &mut [[f32; W]],
    ) {
        let step = (NEPERS_A_DB * self.step_db) as f32;
        for (gain, code) in gain.as_flattened_mut().iter_mut().zip(codes.as_flattened()) {
            // A code has 12 bits, so it is exact as a signed integer and in single precision.
            *gain -= step * (*code as i32 as f32);
        }
        self.stepped.add(self.one_code(), at, draws, first, codes, gain, phase);
    }
}
