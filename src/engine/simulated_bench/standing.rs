//! Channels as they stand: what their states do, and what the amplifiers that compress make of it.

use super::{SimulatedBench, polar};
use crate::bench::Code;
use crate::chain::{Conditions, PhaseShifter};
use crate::engine::compression::{Compressor, Inputs, Stepped, compress_all, over};
use crate::engine::pair::Units;
use crate::math::{Complex, single};
use crate::random::Draws;
use multiversion::multiversion;

impl<const W: usize> SimulatedBench<'_, W> {
    /// Gain of every channel with everything as it stands, nepers over nominal.
    pub(super) fn gains_as_they_stand(&self) -> Vec<[f32; W]> {
        let mut gain = self.room.set.gain.clone();
        if self.room.standing.is_empty() && self.compressor.is_none() {
            return gain;
        }
        let mut phase = vec![[0.0; W]; gain.len()];
        if !self.room.standing.is_empty() {
            let shifter = self.model.chain.shifter();
            let (at, codes) = (&self.view().at, &self.room.standing);
            shifter.add_states(at, self.draws, 0, codes, &mut gain, &mut phase);
        }
        if let Some(compressor) = &self.compressor {
            let (built, inputs) = (&self.seen[self.view].gain, &self.inputs[self.view]);
            compress_all(compressor, inputs, self.draws, built, &self.room.set.gain, &mut gain, &mut phase);
        }
        gain
    }

    /// Complex amplitude of a channel, its shifter at a code.
    pub(super) fn at_code(&self, channel: usize, code: Code) -> Complex<W> {
        let [gain, phase] = self.state(channel, code);
        self.room.amplitude[channel] * polar(&gain, &phase)
    }

    /// What a channel's shifter does at a code: nepers, rad.
    pub(super) fn state(&self, channel: usize, code: Code) -> [[f32; W]; 2] {
        let [gain, phase] = self.deviation(channel, &[code; W]);
        let turn = (self.model.chain.shifter().step() * f64::from(code)) as f32;
        [gain, phase.map(|phase| phase + turn)]
    }

    /// How far a channel's shifter is off nominal at a code for each lane, and what compresses then: nepers, rad.
    pub(super) fn deviation(&self, channel: usize, codes: &[Code; W]) -> [[f32; W]; 2] {
        let shifter = self.model.chain.shifter();
        let (mut gain, mut phase) = ([[0.0; W]], [[0.0; W]]);
        shifter.add_states(&self.view().at, self.draws, channel, &[*codes], &mut gain, &mut phase);
        let (mut gain, mut phase) = (gain[0], phase[0]);
        if let Some(compressor) = &self.compressor {
            self.compress(compressor, channel, &gain.clone(), &mut gain, &mut phase);
        }
        [gain, phase]
    }

    /// Adds the compression of a channel whose shifter adds a gain where it stands: nepers, rad.
    pub(super) fn compress(
        &self,
        compressor: &Compressor,
        channel: usize,
        shifter: &[f32; W],
        gain: &mut [f32; W],
        phase: &mut [f32; W],
    ) {
        let attenuator = over(&self.room.set.gain[channel], &self.seen[self.view].gain[channel]);
        let stepped = Stepped { attenuator: &attenuator, shifter };
        compressor.add(&self.inputs[self.view], self.draws, channel, stepped, gain, phase);
    }

    /// Joins a signal with a channel whose shifter is stepped, given by its amplitude with the shifter at code 0 but for its
    /// state.
    pub(super) fn join_signals(&mut self, reference: &Complex<W>, channel: usize, amplitude: &Complex<W>) {
        let shifter = self.model.chain.shifter();
        let Some(compressor) = &self.compressor else {
            let at = &self.model.views[self.view].at;
            let model = std::ptr::from_ref(self.model) as usize;
            let units = Units { model, view: self.view, first_trial: self.first_trial };
            self.room.power.join(units, shifter, at, self.draws, channel, reference, amplitude);
            return self.hear();
        };
        // What an amplifier makes of a state depends on all that drives it, so states are no factors any more.
        let attenuator = over(&self.room.set.gain[channel], &self.seen[self.view].gain[channel]);
        let drive = Drive { compressor, inputs: &self.inputs[self.view], attenuator: &attenuator };
        let (at, draws) = (&self.model.views[self.view].at, &*self.draws);
        self.room.power.join_signals(reference, |signals| {
            of_states(shifter, at, draws, channel, drive, amplitude, signals);
        });
        self.hear();
    }

    /// Listens to what is joined.
    pub(super) fn hear(&mut self) {
        let noise = self.noise();
        self.room.power.hear(&self.meter, noise);
    }
}

/// What drives the amplifiers of a channel but for its shifter.
#[derive(Clone, Copy)]
struct Drive<'a, const W: usize> {
    compressor: &'a Compressor<'a>,
    inputs: &'a Inputs<W>,
    attenuator: &'a [f32; W],
}

/// An amplitude behind every state of a channel's shifter, as [`SimulatedBench::state`] has it.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn of_states<const W: usize>(
    shifter: &PhaseShifter,
    at: &Conditions,
    draws: &Draws<W>,
    channel: usize,
    drive: Drive<W>,
    amplitude: &Complex<W>,
    signals: &mut [Complex<W>],
) {
    for (code, signal) in (0..).zip(signals) {
        let (mut gain, mut phase) = ([[0.0; W]], [[0.0; W]]);
        shifter.add_states(at, draws, channel, &[[code; W]], &mut gain, &mut phase);
        let ([mut gain], [mut phase]) = (gain, phase);
        let stepped = Stepped { attenuator: drive.attenuator, shifter: &gain.clone() };
        drive.compressor.add(drive.inputs, draws, channel, stepped, &mut gain, &mut phase);
        let turn = (shifter.step() * f64::from(code)) as f32;
        let mut state = Complex::ZERO;
        for l in 0..W {
            (state.re.0[l], state.im.0[l]) = single::polar(single::exp(gain[l]), phase[l] + turn);
        }
        *signal = *amplitude * state;
    }
}
