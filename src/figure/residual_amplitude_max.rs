//! Amplitude error left in the channels, the largest.

use crate::figure::{BeamPoint, DB_A_NEPER, Depth, Field, SmallErrors, Unit};

/// Largest size of the residual amplitude over the channels; see [`super::ResidualAmplitudeRms`]. Unit: dB.
pub struct ResidualAmplitudeMax;

impl ResidualAmplitudeMax {
    pub(super) const NAME: &'static str = "residual_amplitude_max";
    pub(super) const TITLE: &'static str = "residual amplitude, largest";
    pub(super) const UNIT: Unit = Unit::Decibel;
    pub(super) const DEPTH: Depth = Depth::RESIDUALS;

    pub(super) fn exists(_: &BeamPoint) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.residuals.gain_max.map(|largest| DB_A_NEPER * largest)
    }

    pub(super) fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        None
    }
}
