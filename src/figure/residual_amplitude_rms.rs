//! Amplitude error left in the channels, root mean square.

use crate::figure::{DB_A_NEPER, Depth, Field, Look, SmallErrors, Unit};

/// Amplitude of actual over ideal excitation in dB about its mean over the channels, rms. Unit: dB.
pub struct ResidualAmplitudeRms;

impl ResidualAmplitudeRms {
    pub(super) const NAME: &'static str = "residual_amplitude_rms";
    pub(super) const TITLE: &'static str = "residual amplitude, rms";
    pub(super) const UNIT: Unit = Unit::Decibel;
    pub(super) const DEPTH: Depth = Depth::Channels;

    pub(super) fn exists(_: &Look) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(_: &Look, field: &Field<W>) -> [f64; W] {
        let mut sum = [0.0; W];
        residual_gains(field, |residual| {
            for l in 0..W {
                sum[l] += residual[l] * residual[l];
            }
        });
        sum.map(|sum| DB_A_NEPER * (sum / field.gain.len() as f64).sqrt())
    }

    pub(super) fn predicted_mean(_: &Look, _: &SmallErrors) -> Option<f64> {
        None
    }
}

/// Gives the gain of every channel over the mean gain, nepers.
pub(super) fn residual_gains<const W: usize>(field: &Field<W>, mut each: impl FnMut(&[f64; W])) {
    let mut mean = [0.0; W];
    for gain in &field.gain {
        for l in 0..W {
            mean[l] += gain[l];
        }
    }
    let share = 1.0 / field.gain.len() as f64;
    for gain in &field.gain {
        each(&std::array::from_fn(|l| gain[l] - mean[l] * share));
    }
}
