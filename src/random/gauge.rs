//! What reads the deviation of a part at an inspection.

use crate::io::{Check, Difference, Key, Optional, Table, keys};
use crate::math::{normal, scalar};
use crate::random::{Stated, Window};

/// A reading is the deviation, plus the gauge's own bias, plus a normal error of its own for each reading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Gauge {
    /// Added to every reading.
    pub bias: f64,
    /// Standard deviation of a reading of one part.
    pub sd: f64,
}

/// From here on the probability of a value below is 1, and beyond it to the other side lost beside one half, to the last bit.
const SURE: f64 = 8.5;

/// A tail e^-40 of another is lost beside it: 2^-54 would be.
const LOST: f64 = 80.0;

/// The far end of what is looked at for that: farther out a tail has no digits left.
const LAST: f64 = -37.0;

/// The probability of a standard normal value from `low` to `high`: the difference of two tails, of which those are not computed that
/// change no bit of it.
fn between(low: f64, high: f64) -> f64 {
    // The ratio of two lower tails is below exp((high^2 - low^2)/2), as exp(x^2/2) Phi(-x) falls.
    let is_lost = if high >= 0.0 { low < -SURE } else { high > LAST && low * low - high * high > LOST };
    let below_high = if high >= SURE { 1.0 } else { normal::probability(high) };
    if is_lost { below_high } else { below_high - normal::probability(low) }
}

keys! {
    pub(super) KEYS: "What reads the deviation";
    BIAS: Optional<Difference> =
        Key::difference("bias", Check::Any, "Added to every reading; 0 where it is left out").optional();
    SD: Difference = Key::difference("sd", Check::NonNegative, "Standard deviation of a reading of one part");
}

impl Gauge {
    /// Reads `{ bias = "0.01 mm", sd = "0.04 mm" }`, whose bias may be left out.
    pub(in crate::random) fn read(table: &Table, of: &Stated) -> Gauge {
        Gauge {
            bias: table.read(&BIAS.of(of.dimension)).unwrap_or(0.0),
            sd: table.read(&SD.of(of.dimension)),
        }
    }

    /// Whether readings repeat.
    pub(crate) fn is_exact(&self) -> bool {
        self.sd == 0.0
    }

    /// The probability that a part of deviation `x` reads within a window: Phi((high - x - bias)/sd) - Phi((low - x - bias)/sd).
    pub(crate) fn probability_within(&self, x: f64, window: Window) -> f64 {
        if self.is_exact() {
            return f64::from(u8::from(window.holds(x + self.bias)));
        }
        let (over, under) = ((window.high - x - self.bias) / self.sd, (window.low - x - self.bias) / self.sd);
        // The difference of the smaller tails keeps its digits.
        if under > 0.0 { between(-over, -under) } else { between(under, over) }
    }

    /// How likely a part of deviation `x` reads `reading`, up to a factor that is the same for all parts; not of an exact gauge.
    pub(crate) fn density(&self, x: f64, reading: f64) -> f64 {
        normal::density((reading - x - self.bias) / self.sd)
    }

    /// The gauge that reads parts without spread as this one reads normal parts of standard deviation `sd`.
    pub(crate) fn widened(&self, sd: f64) -> Gauge {
        Gauge { sd: scalar::hypot(self.sd, sd), ..*self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Parts of sd 1 and a gauge of sd 0.2: what is observed, the gauge's share of it, distinct categories sqrt(2) part/gauge (AIAG measurement
    /// systems analysis, from memory).
    #[test]
    fn what_is_observed_spreads_by_parts_and_gauge() {
        let gauge = Gauge { bias: 0.1, sd: 0.2 };
        let observed = gauge.widened(1.0).sd;
        assert!((observed - 1.020).abs() < 5e-4, "{observed}");
        assert!((100.0 * gauge.sd / observed - 19.61).abs() < 5e-3);
        assert!((2.0_f64.sqrt() / gauge.sd - 7.071).abs() < 5e-4);
    }

    #[test]
    fn what_is_not_computed_changes_no_bit() {
        let ends: Vec<f64> =
            (-900..=900).map(|i| f64::from(i) * 0.0437).chain([f64::NEG_INFINITY, f64::INFINITY]).collect();
        let mut left_out = 0;
        for low in &ends {
            for high in ends.iter().filter(|high| *high > low) {
                let whole = normal::probability(*high) - normal::probability(*low);
                assert_eq!(between(*low, *high).to_bits(), whole.to_bits(), "{low} {high}");
                left_out += usize::from(*high >= SURE && *low < -SURE);
            }
        }
        assert!(left_out > 100_000, "{left_out}");
        // Nearer than that it does.
        assert!(
            normal::probability(8.0) < 1.0
                && normal::probability(0.01) - normal::probability(-8.0) < normal::probability(0.01)
        );
    }

    /// Half of the parts on a limit read beyond it; probabilities of the normal distribution at whole numbers by SciPy 1.17.1, stats.norm.
    #[test]
    fn a_part_on_the_limit_reads_either_side() {
        let gauge = Gauge { bias: 0.25, sd: 0.25 };
        let up = Window { low: f64::NEG_INFINITY, high: 1.0 };
        assert_eq!(gauge.probability_within(0.75, up), 0.5);
        assert!((gauge.probability_within(1.0, up) - 0.158_655_253_931_457_05).abs() < 1e-15);
        // Far below the window the tail keeps its digits.
        let far = Window { low: 3.25, high: f64::INFINITY };
        assert!((gauge.probability_within(1.0, far) / 6.220_960_574_271_784e-16 - 1.0).abs() < 1e-12);
        let exact = Gauge { bias: 0.25, sd: 0.0 };
        assert_eq!((exact.probability_within(0.5, up), exact.probability_within(0.8, up)), (1.0, 0.0));
    }
}
