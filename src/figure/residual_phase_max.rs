//! Phase error left in the channels, the largest.

use crate::figure::{DEGREES, Depth, Field, Look, SmallErrors, Unit};

/// Largest size of the residual phase over the channels; see [`super::ResidualPhaseRms`]. Unit: degrees.
pub struct ResidualPhaseMax;

impl ResidualPhaseMax {
    pub(super) const NAME: &'static str = "residual_phase_max";
    pub(super) const TITLE: &'static str = "residual phase, largest";
    pub(super) const UNIT: Unit = Unit::Degree;
    pub(super) const DEPTH: Depth = Depth::RESIDUALS;

    pub(super) fn exists(_: &Look) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(_: &Look, field: &Field<W>) -> [f64; W] {
        field.residuals.phase_max.map(|largest| DEGREES * largest)
    }

    pub(super) fn predicted_mean(_: &Look, _: &SmallErrors) -> Option<f64> {
        None
    }
}
