//! Channels read alone, one after the other.

use super::{BenchScratch, SINGLE_NEPERS_A_DB, SimulatedBench};
use crate::bench::{Meter, NEPERS_A_DB_OF_POWER, Port};
use crate::engine::pair::Noise;
use crate::math::single;
use crate::random::{Value, draw};
use multiversion::multiversion;

/// More than the rounds of reading channels alone.
const MOST_ROUNDS: u32 = 1 << 16;

/// What adds up to the levels of channels read alone, `[channel]`.
struct Levels<'a, const W: usize> {
    /// Nepers over nominal.
    gain: &'a [[f32; W]],
    /// Level of a nominal channel, dB, and what its connection adds.
    common: &'a [f32],
    connection: &'a [[f32; W]],
}

impl<'a, const W: usize> SimulatedBench<'a, W> {
    /// Reads every channel; see [`Bench::read_alone`](crate::bench::Bench::read_alone).
    pub(super) fn read_channels(
        &mut self,
        round: u32,
        repeat: u32,
        which: Option<&[[bool; W]]>,
        readings: &mut [[f32; W]],
    ) {
        // Each channel's cable is moved just before it is read; a steady receiver does not mind when.
        let moves = u32::from(repeat == 0 && !self.view().is_whole);
        if self.meter.is_noisy {
            let (key, slot) = (self.model.noise.alone, round + repeat * MOST_ROUNDS);
            let noise = Noise { key, first_trial: self.first_trial, slot };
            let BenchScratch { power, deviates, .. } = &mut *self.room;
            if !power.kept.give(noise, deviates) {
                draw::normals(key, self.first_trial, slot, 1.0, deviates);
            }
        }
        let gain = self.gains_as_they_stand();
        let (nominal, connection) = self.connections_alone(round);
        let wanted = &self.model.hardware.wanted_db;
        let common: Vec<f32> = wanted.iter().map(|wanted| (wanted + nominal) as f32).collect();
        let levels = Levels { gain: &gain, common: &common, connection: &connection };
        if self.is_steady {
            let read = if self.meter.is_thermal { read::<W, true> } else { read::<W, false> };
            read(&self.meter, levels, &self.room.deviates, readings);
        } else {
            hear(&self.meter, levels, &self.room.deviates, readings);
        }
        match which {
            None => {
                self.count(&[true; W], moves, readings.len());
                self.show(readings);
            }
            Some(which) => {
                for (takes, reading) in which.iter().zip(readings) {
                    self.count(takes, moves, 1);
                    self.show(std::slice::from_mut(reading));
                }
            }
        }
    }

    /// Reads one channel to see whether it lives; see [`Bench::detect`](crate::bench::Bench::detect).
    pub(super) fn read_channel(
        &mut self,
        channel: usize,
        round: u32,
        repeat: u32,
        takes: &[bool; W],
    ) -> [f32; W] {
        let moves = u32::from(repeat == 0 && !self.view().is_whole);
        self.count(takes, moves, 1);
        let mut deviates = [[0.0; W]; 4];
        if self.meter.is_noisy {
            let slot = channel as u32 + self.model.channels() as u32 * round;
            deviates = draw::normal_block(self.model.noise.looked, self.first_trial, |_| repeat / 4, slot);
        }
        let gain = [self.gains_as_they_stand()[channel]];
        let nominal = self.tolerance_alone().nominal;
        let connection = [self.connection_alone(round, channel)];
        let common = [(self.model.hardware.wanted_db[channel] + nominal) as f32];
        let levels = Levels { gain: &gain, common: &common, connection: &connection };
        let mut reading = [[0.0; W]];
        hear(&self.meter, levels, &[deviates[repeat as usize % 4]], &mut reading);
        self.show_all(&mut reading);
        reading[0]
    }

    /// What reading channels alone adds to each, dB, as nominal value and deviations: its cable's repeatability, or how the
    /// probe sees it.
    fn connections_alone(&mut self, round: u32) -> (f64, Vec<[f32; W]>) {
        let gain = self.tolerance_alone();
        if !self.view().is_whole {
            self.connect(gain, Port::Alone.slot(round, None));
        }
        let channels = 0..self.model.channels();
        (gain.nominal, channels.map(|channel| self.connection_alone(round, channel)).collect())
    }

    /// The deviation of one channel.
    fn connection_alone(&self, round: u32, channel: usize) -> [f32; W] {
        let gain = self.tolerance_alone();
        match self.view().is_whole {
            true => *gain.deviation_at(self.draws, 0, channel),
            false => self.connection(gain, Port::Alone.slot(round, None), channel),
        }
    }

    fn tolerance_alone(&self) -> &'a Value {
        let fixture = &self.model.fixture;
        if self.view().is_whole { &fixture.probe_gain } else { &fixture.reconnection_gain }
    }
}

/// The readings of a steady receiver.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn read<const W: usize, const THERMAL: bool>(
    meter: &Meter,
    levels: Levels<W>,
    deviates: &[[f32; W]],
    readings: &mut [[f32; W]],
) {
    for (channel, reading) in readings.iter_mut().enumerate() {
        let (common, connection) = (levels.common[channel], &levels.connection[channel]);
        let (gain, deviates) = (&levels.gain[channel], &deviates[channel]);
        for l in 0..W {
            let level = gain[l] + SINGLE_NEPERS_A_DB * (common + connection[l]);
            let deviate = if meter.is_noisy { deviates[l] } else { 0.0 };
            reading[l] = meter.read::<THERMAL>(single::exp(2.0 * level), deviate);
        }
    }
}

/// The levels that any receiver hears, with their noise.
fn hear<const W: usize>(meter: &Meter, levels: Levels<W>, deviates: &[[f32; W]], readings: &mut [[f32; W]]) {
    let hear = if meter.is_thermal { hear_all::<W, true> } else { hear_all::<W, false> };
    hear(meter, levels, deviates, readings);
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn hear_all<const W: usize, const THERMAL: bool>(
    meter: &Meter,
    levels: Levels<W>,
    deviates: &[[f32; W]],
    readings: &mut [[f32; W]],
) {
    for (channel, reading) in readings.iter_mut().enumerate() {
        let (common, connection) = (levels.common[channel], &levels.connection[channel]);
        let (gain, deviates) = (&levels.gain[channel], &deviates[channel]);
        for l in 0..W {
            let level = gain[l] / SINGLE_NEPERS_A_DB + (common + connection[l]);
            let power = single::exp(level * NEPERS_A_DB_OF_POWER);
            let noise = if meter.is_noisy { meter.sd_at::<THERMAL>(power) * deviates[l] } else { 0.0 };
            reading[l] = meter.level::<THERMAL>(power) + noise;
        }
    }
}
