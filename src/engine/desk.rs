//! The simulated bench: readings of units that exist as numbers.

use crate::bench::{Code, Desk, Fixture, Receiver};
use crate::chain::NEPERS_A_DB;
use crate::engine::batch::Channels;
use crate::math::slice;
use crate::plan::Plan;
use crate::random::{Draws, draw};
use multiversion::multiversion;

/// Room for a desk's readings.
#[derive(Clone, Debug)]
pub(super) struct DeskRoom<const W: usize> {
    /// Channels with their attenuators set, shifters at code 0 but for its error.
    set: Channels<W>,
    /// The same as complex amplitudes with the taper, `[channel][lane]`.
    re: Vec<[f64; W]>,
    im: Vec<[f64; W]>,
    /// Gain of the stepped shifter's states, `[state][lane]`.
    state_re: Vec<[f64; W]>,
    state_im: Vec<[f64; W]>,
    /// Power of the joined pair at every state, `[state][lane]`.
    power: Vec<[f64; W]>,
    deviates: Vec<[f64; W]>,
    pair: u32,
}

impl<const W: usize> DeskRoom<W> {
    pub fn new(channels: usize, states: usize) -> DeskRoom<W> {
        DeskRoom {
            set: Channels::new(channels),
            re: vec![[0.0; W]; channels],
            im: vec![[0.0; W]; channels],
            state_re: vec![[0.0; W]; states],
            state_im: vec![[0.0; W]; states],
            power: vec![[0.0; W]; states],
            deviates: vec![[0.0; W]; states.max(channels)],
            pair: 0,
        }
    }
}

/// A bench with W simulated units on it.
pub(super) struct SimulatedDesk<'a, const W: usize> {
    pub plan: &'a Plan,
    pub receiver: Receiver,
    pub first_trial: u64,
    pub draws: &'a Draws<W>,
    pub at_bench: &'a Channels<W>,
    pub room: &'a mut DeskRoom<W>,
}

impl<const W: usize> Desk<W> for SimulatedDesk<'_, W> {
    fn read_alone(&mut self, readings: &mut [[f64; W]]) {
        let fixture = &self.plan.fixture;
        for (channel, level) in readings.iter_mut().enumerate() {
            let reconnection = fixture.reconnection_gain.at(self.draws, Fixture::WHILE_LEVELLING, channel);
            let taper = self.plan.hardware.nominal_db[channel];
            for l in 0..W {
                let gain = self.at_bench.gain[channel][l] + NEPERS_A_DB * (reconnection[l] + taper);
                level[l] = 2.0 * gain;
            }
        }
        slice::exp(readings.as_flattened_mut());
        let deviates = &mut self.room.deviates[..readings.len()];
        if self.receiver.is_noisy() {
            draw::fill::<W>(self.plan.noise_alone, self.first_trial, 0, deviates.as_flattened_mut());
            slice::normal_quantile(deviates.as_flattened_mut());
        }
        self.receiver.display(readings.as_flattened_mut(), deviates.as_flattened());
    }

    fn set_attenuators(&mut self, codes: &[[Code; W]]) {
        let DeskRoom { set, re, im, .. } = &mut *self.room;
        set.gain.copy_from_slice(&self.at_bench.gain);
        set.phase.copy_from_slice(&self.at_bench.phase);
        if let Some(attenuator) = self.plan.chain.attenuator() {
            for (channel, codes) in codes.iter().enumerate() {
                attenuator.set(self.draws, channel, codes, &mut set.gain[channel], &mut set.phase[channel]);
            }
        }
        let (gain, phase) = (set.gain.as_flattened(), set.phase.as_flattened());
        slice::polar(gain, phase, re.as_flattened_mut(), im.as_flattened_mut());
        for ((re, im), amplitude) in re.iter_mut().zip(im).zip(&self.plan.array.amplitude) {
            re.iter_mut().chain(im).for_each(|part| *part *= amplitude);
        }
    }

    fn join(&mut self, reference: usize, stepped: usize) {
        let fixture = &self.plan.fixture;
        let shifter = self.plan.chain.shifter();
        let (reference_re, reference_im) = self.reference(reference);
        let arm = self.stepped_arm(fixture, stepped);
        let room = &mut *self.room;
        room.pair = stepped as u32;
        let (state_re, state_im) = (room.state_re.as_flattened_mut(), room.state_im.as_flattened_mut());
        shifter.table::<W>(self.draws, stepped, state_re, state_im);
        let (re, im) = (&room.re[stepped], &room.im[stepped]);
        let channel_re = std::array::from_fn(|l| re[l] * arm.0[l] - im[l] * arm.1[l]);
        let channel_im = std::array::from_fn(|l| re[l] * arm.1[l] + im[l] * arm.0[l]);
        combine(
            (&reference_re, &reference_im),
            (&channel_re, &channel_im),
            (&room.state_re, &room.state_im),
            &mut room.power,
        );
    }

    fn sweep(&mut self, codes: &[Code], readings: &mut [[f64; W]]) {
        let room = &mut *self.room;
        let deviates = &mut room.deviates[..codes.len()];
        for (code, reading) in codes.iter().zip(&mut *readings) {
            *reading = room.power[*code as usize];
        }
        if self.receiver.is_noisy() {
            let key = self.plan.noise_pair;
            if codes.len() == room.power.len() {
                draw::fill::<W>(key, self.first_trial, room.pair, deviates.as_flattened_mut());
            } else {
                for (code, deviate) in codes.iter().zip(&mut *deviates) {
                    *deviate = draw::at::<W>(key, self.first_trial, [*code; W], room.pair);
                }
            }
            slice::normal_quantile(deviates.as_flattened_mut());
        }
        self.receiver.display(readings.as_flattened_mut(), deviates.as_flattened());
    }

    fn read(&mut self, codes: &[Code; W]) -> [f64; W] {
        let mut reading: [f64; W] = std::array::from_fn(|l| self.room.power[codes[l] as usize][l]);
        let mut deviate = [0.0; W];
        if self.receiver.is_noisy() {
            deviate = draw::at::<W>(self.plan.noise_pair, self.first_trial, *codes, self.room.pair);
            slice::normal_quantile(&mut deviate);
        }
        self.receiver.display(&mut reading, &deviate);
        reading
    }
}

