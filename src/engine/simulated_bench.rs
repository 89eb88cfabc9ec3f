//! The simulated bench: readings of units that exist as numbers.

mod air;
mod coupler;
mod standing;
mod unsteady;

use crate::bench::{Bench, Code, Meter, Pair, Port, Reconnection, Tabled, Work, outermost};
use crate::chain::NEPERS_A_DB;
use crate::engine::channels::Channels;
use crate::engine::compression::{Compressor, Inputs};
use crate::engine::pair::{Kept, Noise, PairPower};
use crate::math::{Complex, single};
use crate::model::{Model, View};
use crate::random::{Draws, Value, draw};
use air::Air;
use coupler::meets;
use multiversion::multiversion;
use std::collections::HashMap;
use unsteady::Wander;

/// Room for a bench's readings.
#[derive(Clone, Debug)]
pub(super) struct BenchScratch<const W: usize> {
    work: Work<W>,
    /// Channels with their attenuators set, shifters at code 0 but for its error.
    set: Channels<W>,
    /// The same as complex amplitudes with the taper, behind a combiner that halves the power, `[channel]`.
    amplitude: Vec<Complex<W>>,
    deviates: Vec<[f32; W]>,
    /// Codes that the shifters stand at, `[channel]`; empty while all stand at code 0.
    standing: Vec<[Code; W]>,
    /// What is joined.
    joined: Joined,
    /// The lanes that read what is joined.
    takes: [bool; W],
    /// The reference of the last star, and its amplitude with its shifter at code 0.
    reference: Option<(usize, Complex<W>)>,
    /// Amplitudes of the joined pair with both shifters at code 0, what the arms do included.
    arms: [Complex<W>; 2],
    /// The reference's arm with its shifter at each code that it was turned to in this pair.
    turned: HashMap<Code, Complex<W>>,
    power: PairPower<W>,
    air: Air<W>,
    wander: Wander<W>,
}

/// What the receiver listens to.
#[derive(Clone, Copy, Debug)]
enum Joined {
    Pair { pair: Pair, turned: Code },
    Rest { stepped: usize, round: u32 },
}

impl<const W: usize> BenchScratch<W> {
    pub(super) fn new(model: &Model) -> BenchScratch<W> {
        let channels = model.channels();
        let pair = Pair {
            reference: 0,
            stepped: 0,
            is_swapped: false,
            reconnection: Reconnection::Stepped,
            round: 0,
        };
        BenchScratch {
            work: Work::default(),
            set: Channels::new(channels),
            amplitude: vec![Complex::ZERO; channels],
            deviates: vec![[0.0; W]; channels],
            standing: Vec::new(),
            joined: Joined::Pair { pair, turned: 0 },
            takes: [true; W],
            reference: None,
            arms: [Complex::ZERO; 2],
            turned: HashMap::new(),
            power: PairPower::new(model.chain.shifter()),
            air: Air::default(),
            wander: Wander::default(),
        }
    }

    /// Noise that is kept for others to read.
    pub(super) fn kept_noise(&mut self) -> &mut Kept<W> {
        &mut self.power.kept
    }
}

/// What is at hand is not worth finishing: nothing else can fail on a simulated bench.
#[derive(Clone, Copy, Debug)]
pub(super) struct GivenUp;

/// A bench with W simulated units on it.
pub(super) struct SimulatedBench<'a, const W: usize> {
    pub model: &'a Model,
    pub meter: Meter,
    pub averages: u32,
    pub first_trial: u64,
    pub draws: &'a mut Draws<W>,
    /// The units as each view of the model sees them, `[view]`.
    pub seen: &'a [Channels<W>],
    /// What drives their amplifiers, `[view]`.
    pub inputs: &'a [Inputs<W>],
    pub view: usize,
    /// The beam point whose beam the probe stands in; broadside when there is none.
    pub point: Option<usize>,
    /// The amplifiers that compress in front of what is read.
    pub compressor: Option<Compressor<'a>>,
    pub room: &'a mut BenchScratch<W>,
    /// Asked before anything is joined.
    pub should_stop: &'a dyn Fn() -> bool,
}

