//! The highest side lobe.

use crate::figure::{BeamPoint, Depth, Field, SmallErrors, Unit, decibels};

/// Highest local maximum outside the main lobe (out to the error-free nulls) over the beam peak. Unit: dB.
///
/// Searched over visible space; a level that still rises at its edge counts, and where the pattern has no second
/// top its highest sample outside the main lobe does. Right to 0.01 dB down to -80 dB (see `lobes`); deeper the rounding of
/// single precision shows, and at -100 dB it is right to 0.1 dB.
pub struct PeakSideLobe;

impl PeakSideLobe {
    pub(super) const NAME: &'static str = "peak_side_lobe";
    pub(super) const TITLE: &'static str = "peak side lobe";
    pub(super) const UNIT: Unit = Unit::Decibel;
    pub(super) const DEPTH: Depth = Depth::SIDE_LOBES;

    pub(super) fn exists(point: &BeamPoint) -> bool {
        point.visible.has_side_lobes()
    }

    pub(super) fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        decibels(&field.side_top, &field.peak.level)
    }

    pub(super) fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        None
    }
}
