//! Half-power beamwidth.

use crate::figure::{BeamPoint, DEGREES, Depth, Field, FigureOfMerit, Unit};

/// Half-power beamwidth along the scan, through the unit's own peak, over that of the error-free array. Unit: degrees.
///
/// Does not exist where a half-power point of the error-free array is beyond the edge of visible space.
pub(crate) struct BeamwidthChange;

impl FigureOfMerit for BeamwidthChange {
    const NAME: &'static str = "beamwidth_change";
    const TITLE: &'static str = "beamwidth change";
    const UNIT: Unit = Unit::Degree;
    const DEPTH: Depth = Depth::HALF_POWER;
    const IS_BEAM_ANGLE: bool = true;
    const IS_SIGNED: bool = true;
    const EXISTS_WHERE: Option<&'static str> =
        Some("a beamwidth needs its half-power points in visible space");

    fn exists(point: &BeamPoint) -> bool {
        point.error_free.half_power.is_some()
    }

    fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let error_free = point.error_free.beamwidth.unwrap_or(0.0);
        field.beamwidth(point).map(|width| DEGREES * (width - error_free))
    }
}
