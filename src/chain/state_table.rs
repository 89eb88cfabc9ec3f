//! Measured states of a stepped block: a table that all channels share.

mod read;

pub(super) use read::STATES;

use crate::chain::{Code, NEPERS_A_DB};
use crate::io::{Dimension, Findings, SourceText, quantity};
use crate::math::{TAU, elementary, scalar};
use std::sync::Arc;

/// Gain and phase of every state over frequency. How far each state is off nominal is computed once, for the frequencies in
/// use.
///
/// Formula: state m is off by (gain_m - gain_0) - m step and by (phase_m - phase_0) - m step, the latter within half a turn;
/// between the frequencies of the file gain in dB and unwrapped phase are on straight lines, so that the phase must turn by
/// less than half a turn from one to the next; nothing is extrapolated. Units: dB, rad. Source: own derivation.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct StateTable {
    /// Name of the file, or pattern of the files' names.
    name: String,
    /// What each code does.
    curves: Vec<Curve>,
    prepared: Vec<OffNominal>,
}

/// What one code does over frequency.
#[derive(Clone, Debug, PartialEq)]
struct Curve {
    source: Arc<SourceText>,
    /// Hz, rising. None where the file holds for every frequency; it has one value then.
    frequencies: Vec<f64>,
    /// dB.
    gain: Vec<f64>,
    /// Unwrapped, rad.
    phase: Vec<f64>,
}

/// What one code more does nominally.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step {
    pub gain_db: f64,
    pub phase: f64,
}

/// How far each state is off nominal at one frequency, `[code]`.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct OffNominal {
    frequency: f64,
    /// Nepers.
    gain: Vec<f32>,
    /// Rad, within half a turn.
    phase: Vec<f32>,
    /// Both as a complex factor.
    pub factor: Vec<(f32, f32)>,
}

/// Furthest that a state can be off, dB: what is further is a slip, and its power would not hold in single precision.
const FURTHEST_DB: f64 = 100.0;

/// Frequencies closer than this, relative, are the same: files round them.
const SAME: f64 = 1e-9;

impl StateTable {
    /// What a report says of it: "measured states from shifter.csv (rms 1.93 deg and 0.214 dB off nominal)".
    pub(super) fn words(&self) -> String {
        let ((gain_db, phase), name) = (self.rms(), &self.name);
        let degrees = phase.to_degrees();
        format!("measured states from {name} (rms {degrees:.2} deg and {gain_db:.3} dB off nominal)")
    }

    /// Root mean square of how far the states are off nominal, over codes and frequencies in use: dB, rad.
    pub(super) fn rms(&self) -> (f64, f64) {
        let rms = |of: fn(&OffNominal) -> &[f32]| {
            let all = self.prepared.iter().flat_map(of).map(|x| f64::from(*x));
            let (sum, count) = all.fold((0.0, 0.0), |(sum, count), x| (sum + x * x, count + 1.0));
            if count > 0.0 { (sum / count).sqrt() } else { 0.0 }
        };
        (rms(|off| &off.gain) / NEPERS_A_DB, rms(|off| &off.phase))
    }

    /// Interpolates for the frequencies in use, Hz. A frequency outside a file is an error there.
    pub(super) fn prepare(&mut self, frequencies: &[f64], step: Step, findings: &Findings) {
        let mut reported: Vec<(f64, [f64; 2])> = Vec::new();
        self.prepared.clear();
        for frequency in frequencies {
            let states: Vec<Option<(f64, f64)>> =
                self.curves.iter().map(|curve| curve.at(*frequency)).collect();
            for (curve, _) in self.curves.iter().zip(&states).filter(|(_, state)| state.is_none()) {
                let range = curve.range();
                // Files of one measurement end alike: once is enough.
                if !reported.contains(&(*frequency, range)) {
                    reported.push((*frequency, range));
                    curve.refuse_frequency(findings, *frequency);
                }
            }
            let states: Option<Vec<(f64, f64)>> = states.into_iter().collect();
            self.prepared.extend(states.map(|states| OffNominal::new(*frequency, &states, step)));
        }
        for off in &self.prepared {
            let most = (FURTHEST_DB * NEPERS_A_DB) as f32;
            let far = off.gain.iter().zip(&self.curves).find(|(gain, _)| gain.abs() > most);
            if let Some((_, curve)) = far {
                findings.error_in(
                    &curve.source,
                    None,
                    format!("a state is more than {FURTHEST_DB} dB off nominal, relative to state 0"),
                    "",
                    Some("levels in dB of one part, all measured alike".into()),
                );
            }
        }
    }

