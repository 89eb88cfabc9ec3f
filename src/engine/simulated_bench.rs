//! The simulated bench: readings of units that exist as numbers.

mod air;
mod alone;
mod connections;
mod coupler;
mod standing;
mod unsteady;

use crate::bench::{Bench, Code, Meter, Pair, Reconnection, Tabled, Work, outermost};
use crate::chain::NEPERS_A_DB;
use crate::engine::channels::Channels;
use crate::engine::compression::{Compressor, Inputs};
use crate::engine::pair::{Kept, Noise, PairPower};
use crate::math::{Complex, single};
use crate::model::{Model, View};
use crate::random::Draws;
use air::Air;
use connections::Connections;
use coupler::meets;
use multiversion::multiversion;
use unsteady::Wander;

/// Room for a bench's readings.
#[derive(Clone, Debug)]
pub(super) struct BenchScratch<const W: usize> {
    work: Work<W>,
    /// Channels with their attenuators set, shifters at code 0 but for its error.
    set: Channels<W>,
    /// The same as complex amplitudes with the taper, behind a combiner that halves the power, `[channel]`; empty until it is asked for.
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
    power: PairPower<W>,
    air: Air<W>,
    connections: Connections<W>,
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
            amplitude: Vec::new(),
            deviates: vec![[0.0; W]; channels],
            standing: Vec::new(),
            joined: Joined::Pair { pair, turned: 0 },
            takes: [true; W],
            reference: None,
            arms: [Complex::ZERO; 2],
            power: PairPower::new(model.chain.shifter(), channels),
            air: Air::default(),
            connections: Connections::default(),
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
    /// The receiver as far as it does not depend on the moment: the whole of it where it is steady.
    pub listener: Meter,
    pub is_steady: bool,
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
        self.room.wander.begin();
    }

    fn go_on(&self) -> Result<(), GivenUp> {
        if (self.should_stop)() { Err(GivenUp) } else { Ok(()) }
    }

    fn view(&self) -> &'a View {
        &self.model.views[self.view]
    }

    /// The code with the highest (or lowest) reading of a sweep through all of them.
    fn outermost<const HIGHEST: bool>(&mut self, states: usize) -> Result<[Code; W], GivenUp> {
        if self.room.power.is_turned() {
            let beats = |reading, best| if HIGHEST { reading > best } else { reading < best };
            return outermost(self, states, beats);
        }
        self.count(&{ self.room.takes }, 0, states);
        let (meter, noise) = (self.meter, self.noise());
        if self.is_steady {
            return Ok(self.room.power.outermost::<HIGHEST>(&meter, None, noise));
        }
        let tilt = self.tilt();
        let BenchScratch { power, wander, .. } = &mut *self.room;
        Ok(power.outermost::<HIGHEST>(&meter, Some(wander.unsteady(tilt, states)), noise))
    }
}

impl<const W: usize> Tabled<W> for SimulatedBench<'_, W> {
    fn begin(&mut self, view: usize, point: Option<usize>) -> Result<(), GivenUp> {
        (self.view, self.point) = (view, point);
        let View { at, is_whole } = self.view();
        self.compressor = Compressor::new(self.model, at, *is_whole);
        let room = &mut *self.room;
        room.reference = None;
        room.amplitude.clear();
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
        which: Option<&[[bool; W]]>,
        readings: &mut [[f32; W]],
    ) -> Result<(), GivenUp> {
        self.read_channels(round, repeat, which, readings);
        Ok(())
    }

    fn detect(
        &mut self,
        channel: usize,
        round: u32,
        repeat: u32,
        takes: &[bool; W],
    ) -> Result<[f32; W], GivenUp> {
        Ok(self.read_channel(channel, round, repeat, takes))
    }

    fn set_attenuators(&mut self, codes: &[[Code; W]]) -> Result<(), GivenUp> {
        let attenuator = self.model.chain.attenuator();
        if let Some(attenuator) = attenuator {
            attenuator.need(codes, &self.model.sources, self.draws);
        }
        let room = &mut *self.room;
        let at = &self.model.views[self.view].at;
        room.set.attenuate(&self.seen[self.view], attenuator, at, self.draws, codes);
        room.amplitude.clear();
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
        self.take_amplitudes();
        self.room.arms = self.arms(&pair);
        let [of_reference, of_stepped] = self.room.arms;
        self.join_signals(&of_reference, pair.stepped, &of_stepped);
        Ok(())
    }

    fn set_reference(&mut self, code: Code) -> Result<(), GivenUp> {
        if let Joined::Pair { pair, turned } = &mut self.room.joined {
            *turned = code;
            let reference = pair.reference;
            if !self.room.power.turn_back(code) {
                let turned = self.turned(reference, code);
                self.room.power.turn(code, turned);
                self.hear();
            }
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
        self.count(&self.taken(takes), 0, 1);
        let noise = self.noise();
        let mut reading = [self.room.power.read_each(codes, &self.listener, noise)];
        self.show(&mut reading);
        Ok(reading[0])
    }

    fn read_toggled(&mut self, row: u32, is_turned: &[bool]) -> Result<Complex<W>, GivenUp> {
        self.go_on()?;
        self.room.work.count(1);
        Ok(self.read_field(row, is_turned))
    }

    fn read(&mut self, code: Code, takes: &[bool; W]) -> Result<[f32; W], GivenUp> {
        self.count(&self.taken(takes), 0, 1);
        let noise = self.noise();
        if self.is_steady {
            return Ok(self.room.power.read(code, &self.meter, noise));
        }
        let mut reading = [self.room.power.read(code, &self.listener, noise)];
        self.show_all(&mut reading);
        Ok(reading[0])
    }

    fn sweep(&mut self, codes: &[Code], readings: &mut [[f32; W]]) -> Result<(), GivenUp> {
        self.count(&{ self.room.takes }, 0, codes.len());
        let noise = self.noise();
        self.room.power.read_some(codes, &self.listener, noise, readings);
        self.show(readings);
        Ok(())
    }

    fn sweep_reference(
        &mut self,
        codes: &[Code],
        stepped: Code,
        readings: &mut [[f32; W]],
    ) -> Result<(), GivenUp> {
        self.count(&{ self.room.takes }, 0, codes.len());
        for (code, reading) in codes.iter().zip(&mut *readings) {
            self.set_reference(*code)?;
            let noise = self.noise();
            *reading = self.room.power.read(stepped, &self.listener, noise);
        }
        self.show(readings);
        Ok(())
    }

    fn highest(&mut self, states: usize) -> Result<[Code; W], GivenUp> {
        self.outermost::<true>(states)
    }

    fn lowest(&mut self, states: usize) -> Result<[Code; W], GivenUp> {
        self.outermost::<false>(states)
    }
}

const SINGLE_NEPERS_A_DB: f32 = NEPERS_A_DB as f32;

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

    /// Takes the amplitudes of the channels as they are set.
    fn take_amplitudes(&mut self) {
        let BenchScratch { set, amplitude, .. } = &mut *self.room;
        if amplitude.is_empty() {
            amplitude.resize(set.gain.len(), Complex::ZERO);
            amplitudes(set, &self.model.array.amplitude, amplitude);
        }
    }

    /// The lanes that take a reading of what is joined.
    fn taken(&self, takes: &[bool; W]) -> [bool; W] {
        let joined = &self.room.takes;
        let mut taken = [false; W];
        (0..W).for_each(|l| taken[l] = takes[l] & joined[l]);
        taken
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
