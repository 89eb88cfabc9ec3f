//! The distribution of parts that were measured.

use super::invalid::finite;
use super::{InvalidDistribution, Stated, Univariate, read::made};
use crate::io::{Key, Special, Table, Text, Word, keys};
use std::sync::Arc;

/// How a study states it.
const KEY: Key<Special> =
    distribution!("empirical", KEYS, "{ csv = \"cables.csv\", column = \"length\", about = \"mean\" }");

keys! {
    KEYS: "Parts like those that were measured";
    CSV: Text = Key::text("csv", "cables.csv", "A file with a row for each part that was measured");
    COLUMN: Text = Key::text("column", "length", "Column of the file, without the unit that ends its name");
    ABOUT: Word<About> = Key::word("about", "reference", || ABOUTS.to_vec(), "mean",
        "What deviations are taken from: the nominal value, or the mean of the parts");
}

/// The measured parts, drawn between one another: the quantile runs straight from part to part, the i-th of n in size at
/// the probability (i - 1/2)/n, and stays at the smallest and the largest part beyond. So no draw is beyond the measured
/// parts. The mean is that of the parts; the variance is that of this distribution,
/// [x1^2/2 + xn^2/2 + sum of (xi^2 + xi xi+1 + xi+1^2)/3]/n about the mean, a little less than the parts' own.
///
/// Source: plotting positions by Hazen (from memory); moments by own derivation.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Empirical {
    /// Rising.
    deviations: Arc<[f64]>,
    mean: f64,
    sd: f64,
}

/// Fewer parts say nothing of a distribution.
const FEWEST: usize = 5;

/// What measured values deviate from.
#[derive(Clone, Copy, Debug, PartialEq)]
enum About {
    Nominal,
    Mean,
}

/// Words for `about`.
const ABOUTS: &[(&str, About)] = &[("nominal", About::Nominal), ("mean", About::Mean)];

impl Empirical {
    /// The distribution of measured deviations, in any order.
    ///
    /// # Errors
    /// If there are fewer than five, or one is not finite.
    pub(crate) fn new(mut deviations: Vec<f64>) -> Result<Self, InvalidDistribution> {
        if deviations.len() < FEWEST {
            return Err(InvalidDistribution::TooFewParts { found: deviations.len(), fewest: FEWEST });
        }
        deviations.iter().try_for_each(|x| finite("a deviation", *x).map(drop))?;
        deviations.sort_by(f64::total_cmp);
        let n = deviations.len() as f64;
        let (lowest, highest) = (deviations[0], deviations[deviations.len() - 1]);
        // Of equal parts the mean is that part, to the bit.
        let mean = lowest + deviations.iter().map(|x| x - lowest).sum::<f64>() / n;
        let ends = 0.5 * (lowest - mean) * (lowest - mean) + 0.5 * (highest - mean) * (highest - mean);
        let between = deviations.windows(2).map(|pair| {
            let (a, b) = (pair[0] - mean, pair[1] - mean);
            (a * a + a * b + b * b) / 3.0
        });
        let sd = ((ends + between.sum::<f64>()) / n).sqrt();
        Ok(Self { deviations: deviations.into(), mean, sd })
    }
}

impl Univariate for Empirical {
    const NAME: &'static str = "empirical";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        let column = table.read(&COLUMN);
        let about = table.read(&ABOUT);
        let columns = table.columns(&CSV)?;
        if !table.is_sound(COLUMN) || column.is_empty() {
            return None;
        }
        let values = columns.quantity(&column, of.dimension)?;
        if values.len() < FEWEST {
            columns.error(
                values.len() - 1,
                &column,
                format!("{} measured parts are too few for a distribution", values.len()),
                "the last of them",
                &format!("at least {FEWEST} rows"),
            );
            return None;
        }
        let centre = match about {
            About::Nominal => of.nominal,
            About::Mean => values.iter().sum::<f64>() / values.len() as f64,
        };
        made(table, Self::new(values.iter().map(|value| value - centre).collect()))
    }

    fn transform(&self, u: &mut [f64]) {
        let (n, last) = (self.deviations.len() as f64, self.deviations.len() - 1);
        for u in u {
            let at = (n * *u - 0.5).max(0.0).min(last as f64);
            let below = (at as usize).min(last - 1);
            let (low, high) = (self.deviations[below], self.deviations[below + 1]);
            *u = low + (at - below as f64) * (high - low);
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        let n = self.deviations.len();
        let count = self.deviations.partition_point(|deviation| *deviation <= x);
        if count == 0 || count == n {
            return if count == 0 { 0.0 } else { 1.0 };
        }
        let (low, high) = (self.deviations[count - 1], self.deviations[count]);
        (count as f64 - 0.5 + (x - low) / (high - low)) / n as f64
    }

    fn mean(&self) -> f64 {
        self.mean
    }

    fn sd(&self) -> f64 {
        self.sd
    }

    fn range(&self) -> Option<(f64, f64)> {
        Some((self.deviations[0], self.deviations[self.deviations.len() - 1]))
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        let mut deviations: Vec<f64> = self.deviations.iter().map(|x| factor * x).collect();
        deviations.sort_by(f64::total_cmp);
        Self { deviations: deviations.into(), mean: factor * self.mean, sd: factor.abs() * self.sd }
    }
}
