//! Half-power beamwidth.

use crate::figure::angles::angle_between;
use crate::figure::{BeamPoint, DEGREES, Depth, Field, SmallErrors, Unit};

/// Half-power beamwidth along the scan, through the unit's own peak, over that of the error-free array. Unit: degrees.
///
/// Does not exist where a half-power point of the error-free array lies beyond the edge of visible space.
pub struct BeamwidthChange;

impl BeamwidthChange {
    pub(super) const NAME: &'static str = "beamwidth_change";
    pub(super) const TITLE: &'static str = "beamwidth change";
    pub(super) const UNIT: Unit = Unit::Degree;
    pub(super) const DEPTH: Depth = Depth::HALF_POWER;

    pub(super) fn exists(point: &BeamPoint) -> bool {
        point.error_free.half_power.is_some()
    }

    pub(super) fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let error_free = point.error_free.beamwidth.unwrap_or(0.0);
        beamwidths(point, field).map(|width| DEGREES * (width - error_free))
    }

    pub(super) fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        None
    }
}

/// Half-power beamwidth of each lane, rad.
pub(super) fn beamwidths<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
    let [near, far] = &field.half_power;
    angle_between(&near.directions(point), &far.directions(point))
}