impl<const W: usize> SimulatedDesk<'_, W> {
    /// Complex amplitude of the reference, its shifter at code 0.
    fn reference(&self, channel: usize) -> ([f64; W], [f64; W]) {
        let (mut gain, mut phase) = ([0.0; W], [0.0; W]);
        self.plan.chain.shifter().set(self.draws, channel, &[0; W], &mut gain, &mut phase);
        let (mut re, mut im) = ([0.0; W], [0.0; W]);
        slice::polar(&gain, &phase, &mut re, &mut im);
        let (a, b) = (&self.room.re[channel], &self.room.im[channel]);
        (
            std::array::from_fn(|l| a[l] * re[l] - b[l] * im[l]),
            std::array::from_fn(|l| a[l] * im[l] + b[l] * re[l]),
        )
    }

    /// What the fixture does to the stepped channel over the reference: imbalance and reconnection.
    fn stepped_arm(&self, fixture: &Fixture, channel: usize) -> ([f64; W], [f64; W]) {
        let imbalance = fixture.gain_imbalance.at(self.draws, 0, channel);
        let turn = fixture.phase_imbalance.at(self.draws, 0, channel);
        let gain = fixture.reconnection_gain.at(self.draws, Fixture::WHILE_ALIGNING, channel);
        let phase = fixture.reconnection_phase.at(self.draws, Fixture::WHILE_ALIGNING, channel);
        let gain: [f64; W] = std::array::from_fn(|l| NEPERS_A_DB * (imbalance[l] + gain[l]));
        let phase: [f64; W] = std::array::from_fn(|l| turn[l] + phase[l]);
        let (mut re, mut im) = ([0.0; W], [0.0; W]);
        slice::polar(&gain, &phase, &mut re, &mut im);
        (re, im)
    }
}

/// Power of two signals through an ideal two-way combiner, the second at every state: |a + b s|^2/2.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn combine<const W: usize>(
    a: (&[f64; W], &[f64; W]),
    b: (&[f64; W], &[f64; W]),
    states: (&[[f64; W]], &[[f64; W]]),
    power: &mut [[f64; W]],
) {
    for ((re, im), power) in states.0.iter().zip(states.1).zip(power) {
        for l in 0..W {
            let x = a.0[l] + (b.0[l] * re[l] - b.1[l] * im[l]);
            let y = a.1[l] + (b.0[l] * im[l] + b.1[l] * re[l]);
            power[l] = 0.5 * (x * x + y * y);
        }
    }
}
