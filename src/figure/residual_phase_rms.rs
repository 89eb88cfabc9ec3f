//! Phase error left in the channels, root mean square.

use crate::figure::{BeamPoint, DEGREES, Depth, Field, FigureOfMerit, HALF_A_TURN, Residual, Unit};

/// Phase of actual over ideal excitation with the mean complex ratio taken out, rms over the channels.
///
/// Formula: arg(q_n / mean q), q_n = x_n/w_n. Unit: degrees.
pub(crate) struct ResidualPhaseRms;

impl FigureOfMerit for ResidualPhaseRms {
    const NAME: &'static str = "residual_phase_rms";
    const TITLE: &'static str = "residual phase, rms";
    const UNIT: Unit = Unit::Degree;
    const DEPTH: Depth = Depth::RESIDUALS;
    const RMS_RESIDUAL: Option<Residual> = Some(Residual::Phase);

    fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.residuals.phase_rms.map(|rms| DEGREES * rms)
    }

    fn attainable(_: &BeamPoint) -> (f64, f64) {
        (0.0, HALF_A_TURN)
    }
}
