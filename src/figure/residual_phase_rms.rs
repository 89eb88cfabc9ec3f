//! Phase error left in the channels, root mean square.

use crate::figure::{BeamPoint, DEGREES, Depth, Field, SmallErrors, Unit};

/// Phase of actual over ideal excitation with the mean complex ratio taken out, rms over the channels.
///
/// Formula: arg(q_n / mean q), q_n = x_n/w_n. Unit: degrees.
pub struct ResidualPhaseRms;

impl ResidualPhaseRms {
    pub(super) const NAME: &'static str = "residual_phase_rms";
    pub(super) const TITLE: &'static str = "residual phase, rms";
    pub(super) const UNIT: Unit = Unit::Degree;
    pub(super) const DEPTH: Depth = Depth::RESIDUALS;

    pub(super) fn exists(_: &BeamPoint) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.residuals.phase_rms.map(|rms| DEGREES * rms)
    }

    pub(super) fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        None
    }
}
