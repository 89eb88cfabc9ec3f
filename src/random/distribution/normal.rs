//! The normal distribution.

use super::invalid::size;
use super::plus_or_minus::Within;
use super::read::made;
use super::{Distribution, InvalidDistribution, Stated, Univariate};
use crate::io::{Check, Difference, Key, Special, Table, keys};
use crate::math::{bivariate, normal, scalar};
use crate::random::{self, draw};

/// How a study states it.
const KEY: Key<Special> = distribution!("normal", KEYS, "{ sd = \"0.1 mm\" }");

keys! {
    KEYS: "Normal distribution";
    SD: Difference = Key::difference("sd", Check::NonNegative, "Standard deviation");
}

/// A normal distribution of mean zero: density exp(-x^2 / 2 sd^2) / (sd sqrt(2 pi)).
///
/// Source: any textbook; the quantile is Wichura's (see [`normal::quantile`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Normal {
    sd: f64,
}

impl Normal {
    /// A distribution of standard deviation `sd`.
    ///
    /// # Errors
    /// If `sd` is negative or not finite.
    pub(crate) fn new(sd: f64) -> Result<Self, InvalidDistribution> {
        Ok(Self { sd: size("standard deviation", sd)? })
    }
}

impl Univariate for Normal {
    const NAME: &'static str = "normal";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);
    const WITHIN: Option<Within> =
        Some(Within { takes_sigmas: true, make: |_, sd| Self::new(sd).map(Distribution::Normal) });

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        made(table, Self::new(table.read(&SD.of(of.dimension))))
    }

    fn transform(&self, u: &mut [f64]) {
        normal::quantiles(u);
        for x in u {
            *x *= self.sd;
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        normal::probability(x / self.sd)
    }

    /// Deviation and reading are two normal values, of correlation sd over the standard deviation of the readings.
    fn joint_cdf(&self, x: f64, reading: f64, gauge: f64) -> Option<f64> {
        let readings = scalar::hypot(self.sd, gauge);
        Some(bivariate::probability(x / self.sd, reading / readings, self.sd / readings))
    }

    fn sd(&self) -> f64 {
        self.sd
    }

    fn range(&self) -> Option<(f64, f64)> {
        (self.sd == 0.0).then_some((0.0, 0.0))
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { sd: self.sd * factor.abs() }
    }

    fn normal_sd(&self) -> Option<f64> {
        Some(self.sd)
    }

    fn draw<const W: usize>(
        &self,
        key: random::Key,
        first_trial: u64,
        slot: u32,
        rows: &mut [[f32; W]],
        _room: &mut [[f64; W]],
    ) {
        draw::normals(key, first_trial, slot, self.sd as f32, rows);
    }

    fn draw_scores<const W: usize>(
        &self,
        key: random::Key,
        first_trial: u64,
        slot: u32,
        scores: &mut [[f64; W]],
        rows: &mut [[f32; W]],
    ) {
        draw::normals(key, first_trial, slot, 1.0, rows);
        for (scores, row) in scores.iter_mut().zip(rows) {
            *scores = row.map(f64::from);
        }
    }

    fn transform_scores(&self, scores: &mut [f64]) {
        scores.iter_mut().for_each(|z| *z *= self.sd);
    }
}
