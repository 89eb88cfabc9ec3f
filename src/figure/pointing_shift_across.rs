//! How far errors move the beam across the scan.

use crate::figure::pointing_shift::shift;
use crate::figure::{BeamPoint, Depth, Field, SmallErrors, Unit};

/// Angle across the scan from the peak of the error-free beam of the same look to the unit's: signed, positive toward larger azimuths.
/// Unit: degrees.
///
/// The angle is that out of the plane of the scan, the second of the two in-plane errors of a planar array, beside
/// [`PointingShift`](crate::figure::PointingShift). Does not exist for a line, which points in one plane. Prediction and source
/// are the same.
pub struct PointingShiftAcross;

impl PointingShiftAcross {
    pub(super) const NAME: &'static str = "pointing_shift_across";
    pub(super) const TITLE: &'static str = "pointing shift across the scan";
    pub(super) const UNIT: Unit = Unit::Degree;
    pub(super) const DEPTH: Depth = Depth::PATTERN;

    pub(super) fn exists(point: &BeamPoint) -> bool {
        !point.is_line
    }

    pub(super) fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let [_, across] = shift(point, field);
        across
    }

    pub(super) fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        Some(0.0)
    }
}
