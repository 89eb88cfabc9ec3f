//! Residual errors of the channels, the factor common to all taken out.

use crate::math::{PI, TAU, arc, elementary, single};
use multiversion::multiversion;

/// Residual gain (nepers) and phase (rad) over the channels of W units.
#[derive(Clone, Copy, Debug)]
pub(super) struct Residuals<const W: usize> {
    pub gain_rms: [f64; W],
    pub gain_max: [f64; W],
    pub phase_rms: [f64; W],
    pub phase_max: [f64; W],
}

impl<const W: usize> Default for Residuals<W> {
    fn default() -> Residuals<W> {
        let zero = [0.0; W];
        Residuals { gain_rms: zero, gain_max: zero, phase_rms: zero, phase_max: zero }
    }
}

impl<const W: usize> Residuals<W> {
    /// The mean gain is taken out of the gains, the phase of the mean complex `ratio` (or of the sum) out of the phases.
    pub(super) fn take(&mut self, gain: &[[f32; W]], phase: &[[f32; W]], ratio: &[[f64; W]; 2]) {
        take(self, gain, phase, ratio);
    }

    /// The same over the channels that are not `dead`; a unit without any has no errors. The field that couples through a dead element is
    /// radiated, but is no error of a channel, nor part of the common factor.
    pub(super) fn take_living(
        &mut self,
        gain: &[[f32; W]],
        phase: &[[f32; W]],
        dead: &[[bool; W]],
        ratio: &[[f64; W]; 2],
    ) {
        for l in 0..W {
            let (mut count, mut gain_sum, mut phase_sum) = (0.0f64, 0.0, 0.0);
            let (mut gain_max, mut phase_max) = (0.0f64, 0.0f64);
            for (_, [of_gain, of_phase]) in of_live(gain, phase, dead, ratio, l) {
                count += 1.0;
                gain_sum += of_gain * of_gain;
                phase_sum += of_phase * of_phase;
                gain_max = gain_max.max(of_gain.abs());
                phase_max = phase_max.max(of_phase.abs());
            }
            let count = count.max(1.0);
            self.gain_rms[l] = (gain_sum / count).sqrt();
            self.phase_rms[l] = (phase_sum / count).sqrt();
            (self.gain_max[l], self.phase_max[l]) = (gain_max, phase_max);
        }
    }
}

/// Residual error of each live channel in one lane: its number, gain (nepers) and phase (rad). All are live where `dead` is empty.
pub(super) fn of_live<'a, const W: usize>(
    gain: &'a [[f32; W]],
    phase: &'a [[f32; W]],
    dead: &'a [[bool; W]],
    ratio: &[[f64; W]; 2],
    l: usize,
) -> impl Iterator<Item = (usize, [f64; 2])> + 'a {
    let is_dead = move |channel: usize| dead.get(channel).is_some_and(|dead| dead[l]);
    let live = move || (0..gain.len()).filter(move |channel| !is_dead(*channel));
    let mean = live().map(|channel| f64::from(gain[channel][l])).sum::<f64>() / live().count().max(1) as f64;
    let [mut re, mut im] = [ratio[0][l], ratio[1][l]];
    for channel in (0..gain.len()).filter(|channel| is_dead(*channel) && gain[*channel][l] > SILENT) {
        let (x, y) = single::polar(single::exp(gain[channel][l]), phase[channel][l]);
        (re, im) = (re - f64::from(x), im - f64::from(y));
    }
    let common = arc::angle(re, im);
    live().map(move |channel| {
        let turned = f64::from(phase[channel][l]) - common;
        let of_phase = turned - TAU * elementary::round(turned * (1.0 / TAU));
        (channel, [f64::from(gain[channel][l]) - mean, of_phase])
    })
}

/// A dead channel with less gain over its nominal adds nothing to a sum in single precision, nepers (174 dB).
const SILENT: f32 = -20.0;

/// Channels summed in single precision before they join the sums in double.
const BLOCK: usize = 8;

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn take<const W: usize>(
    residuals: &mut Residuals<W>,
    gain: &[[f32; W]],
    phase: &[[f32; W]],
    ratio: &[[f64; W]; 2],
) {
    let share = 1.0 / gain.len() as f64;
    let mut mean = [0.0; W];
    for gain in gain.chunks(BLOCK) {
        let mut part = [0.0f32; W];
        for gain in gain {
            for l in 0..W {
                part[l] += gain[l];
            }
        }
        add(&mut mean, &part);
    }
    // Common phase as the sum of two numbers in single precision.
    let (mut mean_gain, mut common, mut common_rest) = ([0.0f32; W], [0.0f32; W], [0.0f32; W]);
    for l in 0..W {
        let angle = arc::angle(ratio[0][l], ratio[1][l]);
        mean_gain[l] = (mean[l] * share) as f32;
        common[l] = angle as f32;
        common_rest[l] = (angle - f64::from(common[l])) as f32;
    }
    let (mut gain_sum, mut phase_sum) = ([0.0; W], [0.0; W]);
    let (mut gain_max, mut phase_max) = ([0.0f32; W], [0.0f32; W]);
    for (gain, phase) in gain.chunks(BLOCK).zip(phase.chunks(BLOCK)) {
        let (mut gain_part, mut phase_part) = ([0.0f32; W], [0.0f32; W]);
        for (gain, phase) in gain.iter().zip(phase) {
            for l in 0..W {
                let of_gain = (gain[l] - mean_gain[l]).abs();
                let of_phase = within_half_a_turn((phase[l] - common[l]) - common_rest[l]).abs();
                gain_part[l] += of_gain * of_gain;
                phase_part[l] += of_phase * of_phase;
                gain_max[l] = if of_gain > gain_max[l] { of_gain } else { gain_max[l] };
                phase_max[l] = if of_phase > phase_max[l] { of_phase } else { phase_max[l] };
            }
        }
        add(&mut gain_sum, &gain_part);
        add(&mut phase_sum, &phase_part);
    }
    for l in 0..W {
        residuals.gain_rms[l] = (gain_sum[l] * share).sqrt();
        residuals.phase_rms[l] = (phase_sum[l] * share).sqrt();
        residuals.gain_max[l] = f64::from(gain_max[l]);
        residuals.phase_max[l] = f64::from(phase_max[l]);
    }
}

#[inline(always)]
fn add<const W: usize>(sum: &mut [f64; W], part: &[f32; W]) {
    for l in 0..W {
        sum[l] += f64::from(part[l]);
    }
}

/// An angle without its whole turns. A turn is taken off in two parts, the first with 12 trailing zero bits.
#[inline(always)]
fn within_half_a_turn(angle: f32) -> f32 {
    const HIGH: f32 = 6.28125;
    const LOW: f32 = (TAU - 6.28125) as f32;
    const PER_RADIAN: f32 = (0.5 / PI) as f32;
    let turns = single::round(angle * PER_RADIAN);
    (angle - turns * HIGH) - turns * LOW
}
