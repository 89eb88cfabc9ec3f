//! Amplitude error left in the channels, the largest.

use crate::figure::{BeamPoint, DB_A_NEPER, Depth, Field, FigureOfMerit, Unit};

/// Largest size of the residual amplitude over the channels; see [`super::ResidualAmplitudeRms`]. Unit: dB.
pub(crate) struct ResidualAmplitudeMax;

impl FigureOfMerit for ResidualAmplitudeMax {
    const NAME: &'static str = "residual_amplitude_max";
    const TITLE: &'static str = "residual amplitude, largest";
    const UNIT: Unit = Unit::Decibel;
    const DEPTH: Depth = Depth::RESIDUALS;

    fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.residuals.gain_max.map(|largest| DB_A_NEPER * largest)
    }

    fn attainable(_: &BeamPoint) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }
}
