//! Errors between channels by rounding to steps.

use crate::math::{PI, TAU, scalar};

/// Mean square by which channels differ after each was rounded to whole steps, one of two channels' mean square difference by half: q^2/12
/// where they spread over a step and more, and the spread itself where all round alike.
///
/// Formula: V = q^2/12 - q^2/(2 pi^2) sum exp(-4 pi^2 k^2 s^2/q^2)/k^2 over k >= 1, for channels that spread normally by s about a value
/// that is anywhere between two steps. Units: that of the step, squared. Source: own derivation, from the mean of r (q - r)/2, r what
/// a difference of two channels has beyond whole steps.
pub(crate) fn rounding(step: f64, sd: f64) -> f64 {
    if step <= 0.0 {
        return 0.0;
    }
    let spread = TAU * sd / step;
    let series: f64 = (1..=SERIES)
        .map(|k| {
            let k = f64::from(k);
            scalar::exp(-k * k * spread * spread) / (k * k)
        })
        .sum();
    (step * step / 12.0 - step * step / (2.0 * PI * PI) * series).max(0.0)
}

/// Terms of the series: the rest is below a thousandth of q^2/12.
const SERIES: u32 = 400;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn little_spread_is_rounded_by_luck_and_much_uniformly() {
        assert!((rounding(1.0, 10.0) - 1.0 / 12.0).abs() < 1e-12);
        assert!(rounding(1.0, 0.0) < 2e-4 && rounding(0.0, 1.0) == 0.0);
        // NumPy 2.4.6, half the mean square difference of two normals rounded about an offset anywhere, 2e6 pairs, standard errors
        // below 8e-5: sd and mean square, in steps.
        for (sd, found) in
            [(0.05, 0.025_712), (0.1, 0.046_354), (0.15, 0.062_106), (0.2, 0.072_925), (0.3, 0.081_796)]
        {
            assert!((rounding(1.0, sd) - found).abs() < 4.0 * 8e-5, "{sd}: {}", rounding(1.0, sd));
            // For contrast: q^2/12 whatever the spread.
            assert!((1.0 / 12.0 - found).abs() > 4.0 * 8e-5, "{sd}");
        }
        assert!((rounding(0.5, 0.05) - 0.25 * rounding(1.0, 0.1)).abs() < 1e-15);
    }
}
