//! Channels as they stand: what their states do, and what the amplifiers that compress make of it.

use super::{SimulatedBench, polar};
use crate::bench::Code;
use crate::engine::compression::{Compressor, Stepped, over};
use crate::math::Complex;

impl<const W: usize> SimulatedBench<'_, W> {
    /// Gain of every channel with everything as it stands, nepers over nominal.
    pub(super) fn gains_as_they_stand(&self) -> Vec<[f32; W]> {
        let mut gain = self.room.set.gain.clone();
        if !self.room.standing.is_empty() {
            let mut phase = vec![[0.0; W]; gain.len()];
            let shifter = self.model.chain.shifter();
            let (at, codes) = (&self.view().at, &self.room.standing);
            shifter.add_states(at, self.draws, 0, codes, &mut gain, &mut phase);
        }
        if let Some(compressor) = &self.compressor {
            for (channel, gain) in gain.iter_mut().enumerate() {
                let shifter = over(gain, &self.room.set.gain[channel]);
                self.compress(compressor, channel, &shifter, gain, &mut [0.0; W]);
            }
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
        self.hear();
        let shifter = self.model.chain.shifter();
        if self.compressor.is_none() {
            let at = &self.model.views[self.view].at;
            self.room.power.join(shifter, at, self.draws, channel, reference, amplitude);
            return;
        }
        // What an amplifier makes of a state depends on all that drives it, so states are no factors any more.
        let signals = (0..shifter.states() as Code).map(|code| {
            let [gain, phase] = self.state(channel, code);
            *amplitude * polar(&gain, &phase)
        });
        let signals: Vec<Complex<W>> = signals.collect();
        self.room.power.join_signals(reference, signals);
    }

    /// Listens to what is joined.
    pub(super) fn hear(&mut self) {
        let noise = self.noise();
        self.room.power.hear(&self.meter, noise);
    }
}
