//! Amplitude error left in the channels, root mean square.

use crate::figure::{DB_A_NEPER, Depth, Field, Look, SmallErrors, Unit};

/// Amplitude of actual over ideal excitation in dB about its mean over the channels, rms. Unit: dB.
pub struct ResidualAmplitudeRms;

impl ResidualAmplitudeRms {
    pub(super) const NAME: &'static str = "residual_amplitude_rms";
    pub(super) const TITLE: &'static str = "residual amplitude, rms";
    pub(super) const UNIT: Unit = Unit::Decibel;
    pub(super) const DEPTH: Depth = Depth::RESIDUALS;

    pub(super) fn exists(_: &Look) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(_: &Look, field: &Field<W>) -> [f64; W] {
        field.residuals.gain_rms.map(|rms| DB_A_NEPER * rms)
    }

    pub(super) fn predicted_mean(_: &Look, _: &SmallErrors) -> Option<f64> {
        None
    }
}
