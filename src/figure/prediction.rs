//! Errors as the small-error formulas know them: independent, normal, small, alike in all channels.

use crate::figure::BeamPoint;

/// Residual errors of a unit, by their mean squares over many units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct SmallErrors {
    /// Variance of the phase error of one channel, rad^2.
    pub phase_variance: f64,
    /// Variance of the amplitude error of one channel over its squared mean.
    pub amplitude_variance: f64,
    /// Share of the channels that live.
    pub live: f64,
    /// True when nothing was levelled, so that the mean amplitude is the nominal one.
    pub is_as_built: bool,
}

impl SmallErrors {
    /// From the mean squares, over many units, of the residual phase (degrees) and residual amplitude (dB) of
    /// `channels` channels at a beam point. The common factor that was taken out carried one part in N of the variance, and
    /// squint is no random error.
    pub(crate) fn new(
        point: &BeamPoint,
        phase_ms_deg: f64,
        amplitude_ms_db: f64,
        channels: usize,
        live: f64,
        is_as_built: bool,
    ) -> SmallErrors {
        let whole = channels as f64 / (channels as f64 - 1.0);
        let phase_ms = phase_ms_deg / (super::DEGREES * super::DEGREES);
        let phase_variance = whole * (phase_ms - point.error_free.squint_phase).max(0.0);
        let nepers = amplitude_ms_db * whole / (super::DB_A_NEPER * super::DB_A_NEPER);
        // Log-normal amplitudes: variance over squared mean is exp(t^2) - 1.
        let amplitude_variance = crate::math::scalar::exp(nepers) - 1.0;
        SmallErrors { phase_variance, amplitude_variance, live, is_as_built }
    }

    /// Sum a^2/(sum a)^2 of the taper: 1/N when uniform.
    pub(super) fn share(point: &BeamPoint) -> f64 {
        point.error_free.sum_of_squares / (point.error_free.sum * point.error_free.sum)
    }

    /// Mean power of the incoherent part of the field over the coherent beam peak.
    ///
    /// Formula: [(1 + sa^2) exp(s^2)/P - 1] sum a^2/(sum a)^2. Source: Ruze 1952, Allen 1961 (from memory).
    pub(super) fn floor(&self, point: &BeamPoint) -> f64 {
        let growth = (1.0 + self.amplitude_variance) * crate::math::scalar::exp(self.phase_variance);
        (growth / self.live - 1.0) * SmallErrors::share(point)
    }
}
