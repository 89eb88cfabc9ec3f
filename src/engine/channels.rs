//! Gain and phase of every channel of a batch.

use crate::bench::Code;
use crate::chain::{Attenuator, Conditions};
use crate::math::{TAU, elementary};
use crate::random::Draws;
use multiversion::multiversion;

/// Gain (nepers) and phase (rad) of every channel over its nominal, `[channel][lane]`.
#[derive(Clone, Debug)]
pub(super) struct Channels<const W: usize> {
    pub gain: Vec<[f32; W]>,
    pub phase: Vec<[f32; W]>,
}

/// The same while it is being added up: single precision has no turns to spare for a long cable.
#[derive(Clone, Debug)]
pub(super) struct Sums<const W: usize> {
    pub gain: Vec<[f64; W]>,
    pub phase: Vec<[f64; W]>,
}

/// Gains are held to this many nepers either way, 260 dB, so that powers stay numbers.
const MOST_NEPERS: f64 = 30.0;

/// Gain of a dead channel, nepers.
const SILENT: f32 = -MOST_NEPERS as f32;

impl<const W: usize> Sums<W> {
    pub(super) fn new(channels: usize) -> Sums<W> {
        Sums { gain: vec![[0.0; W]; channels], phase: vec![[0.0; W]; channels] }
    }

    /// Begins with a gain for each channel, nepers, and no phase.
    pub(super) fn begin(&mut self, gain: &[f64]) {
        self.gain.iter_mut().zip(gain).for_each(|(row, gain)| *row = [*gain; W]);
        self.phase.fill([0.0; W]);
    }
}

impl<const W: usize> Channels<W> {
    pub(super) fn new(channels: usize) -> Channels<W> {
        Channels { gain: vec![[0.0; W]; channels], phase: vec![[0.0; W]; channels] }
    }

    /// Takes sums, the phase within half a turn.
    pub(super) fn take(&mut self, sums: &Sums<W>) {
        take(sums, &mut self.gain, &mut self.phase);
    }

    /// Silences a channel in some lanes.
    pub(super) fn mute(&mut self, channel: usize, is_dead: &[bool; W]) {
        for l in (0..W).filter(|l| is_dead[*l]) {
            self.gain[channel][l] = SILENT;
        }
    }

    /// Takes channels with their attenuators set.
    pub(super) fn attenuate(
        &mut self,
        from: &Channels<W>,
        attenuator: Option<&Attenuator>,
        at: &Conditions,
        draws: &Draws<W>,
        codes: &[[Code; W]],
    ) {
        self.gain.copy_from_slice(&from.gain);
        self.phase.copy_from_slice(&from.phase);
        if let Some(attenuator) = attenuator {
            attenuate(attenuator, at, draws, codes, &mut self.gain, &mut self.phase);
        }
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn take<const W: usize>(sums: &Sums<W>, gain: &mut [[f32; W]], phase: &mut [[f32; W]]) {
    let from = sums.gain.as_flattened().iter().zip(sums.phase.as_flattened());
    let to = gain.as_flattened_mut().iter_mut().zip(phase.as_flattened_mut());
    for ((gain, phase), (gain_sum, phase_sum)) in to.zip(from) {
        // A comparison at a time: `clamp` keeps the loop from becoming vector code.
        let low = if *gain_sum > -MOST_NEPERS { *gain_sum } else { -MOST_NEPERS };
        *gain = if low < MOST_NEPERS { low as f32 } else { MOST_NEPERS as f32 };
        let turns = phase_sum * (1.0 / TAU);
        *phase = ((turns - elementary::round(turns)) * TAU) as f32;
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn attenuate<const W: usize>(
    attenuator: &Attenuator,
    at: &Conditions,
    draws: &Draws<W>,
    codes: &[[Code; W]],
    gain: &mut [[f32; W]],
    phase: &mut [[f32; W]],
) {
    attenuator.set(at, draws, 0, codes, gain, phase);
}
