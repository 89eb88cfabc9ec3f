//! How far errors move the beam along the scan.

use crate::figure::angles::scan_angles;
use crate::figure::{BeamPoint, DEGREES, Depth, Field, SmallErrors, Unit};

/// Angle along the scan from the peak of the error-free beam of the same look to the unit's: signed, positive toward larger angles
/// from broadside at the beam's azimuth. Unit: degrees.
///
/// The scan is the plane through broadside at the azimuth of the beam; the angle is that between both peaks seen in this plane. The
/// error-free beam has the element pattern's pull, the taper and the squint, which no production can take away: what is left is
/// the errors'. Against the command there is [`PointingError`](crate::figure::PointingError). Its error-free value is 0.
/// Prediction: 0, for errors of mean 0 move the beam by their weighted sum. Source: Rondinelli 1959 (from memory).
pub struct PointingShift;

impl PointingShift {
    pub(super) const NAME: &'static str = "pointing_shift";
    pub(super) const TITLE: &'static str = "pointing shift along the scan";
    pub(super) const UNIT: Unit = Unit::Degree;
    pub(super) const DEPTH: Depth = Depth::PATTERN;

    pub(super) fn exists(_: &BeamPoint) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let [along, _] = shift(point, field);
        along
    }

    pub(super) fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        Some(0.0)
    }
}

/// Angles from the error-free beam peak to the units', along the scan and across it, degrees.
pub(super) fn shift<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [[f64; W]; 2] {
    let from = point.error_free.peak.map(|cosine| [cosine; W]);
    scan_angles(&from, &field.peak.directions(point), point.along).map(|angles| angles.map(|of| DEGREES * of))
}
