//! Phase error left in the channels, the largest.

use crate::figure::{BeamPoint, DEGREES, Depth, Field, SmallErrors, Unit};

/// Largest size of the residual phase over the channels; see [`super::ResidualPhaseRms`]. Unit: degrees.
pub struct ResidualPhaseMax;

impl ResidualPhaseMax {
    pub(super) const NAME: &'static str = "residual_phase_max";
    pub(super) const TITLE: &'static str = "residual phase, largest";
    pub(super) const UNIT: Unit = Unit::Degree;
    pub(super) const DEPTH: Depth = Depth::RESIDUALS;

    pub(super) fn exists(_: &BeamPoint) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.residuals.phase_max.map(|largest| DEGREES * largest)
    }

    pub(super) fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        None
    }
}