impl<'a, const W: usize> SimulatedBench<'a, W> {
    /// Clears the bench for a plan's first table.
    pub(super) fn open(&mut self) {
        self.room.work = Work::default();
        self.room.wander = Wander::default();
    }

    fn go_on(&self) -> Result<(), GivenUp> {
        if (self.should_stop)() { Err(GivenUp) } else { Ok(()) }
    }

    fn view(&self) -> &'a View {
        &self.model.views[self.view]
    }

    fn is_steady(&self) -> bool {
        !self.meter.saturates() && self.model.stability.is_ideal()
    }

    /// Whether the pair's tables of all codes may answer.
    fn is_swept_at_once(&self) -> bool {
        self.is_steady() && !self.room.power.is_turned()
    }
}

impl<const W: usize> Tabled<W> for SimulatedBench<'_, W> {
    fn begin(&mut self, view: usize, point: Option<usize>) -> Result<(), GivenUp> {
        (self.view, self.point) = (view, point);
        let View { at, is_whole } = self.view();
        self.compressor = Compressor::new(self.model, at, *is_whole);
        let room = &mut *self.room;
        room.reference = None;
        room.standing.clear();
        room.air.forget();
        room.set.gain.copy_from_slice(&self.seen[view].gain);
        room.set.phase.copy_from_slice(&self.seen[view].phase);
        if self.model.chain.shows_code_0() {
            let zeros = vec![[0; W]; self.model.channels()];
            self.set_attenuators(&zeros)?;
            self.set_shifters(&zeros)?;
        }
        Ok(())
    }
}