    /// The states at one of the frequencies in use.
    #[inline(always)]
    pub(super) fn at(&self, frequency: f64) -> &OffNominal {
        let found = self.prepared.iter().find(|off| off.frequency == frequency);
        found.unwrap_or_else(|| unreachable!("prepared for every frequency in use when the study was read"))
    }
}

impl Curve {
    /// First and last frequency.
    fn range(&self) -> [f64; 2] {
        [self.frequencies.first(), self.frequencies.last()].map(|hertz| hertz.copied().unwrap_or(0.0))
    }

    /// Gain, dB, and phase, rad, at a frequency; `None` outside the range.
    fn at(&self, frequency: f64) -> Option<(f64, f64)> {
        let Some(last) = self.frequencies.len().checked_sub(1) else {
            return Some((self.gain[0], self.phase[0]));
        };
        let [first_hz, last_hz] = self.range();
        if frequency < first_hz * (1.0 - SAME) || frequency > last_hz * (1.0 + SAME) {
            return None;
        }
        let above = self.frequencies.partition_point(|hertz| *hertz < frequency);
        let (low, high) = (above.saturating_sub(1), above.min(last));
        let span = self.frequencies[high] - self.frequencies[low];
        let weight = if span > 0.0 { (frequency - self.frequencies[low]) / span } else { 0.0 };
        let between = |values: &[f64]| (1.0 - weight) * values[low] + weight * values[high];
        Some((between(&self.gain), between(&self.phase)))
    }

    fn refuse_frequency(&self, findings: &Findings, frequency: f64) {
        let hertz = |hertz| quantity::format(hertz, Dimension::Frequency);
        let [first, last] = self.range().map(hertz);
        findings.error_in(
            &self.source,
            None,
            format!("{} is in use, but the states are measured from {first} to {last}", hertz(frequency)),
            "",
            Some(
                "measured states at, or to both sides of, each frequency in use; nothing is extrapolated"
                    .into(),
            ),
        );
    }
}

impl OffNominal {
    /// From gain, dB, and phase, rad, of every code.
    fn new(frequency: f64, states: &[(f64, f64)], step: Step) -> OffNominal {
        let (gain_0, phase_0) = states[0];
        let off = states.iter().enumerate().map(|(code, (gain, phase))| {
            let steps = code as f64;
            let turns = ((phase - phase_0) - steps * step.phase) / TAU;
            let gain = NEPERS_A_DB * ((gain - gain_0) - steps * step.gain_db);
            (gain, (turns - elementary::round(turns)) * TAU)
        });
        let off: Vec<(f64, f64)> = off.collect();
        let factor = off.iter().map(|(gain, phase)| {
            let (size, (sine, cosine)) = (scalar::exp(*gain), scalar::sin_cos(*phase));
            ((size * cosine) as f32, (size * sine) as f32)
        });
        OffNominal {
            frequency,
            factor: factor.collect(),
            gain: off.iter().map(|(gain, _)| *gain as f32).collect(),
            phase: off.iter().map(|(_, phase)| *phase as f32).collect(),
        }
    }

    /// Adds what the states are off that channels stand at: nepers, rad, `[channel][lane]`.
    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        codes: &[[Code; W]],
        gain: &mut [[f32; W]],
        phase: &mut [[f32; W]],
    ) {
        let sums = gain.as_flattened_mut().iter_mut().zip(phase.as_flattened_mut());
        for ((gain, phase), code) in sums.zip(codes.as_flattened()) {
            *gain += self.gain[*code as usize];
            *phase += self.phase[*code as usize];
        }
    }
}
