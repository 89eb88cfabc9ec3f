//! Phase error left in the channels, the largest.

use crate::figure::{BeamPoint, DEGREES, Depth, Field, FigureOfMerit, HALF_A_TURN, Unit};

/// Largest size of the residual phase over the channels; see [`super::ResidualPhaseRms`]. Unit: degrees.
pub(crate) struct ResidualPhaseMax;

impl FigureOfMerit for ResidualPhaseMax {
    const NAME: &'static str = "residual_phase_max";
    const TITLE: &'static str = "residual phase, largest";
    const UNIT: Unit = Unit::Degree;
    const DEPTH: Depth = Depth::RESIDUALS;

    fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.residuals.phase_max.map(|largest| DEGREES * largest)
    }

    fn attainable(_: &BeamPoint) -> (f64, f64) {
        (0.0, HALF_A_TURN)
    }
}