impl<const W: usize> Bench<W> for SimulatedBench<'_, W> {
    type Fault = GivenUp;

    fn work(&self) -> &Work<W> {
        &self.room.work
    }

    fn read_alone(
        &mut self,
        round: u32,
        repeat: u32,
        takes: Option<&[[bool; W]]>,
        readings: &mut [[f32; W]],
    ) -> Result<(), GivenUp> {
        let channels = readings.len();
        let takes = |channel: usize| takes.map_or([true; W], |takes| takes[channel]);
        // Each channel's cable is moved just before it is read; a steady receiver does not mind when.
        let moves = u32::from(repeat == 0 && !self.view().is_whole);
        if self.meter.is_noisy {
            let slot = round + repeat * MOST_ROUNDS;
            draw::normals(self.model.noise.alone, self.first_trial, slot, 1.0, &mut self.room.deviates);
        }
        let gain = self.gains_as_they_stand();
        let (nominal, reconnection) = self.connections_alone(round);
        let common: Vec<f32> =
            self.model.hardware.wanted_db.iter().map(|wanted| (wanted + nominal) as f32).collect();
        if self.is_steady() {
            let read = if self.meter.is_thermal { read_alone::<W, true> } else { read_alone::<W, false> };
            read(&self.meter, &common, &reconnection, &gain, &self.room.deviates, readings);
            for channel in 0..channels {
                self.room.work.move_where(&takes(channel), moves);
                self.room.work.count_where(&takes(channel), 1);
            }
        } else {
            for channel in 0..channels {
                self.room.work.move_where(&takes(channel), moves);
                self.room.work.count_where(&takes(channel), 1);
                let db = |l: usize| {
                    gain[channel][l] / SINGLE_NEPERS_A_DB + (common[channel] + reconnection[channel][l])
                };
                let level: [f32; W] = std::array::from_fn(db);
                let deviates = self.room.deviates[channel];
                readings[channel] = self.read_one_alone(&level, &deviates, &takes(channel));
            }
        }
        Ok(())
    }

    fn detect(
        &mut self,
        channel: usize,
        round: u32,
        repeat: u32,
        takes: &[bool; W],
    ) -> Result<[f32; W], GivenUp> {
        let moves = u32::from(repeat == 0 && !self.view().is_whole);
        self.room.work.move_where(takes, moves);
        self.room.work.count_where(takes, 1);
        let mut deviates = [0.0; W];
        if self.meter.is_noisy {
            let slot = channel as u32 + self.model.channels() as u32 * round;
            let (key, group) = (self.model.noise.looked, repeat / 4);
            deviates = draw::normal_block(key, self.first_trial, |_| group, slot)[repeat as usize % 4];
        }
        let gain = self.gains_as_they_stand()[channel];
        let (nominal, reconnection) = self.connection_alone(round, channel);
        let common = (self.model.hardware.wanted_db[channel] + nominal) as f32;
        let level = std::array::from_fn(|l| gain[l] / SINGLE_NEPERS_A_DB + (common + reconnection[l]));
        Ok(self.read_one_alone(&level, &deviates, takes))
    }

    fn set_attenuators(&mut self, codes: &[[Code; W]]) -> Result<(), GivenUp> {
        let attenuator = self.model.chain.attenuator();
        if let Some(attenuator) = attenuator {
            attenuator.need(codes, &self.model.sources, self.draws);
        }
        let room = &mut *self.room;
        let at = &self.model.views[self.view].at;
        room.set.attenuate(&self.seen[self.view], attenuator, at, self.draws, codes);
        amplitudes(&room.set, &self.model.array.amplitude, &mut room.amplitude);
        room.reference = None;
        room.air.forget();
        Ok(())
    }

    fn set_shifters(&mut self, codes: &[[Code; W]]) -> Result<(), GivenUp> {
        self.room.standing.clear();
        self.room.standing.extend_from_slice(codes);
        self.room.air.forget();
        Ok(())
    }

    fn join(&mut self, pair: Pair, takes: &[bool; W]) -> Result<(), GivenUp> {
        self.go_on()?;
        self.room.takes = *takes;
        if !self.view().is_whole {
            self.room.work.move_where(takes, pair.reconnection.cables());
        }
        self.room.joined = Joined::Pair { pair, turned: 0 };
        self.room.arms = self.arms(&pair);
        self.room.turned.clear();
        let [of_reference, of_stepped] = self.room.arms;
        self.join_signals(&of_reference, pair.stepped, &of_stepped);
        Ok(())
    }

    fn set_reference(&mut self, code: Code) -> Result<(), GivenUp> {
        if let Joined::Pair { pair, turned } = &mut self.room.joined {
            *turned = code;
            let channel = pair.reference;
            let reference = (code != 0).then(|| self.turned(channel, code));
            self.room.power.turn(reference);
            self.hear();
        }
        Ok(())
    }

    fn join_all(&mut self, stepped: usize, round: u32, takes: &[bool; W]) -> Result<(), GivenUp> {
        self.go_on()?;
        self.room.takes = *takes;
        self.room.joined = Joined::Rest { stepped, round };
        self.join_air(stepped);
        Ok(())
    }

    fn read_each(&mut self, codes: &[Code; W], takes: &[bool; W]) -> Result<[f32; W], GivenUp> {
        let takes = &self.taken(takes);
        self.room.work.count_where(takes, 1);
        let noise = self.noise();
        if self.is_steady() {
            return Ok(self.room.power.read_each(codes, &self.meter, noise));
        }
        let (level, deviation) = self.room.power.parts(codes, &self.meter, noise);
        Ok(self.show_unsteady(&level, &deviation, takes))
    }

    fn read_toggled(&mut self, row: u32, is_turned: &[bool]) -> Result<Complex<W>, GivenUp> {
        self.go_on()?;
        self.room.work.count(1);
        Ok(self.read_field(row, is_turned))
    }

    fn read(&mut self, code: Code, takes: &[bool; W]) -> Result<[f32; W], GivenUp> {
        if !self.is_steady() {
            return self.read_each(&[code; W], takes);
        }
        self.room.work.count_where(&self.taken(takes), 1);
        let noise = self.noise();
        Ok(self.room.power.read(code, &self.meter, noise))
    }

    fn sweep(&mut self, codes: &[Code], readings: &mut [[f32; W]]) -> Result<(), GivenUp> {
        if self.is_swept_at_once() && codes.len() == self.model.chain.shifter().states() {
            self.room.work.count_where(&self.room.takes, codes.len());
            let noise = self.noise();
            readings.copy_from_slice(self.room.power.read_all(&self.meter, noise));
        } else {
            for (code, reading) in codes.iter().zip(readings) {
                *reading = self.read(*code, &[true; W])?;
            }
        }
        Ok(())
    }

    fn highest(&mut self, states: usize) -> Result<[Code; W], GivenUp> {
        if !self.is_swept_at_once() {
            return outermost(self, states, |reading, best| reading > best);
        }
        self.room.work.count_where(&self.room.takes, states);
        let noise = self.noise();
        Ok(self.room.power.highest(&self.meter, noise))
    }

    fn lowest(&mut self, states: usize) -> Result<[Code; W], GivenUp> {
        if !self.is_swept_at_once() {
            return outermost(self, states, |reading, best| reading < best);
        }
        self.room.work.count_where(&self.room.takes, states);
        let noise = self.noise();
        Ok(self.room.power.lowest(&self.meter, noise))
    }
}

