//! The simulated bench: readings of units that exist as numbers.

use crate::bench::{Code, Desk, Fixture, Meter};
use crate::chain::NEPERS_A_DB;
use crate::engine::channels::Channels;
use crate::engine::pair::{Noise, Pair};
use crate::math::{Complex, single};
use crate::plan::Plan;
use crate::random::{Draws, Tolerance, draw};
use multiversion::multiversion;

/// Room for a desk's readings.
#[derive(Clone, Debug)]
pub(super) struct DeskRoom<const W: usize> {
    /// Channels with their attenuators set, shifters at code 0 but for its error.
    set: Channels<W>,
    /// The same as complex amplitudes with the taper, behind a combiner that halves the power, `[channel]`.
    amplitude: Vec<Complex<W>>,
    deviates: Vec<[f32; W]>,
    /// The reference of the last pair, and its amplitude with its shifter at code 0.
    reference: Option<(usize, Complex<W>)>,
    pair: Pair<W>,
    stepped: u32,
}

impl<const W: usize> DeskRoom<W> {
    pub fn new(plan: &Plan) -> DeskRoom<W> {
        let channels = plan.channels();
        DeskRoom {
            set: Channels::new(channels),
            amplitude: vec![Complex::ZERO; channels],
            deviates: vec![[0.0; W]; channels],
            reference: None,
            pair: Pair::new(plan.chain.shifter()),
            stepped: 0,
        }
    }
}

/// A bench with W simulated units on it.
pub(super) struct SimulatedDesk<'a, const W: usize> {
    pub plan: &'a Plan,
    pub meter: Meter,
    pub first_trial: u64,
    pub draws: &'a mut Draws<W>,
    pub at_bench: &'a Channels<W>,
    pub room: &'a mut DeskRoom<W>,
}

impl<const W: usize> Desk<W> for SimulatedDesk<'_, W> {
    fn read_alone(&mut self, readings: &mut [[f32; W]]) {
        let deviates = &mut self.room.deviates;
        if self.meter.is_noisy {
            draw::normals(self.plan.noise_alone, self.first_trial, 0, 1.0, deviates);
        }
        let read = if self.meter.is_thermal { read_alone::<W, true> } else { read_alone::<W, false> };
        read(self.plan, &self.meter, self.draws, &self.at_bench.gain, deviates, readings);
    }

    fn set_attenuators(&mut self, codes: &[[Code; W]]) {
        let attenuator = self.plan.chain.attenuator();
        if let Some(attenuator) = attenuator {
            attenuator.need(codes, &self.plan.sources, self.draws);
        }
        let room = &mut *self.room;
        room.set.attenuate(self.at_bench, attenuator, self.draws, codes);
        amplitudes(&room.set, &self.plan.array.amplitude, &mut room.amplitude);
        room.reference = None;
    }

    fn join(&mut self, reference: usize, stepped: usize) {
        let plan = self.plan;
        let reference = match self.room.reference {
            Some((channel, amplitude)) if channel == reference => amplitude,
            _ => {
                let amplitude = self.at_code_0(reference);
                self.room.reference = Some((reference, amplitude));
                amplitude
            }
        };
        let mut amplitude = self.room.amplitude[stepped];
        if !plan.fixture.is_ideal() {
            amplitude = amplitude * stepped_arm(&plan.fixture, self.draws, stepped);
        }
        self.room.stepped = stepped as u32;
        self.room.pair.join(plan.chain.shifter(), self.draws, stepped, &reference, &amplitude);
    }

    fn read(&mut self, code: Code) -> [f32; W] {
        let noise = self.noise();
        self.room.pair.read(code, &self.meter, noise)
    }

    fn sweep(&mut self, codes: &[Code], readings: &mut [[f32; W]]) {
        if codes.len() == self.plan.chain.shifter().states() {
            let noise = self.noise();
            readings.copy_from_slice(self.room.pair.read_all(&self.meter, noise));
        } else {
            for (code, reading) in codes.iter().zip(readings) {
                *reading = self.read(*code);
            }
        }
    }

    fn highest(&mut self, _: usize) -> [Code; W] {
        let noise = self.noise();
        self.room.pair.highest(&self.meter, noise)
    }

    fn lowest(&mut self, _: usize) -> [Code; W] {
        let noise = self.noise();
        self.room.pair.lowest(&self.meter, noise)
    }
}

