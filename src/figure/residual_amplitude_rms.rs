//! Amplitude error left in the channels, root mean square.

use crate::figure::{BeamPoint, DB_A_NEPER, Depth, Field, FigureOfMerit, Residual, Unit};

/// Amplitude of actual over ideal excitation in dB about its mean over the channels, rms. Unit: dB.
pub(crate) struct ResidualAmplitudeRms;

impl FigureOfMerit for ResidualAmplitudeRms {
    const NAME: &'static str = "residual_amplitude_rms";
    const TITLE: &'static str = "residual amplitude, rms";
    const UNIT: Unit = Unit::Decibel;
    const DEPTH: Depth = Depth::RESIDUALS;
    const RMS_RESIDUAL: Option<Residual> = Some(Residual::Amplitude);

    fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.residuals.gain_rms.map(|rms| DB_A_NEPER * rms)
    }

    fn attainable(_: &BeamPoint) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }
}
