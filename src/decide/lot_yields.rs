//! The yield from lot to lot: a buyer receives lots, not the average of all.

use crate::decide::Passes;
use crate::math::scalar;
use crate::stats::{Column, Estimate, Moments, clopper_pearson};

/// The number of lots of which the worst is reported.
pub(crate) const OF: u64 = 20;

/// Lots with a smaller share of good units than this are counted.
pub(crate) const BELOW: f64 = 0.9;

/// Shares of good units in whole lots, as built. Each is what a buyer of that lot finds: it includes the binomial variation of so few
/// units.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct LotYields {
    /// Units of a lot.
    pub units: u64,
    /// Whole lots built.
    pub lots: u64,
    /// Share of the lots in which fewer than [`BELOW`] of the units are good; lots are independent, so the interval is exact.
    pub below: Estimate,
    /// Median share of good units in the worst of [`OF`] lots, from order statistics of the lots.
    pub worst: Estimate,
    /// Standard deviation of the shares.
    pub sd: f64,
    /// Its binomial part: the standard deviation if the yield of every lot were the same.
    pub sd_by_chance: f64,
    /// The remainder: standard deviation of the lots' own yields.
    pub sd_of_yields: f64,
}

impl LotYields {
    /// From the units that pass; `None` where units share no lots, and without two whole lots.
    ///
    /// The variance of the shares is that of the yields plus a binomial part, whose mean is that of y (1 - y)/(m - 1) over lots of m units
    /// with the share y good (the two moments of a variance component; Searle, Casella & McCulloch, Variance
    /// Components, 1992; from memory).
    pub(crate) fn of(passes: &Passes, confidence: f64) -> Option<LotYields> {
        let (units, shares) = passes.lot_shares()?;
        let moments = Moments::of(&shares);
        if moments.count < 2 {
            return None;
        }
        let lots = moments.count;
        let few = shares.iter().filter(|share| **share < BELOW).count() as u64;
        // The worst of n lots is above the p-quantile with probability (1 - p)^n: a half.
        let place = 1.0 - scalar::pow(0.5, 1.0 / OF as f64);
        let mut column = Column::new();
        column.keep(&shares);
        let worst = column.percentiles(&moments, &[place], confidence).pop()?;
        let binomial = shares.iter().map(|y| y * (1.0 - y)).sum::<f64>() / lots as f64 / (units - 1) as f64;
        let sd = moments.sd();
        Some(LotYields {
            units,
            lots,
            below: clopper_pearson(few, lots, confidence),
            worst,
            sd,
            sd_by_chance: binomial.sqrt(),
            sd_of_yields: (sd * sd - binomial).max(0.0).sqrt(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lots of ten; this many units of each pass.
    fn of(passing: &[usize]) -> Option<LotYields> {
        let verdicts: Vec<bool> = passing.iter().flat_map(|of| (0..10).map(move |unit| unit < *of)).collect();
        LotYields::of(&Passes::in_lots(&verdicts, 10), 0.95)
    }

    #[test]
    fn lots_are_counted_by_hand() {
        // By hand: four lots, of 10, 9, 8 and 5 good; two below 0.9. Mean 0.8, squares of deviations 0.04 + 0.01 + 0 + 0.09 = 0.14, over 3.
        // Binomial part (0 + 0.09 + 0.16 + 0.25)/4/9.
        let found = of(&[10, 9, 8, 5]).unwrap();
        assert_eq!((found.units, found.lots), (10, 4));
        assert_eq!(found.below, clopper_pearson(2, 4, 0.95));
        let (sd, binomial) = (0.14_f64 / 3.0, 0.5_f64 / 36.0);
        assert!((found.sd - sd.sqrt()).abs() < 1e-12 && (found.sd_by_chance - binomial.sqrt()).abs() < 1e-12);
        assert!((found.sd_of_yields - (sd - binomial).sqrt()).abs() < 1e-12);
        // Four lots are too few for the worst of twenty: its interval is their whole range, and says so.
        assert!(found.worst.confidence < 0.2 && found.worst.method.starts_with("range"));
        assert!(of(&[10]).is_none());
        assert!(LotYields::of(&Passes::of(&[true; 100]), 0.95).is_none());
    }

    #[test]
    fn the_worst_of_twenty_is_the_median_of_what_twenties_of_lots_have() {
        // Against brute force: 4,000 lots by a fixed rule, the least of each twenty, and the median of these 200.
        let passing: Vec<usize> =
            (0..4000_usize).map(|lot| 10 - (lot * lot * 31 + lot * 17) % 4001 * 6 / 4001).collect();
        let mut least: Vec<usize> = passing.chunks(20).map(|lots| *lots.iter().min().unwrap()).collect();
        least.sort_unstable();
        let found = of(&passing).unwrap();
        assert!((found.worst.value - least[100] as f64 / 10.0).abs() < 1e-12, "{found:?}, {}", least[100]);
        assert!(found.worst.low <= found.worst.value && found.worst.value <= found.worst.high);
        // Binomial variation alone: lots that do not differ have no spread of their own.
        assert_eq!(of(&[9; 400]).unwrap().sd_of_yields, 0.0);
    }
}
