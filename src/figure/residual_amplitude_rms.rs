//! Amplitude error left in the channels, root mean square.

use crate::figure::{BeamPoint, DB_A_NEPER, Depth, Field, SmallErrors, Unit};

/// Amplitude of actual over ideal excitation in dB about its mean over the channels, rms. Unit: dB.
pub struct ResidualAmplitudeRms;

impl ResidualAmplitudeRms {
    pub(super) const NAME: &'static str = "residual_amplitude_rms";
    pub(super) const TITLE: &'static str = "residual amplitude, rms";
    pub(super) const UNIT: Unit = Unit::Decibel;
    pub(super) const DEPTH: Depth = Depth::RESIDUALS;

    pub(super) fn exists(_: &BeamPoint) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.residuals.gain_rms.map(|rms| DB_A_NEPER * rms)
    }

    pub(super) fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        None
    }
}
