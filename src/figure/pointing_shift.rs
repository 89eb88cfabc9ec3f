//! How far errors move the beam along the scan.

use crate::figure::{BeamPoint, DEGREES, Depth, Field, FigureOfMerit, SmallErrors, Unit};

/// Angle along the scan from the peak of the error-free beam of the same beam point to the unit's: signed, positive toward larger angles
/// from broadside at the beam's azimuth. Unit: degrees.
///
/// The scan is the plane through broadside at the azimuth of the beam; the angle is that between both peaks seen in this plane. The
/// error-free beam has the element pattern's pull, the taper and the squint, which no production can take away: the rest is
/// by errors. Against the command there is [`PointingError`](crate::figure::PointingError). Its error-free value is 0.
/// Prediction: 0, for errors of mean 0 move the beam by their weighted sum. Source: Rondinelli 1959 (from memory).
pub(crate) struct PointingShift;

impl FigureOfMerit for PointingShift {
    const NAME: &'static str = "pointing_shift";
    const TITLE: &'static str = "pointing shift along the scan";
    const UNIT: Unit = Unit::Degree;
    const DEPTH: Depth = Depth::PATTERN;
    const IS_BEAM_ANGLE: bool = true;
    const IS_SIGNED: bool = true;
    const IS_USUAL: bool = false;

    fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let [along, _] = field.peak_shift(point);
        along.map(|of| DEGREES * of)
    }

    fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        Some(0.0)
    }
}