impl<const W: usize> SimulatedDesk<'_, W> {
    fn noise(&self) -> Noise {
        Noise { key: self.plan.noise_pair, first_trial: self.first_trial, slot: self.room.stepped }
    }

    /// Complex amplitude of a channel, its shifter at code 0.
    fn at_code_0(&self, channel: usize) -> Complex<W> {
        let (mut gain, mut phase) = ([[0.0; W]], [[0.0; W]]);
        self.plan.chain.shifter().errors().add(self.draws, channel, &[[0; W]], &mut gain, &mut phase);
        self.room.amplitude[channel] * polar(&gain[0], &phase[0])
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn read_alone<const W: usize, const THERMAL: bool>(
    plan: &Plan,
    meter: &Meter,
    draws: &Draws<W>,
    gain: &[[f32; W]],
    deviates: &[[f32; W]],
    readings: &mut [[f32; W]],
) {
    let reconnection = &plan.fixture.reconnection_gain;
    for (channel, reading) in readings.iter_mut().enumerate() {
        let common = (plan.hardware.nominal_db[channel] + reconnection.nominal) as f32;
        let moved = reconnection.deviation_at(draws, Fixture::WHILE_LEVELLING, channel);
        let (gain, deviates) = (&gain[channel], &deviates[channel]);
        for l in 0..W {
            let level = gain[l] + NEPERS_A_DB as f32 * (common + moved[l]);
            let deviate = if meter.is_noisy { deviates[l] } else { 0.0 };
            reading[l] = meter.read::<THERMAL>(single::exp(2.0 * level), deviate);
        }
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn amplitudes<const W: usize>(channels: &Channels<W>, taper: &[f64], amplitude: &mut [Complex<W>]) {
    let channels = channels.gain.iter().zip(&channels.phase);
    for (((gain, phase), taper), amplitude) in channels.zip(taper).zip(amplitude) {
        let half = (std::f64::consts::FRAC_1_SQRT_2 * taper) as f32;
        for l in 0..W {
            let size = half * single::exp(gain[l]);
            (amplitude.re.0[l], amplitude.im.0[l]) = single::polar(size, phase[l]);
        }
    }
}

/// What the fixture does to the stepped channel over the reference: imbalance and reconnection.
fn stepped_arm<const W: usize>(fixture: &Fixture, draws: &Draws<W>, channel: usize) -> Complex<W> {
    let sum = |[imbalance, reconnection]: [&Tolerance; 2]| -> [f32; W] {
        let common = (imbalance.nominal + reconnection.nominal) as f32;
        let of_coupler = imbalance.deviation_at(draws, 0, channel);
        let moved = reconnection.deviation_at(draws, Fixture::WHILE_ALIGNING, channel);
        std::array::from_fn(|l| common + (of_coupler[l] + moved[l]))
    };
    let db = sum([&fixture.gain_imbalance, &fixture.reconnection_gain]);
    let phase = sum([&fixture.phase_imbalance, &fixture.reconnection_phase]);
    polar(&db.map(|db| NEPERS_A_DB as f32 * db), &phase)
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn polar<const W: usize>(gain: &[f32; W], phase: &[f32; W]) -> Complex<W> {
    let mut phasor = Complex::ZERO;
    for l in 0..W {
        (phasor.re.0[l], phasor.im.0[l]) = single::polar(single::exp(gain[l]), phase[l]);
    }
    phasor
}