const SINGLE_NEPERS_A_DB: f32 = NEPERS_A_DB as f32;

/// More than the rounds of reading channels alone.
const MOST_ROUNDS: u32 = 1 << 16;

impl<'a, const W: usize> SimulatedBench<'a, W> {
    /// The noise of what is joined.
    fn noise(&self) -> Noise {
        let (keys, channels) = (&self.model.noise, self.model.channels() as u32);
        let (key, slot) = match self.room.joined {
            Joined::Pair { pair, turned: 0 } => {
                (keys.joined[pair.round as usize], pair.stepped as u32 + channels * meets(&pair))
            }
            Joined::Pair { pair, turned } => {
                let states = self.model.hardware.shifter as u32;
                let turns = turned.wrapping_add(states.wrapping_mul(pair.round));
                (keys.turned, (pair.stepped as u32).wrapping_add(channels.wrapping_mul(turns)))
            }
            Joined::Rest { stepped, round } => (keys.joined[round as usize], stepped as u32),
        };
        Noise { key, first_trial: self.first_trial, slot }
    }

    /// The lanes that take a reading of what is joined.
    fn taken(&self, takes: &[bool; W]) -> [bool; W] {
        let joined = &self.room.takes;
        let mut taken = [false; W];
        (0..W).for_each(|l| taken[l] = takes[l] & joined[l]);
        taken
    }

    /// What reading channels alone adds to each, dB, as nominal value and deviations: its cable's repeatability, or how the
    /// probe sees it.
    fn connections_alone(&self, round: u32) -> (f64, Vec<[f32; W]>) {
        let channels = 0..self.model.channels();
        let nominal = self.tolerance_alone().nominal;
        (nominal, channels.map(|channel| self.connection_alone(round, channel).1).collect())
    }

    /// The same for one channel.
    fn connection_alone(&self, round: u32, channel: usize) -> (f64, [f32; W]) {
        let gain = self.tolerance_alone();
        let deviation = match self.view().is_whole {
            true => *gain.deviation_at(self.draws, 0, channel),
            false => self.connection(gain, Port::Alone.slot(round, None), channel),
        };
        (gain.nominal, deviation)
    }

    fn tolerance_alone(&self) -> &'a Value {
        let fixture = &self.model.fixture;
        if self.view().is_whole { &fixture.probe_gain } else { &fixture.reconnection_gain }
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn read_alone<const W: usize, const THERMAL: bool>(
    meter: &Meter,
    common: &[f32],
    reconnection: &[[f32; W]],
    gain: &[[f32; W]],
    deviates: &[[f32; W]],
    readings: &mut [[f32; W]],
) {
    for (channel, reading) in readings.iter_mut().enumerate() {
        let (common, reconnection) = (common[channel], &reconnection[channel]);
        let (gain, deviates) = (&gain[channel], &deviates[channel]);
        for l in 0..W {
            let level = gain[l] + SINGLE_NEPERS_A_DB * (common + reconnection[l]);
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

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn polar<const W: usize>(gain: &[f32; W], phase: &[f32; W]) -> Complex<W> {
    let mut phasor = Complex::ZERO;
    for l in 0..W {
        (phasor.re.0[l], phasor.im.0[l]) = single::polar(single::exp(gain[l]), phase[l]);
    }
    phasor
}
