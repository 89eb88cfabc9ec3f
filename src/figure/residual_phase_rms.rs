//! Phase error left in the channels, root mean square.

use crate::figure::{DEGREES, Depth, Field, Look, SmallErrors, Unit};
use crate::math::{TAU, elementary::round, scalar};

/// Phase of actual over ideal excitation with the mean complex ratio taken out, rms over the channels.
///
/// Formula: arg(q_n / mean q), q_n = x_n/w_n. Unit: degrees.
pub struct ResidualPhaseRms;

impl ResidualPhaseRms {
    pub(super) const NAME: &'static str = "residual_phase_rms";
    pub(super) const TITLE: &'static str = "residual phase, rms";
    pub(super) const UNIT: Unit = Unit::Degree;
    pub(super) const DEPTH: Depth = Depth::Channels;

    pub(super) fn exists(_: &Look) -> bool {
        true
    }

    pub(super) fn measure<const W: usize>(_: &Look, field: &Field<W>) -> [f64; W] {
        let mut sum = [0.0; W];
        residual_phases(field, |residual| {
            for l in 0..W {
                sum[l] += residual[l] * residual[l];
            }
        });
        sum.map(|sum| DEGREES * (sum / field.phase.len() as f64).sqrt())
    }

    pub(super) fn predicted_mean(_: &Look, _: &SmallErrors) -> Option<f64> {
        None
    }
}

/// Gives the residual phase of every channel, rad within half a turn.
pub(super) fn residual_phases<const W: usize>(field: &Field<W>, mut each: impl FnMut(&[f64; W])) {
    let common: [f64; W] = std::array::from_fn(|l| scalar::atan2(field.mean.im[l], field.mean.re[l]));
    for phase in &field.phase {
        each(&std::array::from_fn(|l| {
            let residual = phase[l] - common[l];
            residual - TAU * round(residual / TAU)
        }));
    }
}
