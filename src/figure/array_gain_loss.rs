//! Array gain lost to errors.

use crate::figure::{
    BeamPoint, DB_A_NEPER_OF_POWER, Depth, Field, FigureOfMerit, SmallErrors, Unit, decibels,
};
use crate::math::scalar;

/// Gain in the commanded direction for the power fed, under that of the error-free array, a positive loss.
///
/// Formula: -10 log10 of |sum x e|^2 / sum |x|^2 over the same for the ideal excitation. Unit: dB.
/// Prediction: c + (1 - c) sum a^2/(sum a)^2, c = exp(-s^2)/(1 + sa^2); the handbook form with its 1/N term. Off the
/// command frequency the squint's own loss multiplies the coherent part.
pub(crate) struct ArrayGainLoss;

impl FigureOfMerit for ArrayGainLoss {
    const NAME: &'static str = "array_gain_loss";
    const TITLE: &'static str = "array-gain loss";
    const UNIT: Unit = Unit::Decibel;
    const DEPTH: Depth = Depth::SUMS;

    fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let share = SmallErrors::share(point);
        let coherent = field.sums.coherent_power().map(|power| power * share);
        decibels(&field.sums.power, &coherent)
    }

    fn predicted_mean(point: &BeamPoint, errors: &SmallErrors) -> Option<f64> {
        let share = SmallErrors::share(point);
        let c = errors.live * scalar::exp(-errors.phase_variance) / (1.0 + errors.amplitude_variance);
        let power = c * point.error_free.coherence + (1.0 - c) * share;
        Some(-DB_A_NEPER_OF_POWER * scalar::ln(power))
    }

    /// An array without taper gains most: N over the taper's own (sum a)^2/sum a^2 (Cauchy-Schwarz). Where the beam squints no bound
    /// is known.
    fn attainable(point: &BeamPoint) -> (f64, f64) {
        if point.squints() {
            return (f64::NEG_INFINITY, f64::INFINITY);
        }
        let (sum, squares) = (point.error_free.sum, point.error_free.sum_of_squares);
        (-10.0 * scalar::log10(point.path.len() as f64 * squares / (sum * sum)), f64::INFINITY)
    }
}
