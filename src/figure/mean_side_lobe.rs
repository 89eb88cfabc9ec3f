//! The mean side-lobe level.

use crate::figure::{
    BeamPoint, DB_A_NEPER_OF_POWER, Depth, Field, FigureOfMerit, SmallErrors, Unit, decibels,
};
use crate::math::scalar;

/// Mean power outside the main lobe over the beam peak, averaged evenly in direction cosines. Unit: dB.
///
/// The pattern is integrated between the exact ends of the region, to 0.02 dB.
///
/// Prediction: the error-free mean plus the floor of the random errors; see [`SmallErrors`].
pub(crate) struct MeanSideLobe;

impl FigureOfMerit for MeanSideLobe {
    const NAME: &'static str = "mean_side_lobe";
    const TITLE: &'static str = "mean side lobe";
    const UNIT: Unit = Unit::Decibel;
    const DEPTH: Depth = Depth::SIDE_MEAN;
    const IS_UNDER_PEAK: bool = true;
    const EXISTS_WHERE: Option<&'static str> = Some("a side lobe needs visible space beyond the main lobe");

    fn exists(point: &BeamPoint) -> bool {
        point.has_side_lobes()
    }

    fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        decibels(&field.side_mean, &field.peak.level)
    }

    fn predicted_mean(point: &BeamPoint, errors: &SmallErrors) -> Option<f64> {
        let error_free = point.error_free.mean_side_lobe?;
        let level = error_free + errors.floor(point) * point.error_free.side_element;
        Some(DB_A_NEPER_OF_POWER * scalar::ln(level))
    }
}
