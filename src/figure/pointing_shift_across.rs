//! How far errors move the beam across the scan.

use crate::figure::{BeamPoint, DEGREES, Depth, Field, FigureOfMerit, SmallErrors, Unit};

/// Angle across the scan from the peak of the error-free beam of the same beam point to the unit's: signed, positive toward larger azimuths.
/// Unit: degrees.
///
/// The angle is that out of the plane of the scan, the second of the two in-plane errors of a planar array, beside
/// [`PointingShift`](crate::figure::PointingShift). Does not exist for a line, which points in one plane. Prediction and source
/// are the same.
pub(crate) struct PointingShiftAcross;

impl FigureOfMerit for PointingShiftAcross {
    const NAME: &'static str = "pointing_shift_across";
    const TITLE: &'static str = "pointing shift across the scan";
    const UNIT: Unit = Unit::Degree;
    const DEPTH: Depth = Depth::PATTERN;
    const IS_BEAM_ANGLE: bool = true;
    const IS_SIGNED: bool = true;
    const IS_USUAL: bool = false;
    const EXISTS_WHERE: Option<&'static str> = Some("a shift across the scan needs an array that is no line");

    fn exists(point: &BeamPoint) -> bool {
        !point.is_line
    }

    fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let [_, across] = field.peak_shift(point);
        across.map(|of| DEGREES * of)
    }

    fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        Some(0.0)
    }
}
