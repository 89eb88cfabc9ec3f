//! All channels on in front of a probe.

use super::{SimulatedBench, polar};
use crate::bench::{Code, Meter, Pair};
use crate::engine::coupling::pickup;
use crate::engine::pair::Noise;
use crate::math::{Complex, Lanes};
use crate::random::draw;
use multiversion::multiversion;

/// The unit as the probe sees it.
#[derive(Clone, Debug)]
pub(super) struct Air<const W: usize> {
    /// Every channel with its shifter at code 0 but for its state's error, and where it stands, linear over a nominal channel,
    /// `[channel]`; empty until it is asked for.
    at_code_0: Vec<Complex<W>>,
    standing: Vec<Complex<W>>,
    /// The same turned by half a turn; empty until it is asked for.
    turned: Vec<Complex<W>>,
}

impl<const W: usize> Default for Air<W> {
    fn default() -> Air<W> {
        Air { at_code_0: Vec::new(), standing: Vec::new(), turned: Vec::new() }
    }
}

impl<const W: usize> Air<W> {
    /// What is set has changed.
    pub(super) fn forget(&mut self) {
        self.at_code_0.clear();
        self.standing.clear();
        self.turned.clear();
    }
}

impl<const W: usize> SimulatedBench<'_, W> {
    /// Amplitudes of a pair alone on in front of the probe, which joins them: no coupler, no cable.
    pub(super) fn two_in_the_air(&mut self, pair: &Pair) -> [Complex<W>; 2] {
        self.see();
        let of_reference = self.states(pair.reference, &[0; W]);
        let air = &self.room.air;
        [air.at_code_0[pair.reference] * of_reference, air.at_code_0[pair.stepped]]
    }

    /// Joins one channel with the sum of all others.
    pub(super) fn join_air(&mut self, stepped: usize) {
        self.see();
        let air = &self.room.air;
        let mut rest = Complex::ZERO;
        for (channel, of) in air.standing.iter().enumerate() {
            if channel != stepped {
                rest = rest + *of;
            }
        }
        let at_code_0 = air.at_code_0[stepped];
        self.join_signals(&rest, stepped, &at_code_0);
    }

    /// Reads amplitude and phase of all channels, some of them turned by half a turn from where they stand.
    pub(super) fn read_field(&mut self, row: u32, is_turned: &[bool]) -> Complex<W> {
        self.see();
        self.see_turned();
        let air = &self.room.air;
        let sum = sum_of(&air.standing, &air.turned, is_turned);
        let noise = Noise { key: self.model.noise.field, first_trial: self.first_trial, slot: 0 };
        if self.meter.is_noisy { read_field(&self.meter, noise, row, &sum) } else { sum }
    }

    /// Sees every channel where it stands.
    fn see(&mut self) {
        if !self.room.air.standing.is_empty() {
            return;
        }
        self.take_amplitudes();
        let channels = self.model.channels();
        let mut bare: Vec<Complex<W>> = (0..channels).map(|channel| self.bare(channel)).collect();
        if let Some(coupling) = &self.model.coupling {
            let factors = pickup(coupling, |channel| self.path(channel), self.draws);
            bare.iter_mut().zip(&factors).for_each(|(bare, factor)| *bare = *bare * *factor);
        }
        let standing = (0..channels).map(|channel| {
            let codes = self.room.standing.get(channel).copied().unwrap_or([0; W]);
            bare[channel] * self.states(channel, &codes)
        });
        let standing = standing.collect();
        (self.room.air.standing, self.room.air.at_code_0) = (standing, bare);
    }

    fn see_turned(&mut self) {
        if !self.room.air.turned.is_empty() {
            return;
        }
        let states = self.model.chain.shifter().states() as Code;
        let turned = (0..self.model.channels()).map(|channel| {
            let codes = self.room.standing.get(channel).copied().unwrap_or([0; W]);
            let turned = codes.map(|code| (code + states / 2) & (states - 1));
            self.room.air.at_code_0[channel] * self.states(channel, &turned)
        });
        self.room.air.turned = turned.collect();
    }

    /// A channel in front of the probe but for its shifter's state: no combiner halves it, the way to the probe is
    /// known but for what the fixture draws.
    fn bare(&self, channel: usize) -> Complex<W> {
        let fixture = &self.model.fixture;
        let path = self.path(channel);
        let db = fixture.probe_gain.deviation_at(self.draws, 0, channel);
        let turn = fixture.probe_phase.deviation_at(self.draws, 0, channel);
        let (mut gain, mut phase) = ([0.0; W], [0.0; W]);
        for l in 0..W {
            gain[l] = super::SINGLE_NEPERS_A_DB * (fixture.probe_gain.nominal as f32 + db[l]);
            phase[l] = path + (fixture.probe_phase.nominal as f32 + turn[l]);
        }
        let root = Lanes([std::f32::consts::SQRT_2; W]);
        let whole = self.room.amplitude[channel] * polar(&gain, &phase);
        Complex { re: whole.re * root, im: whole.im * root }
    }

    /// Phase of a channel's way to the probe, rad: none at broadside.
    fn path(&self, channel: usize) -> f32 {
        self.point.map_or(0.0, |point| self.model.points[point].path[channel])
    }

    /// What a channel's shifter does at a code for each lane.
    fn states(&self, channel: usize, codes: &[Code; W]) -> Complex<W> {
        let [gain, phase] = self.deviation(channel, codes);
        let step = self.model.chain.shifter().step() as f32;
        let phase: [f32; W] = std::array::from_fn(|l| phase[l] + step * codes[l] as f32);
        polar(&gain, &phase)
    }
}

/// The field of all channels, some of them turned.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn sum_of<const W: usize>(standing: &[Complex<W>], turned: &[Complex<W>], is_turned: &[bool]) -> Complex<W> {
    let mut sum = Complex::ZERO;
    for ((standing, turned), is_turned) in standing.iter().zip(turned).zip(is_turned) {
        let of = if *is_turned { turned } else { standing };
        for l in 0..W {
            sum.re.0[l] += of.re.0[l];
            sum.im.0[l] += of.im.0[l];
        }
    }
    sum
}

/// A reading of it, with its noise.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn read_field<const W: usize>(meter: &Meter, noise: Noise, row: u32, sum: &Complex<W>) -> Complex<W> {
    let [a, b, c, d] = draw::normal_block::<W>(noise.key, noise.first_trial, |_| row, noise.slot);
    let mut read = Complex::ZERO;
    for l in 0..W {
        let deviates = [a[l], b[l], c[l], d[l]];
        [read.re.0[l], read.im.0[l]] = meter.read_field([sum.re.0[l], sum.im.0[l]], deviates);
    }
    read
}
