//! Radiated power in the commanded direction.

use crate::figure::{
    BeamPoint, DB_A_NEPER_OF_POWER, Depth, Field, FigureOfMerit, SmallErrors, Unit, decibels,
};
use crate::math::scalar;

/// Power radiated in the commanded direction over that of the error-free, unattenuated array. Unit: dB.
///
/// Formula: 10 log10 of |sum x e|^2 over the same for the ideal excitation; attenuation by levelling counts.
/// Prediction, for units as built: exp(t^2) (exp(-s^2) + [(1 + sa^2) - exp(-s^2)] sum a^2/(sum a)^2), t the amplitude spread in
/// nepers, whose log-normal mean is exp(t^2/2). Source: Ruze 1952, Elliott 1958 (from memory).
pub(crate) struct EirpChange;

impl FigureOfMerit for EirpChange {
    const NAME: &'static str = "eirp_change";
    const TITLE: &'static str = "EIRP change";
    const UNIT: Unit = Unit::Decibel;
    const DEPTH: Depth = Depth::SUMS;

    fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let ideal = point.error_free.sum * point.error_free.sum;
        decibels(&field.sums.coherent_power(), &[ideal; W])
    }

    fn predicted_mean(point: &BeamPoint, errors: &SmallErrors) -> Option<f64> {
        let spread = 1.0 + errors.amplitude_variance;
        let coherent = scalar::exp(-errors.phase_variance);
        let live = errors.live;
        let coherent_power = live * coherent * point.error_free.coherence;
        let floor = (spread - live * coherent) * SmallErrors::share(point);
        let power = spread * live * (coherent_power + floor);
        errors.is_as_built.then(|| DB_A_NEPER_OF_POWER * scalar::ln(power))
    }
}
