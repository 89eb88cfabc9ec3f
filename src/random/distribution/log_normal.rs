//! The log-normal distribution: a factor on the nominal value.

use super::invalid::within;
use super::{InvalidDistribution, Stated, Univariate, read::made};
use crate::io::{Check, Dimension, Key, Quantity, Special, Table, keys};
use crate::math::{elementary, normal, scalar};

/// How a study states it.
const KEY: Key<Special> = distribution!("log_normal", KEYS, "{ geometric_sd = 1.05 }");

keys! {
    KEYS: "The nominal times a factor whose logarithm is normal";
    GEOMETRIC_SD: Quantity =
        Key::number("geometric_sd", Check::Within(1.0, WIDEST), "1.05", "The factor at one standard deviation");
}

/// The value is nominal exp(s z), z standard normal, s = ln(geometric sd); so the deviation is nominal (exp(s z) - 1), its
/// mean nominal (exp(s^2/2) - 1) and its standard deviation |nominal| exp(s^2/2) sqrt(exp(s^2) - 1).
///
/// Source: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1 (1994), chapter 14 (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LogNormal {
    /// The nominal value, which is the median of the values.
    nominal: f64,
    /// Standard deviation of the logarithm.
    s: f64,
}

/// Most that a geometric standard deviation can be: six of them are a factor of a million.
const WIDEST: f64 = 10.0;

impl LogNormal {
    /// A distribution about a nominal value.
    ///
    /// # Errors
    /// If `geometric_sd` is not from 1 to 10, or `nominal` is zero or not finite.
    pub(crate) fn new(nominal: f64, geometric_sd: f64) -> Result<Self, InvalidDistribution> {
        let geometric_sd = within("the geometric standard deviation", geometric_sd, 1.0, WIDEST)?;
        if nominal == 0.0 || !nominal.is_finite() {
            return Err(InvalidDistribution::ZeroNominal);
        }
        Ok(Self { nominal, s: scalar::ln(geometric_sd) })
    }

    /// The factor's logarithm for a standard normal deviate of 1, signed so that deviations rise with it.
    fn rise(&self) -> f64 {
        self.s.copysign(self.nominal)
    }
}

impl Univariate for LogNormal {
    const NAME: &'static str = "log-normal";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        let geometric_sd = table.read(&GEOMETRIC_SD);
        if of.dimension == Dimension::Level {
            table.error(
                table.span(),
                "a log-normal distribution of a level",
                "a level in dB is a logarithm already",
                Some(
                    "write `normal = { sd = \"... dB\" }`: what is normal in dB is log-normal in power"
                        .into(),
                ),
            );
            return None;
        }
        made(table, Self::new(of.nominal, geometric_sd))
    }

    fn transform(&self, u: &mut [f64]) {
        normal::quantiles(u);
        let rise = self.rise();
        for x in u {
            *x = self.nominal * (elementary::exp(rise * *x) - 1.0);
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        let above_lowest = 1.0 + x / self.nominal;
        let at = if above_lowest > 0.0 { scalar::ln(above_lowest) } else { f64::NEG_INFINITY };
        normal::probability(at / self.rise())
    }

    fn mean(&self) -> f64 {
        self.nominal * scalar::expm1(0.5 * self.s * self.s)
    }

    fn sd(&self) -> f64 {
        let square = self.s * self.s;
        self.nominal.abs() * scalar::exp(0.5 * square) * scalar::expm1(square).sqrt()
    }

    fn range(&self) -> Option<(f64, f64)> {
        (self.s == 0.0 || self.nominal == 0.0).then_some((0.0, 0.0))
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        Self { nominal: self.nominal * factor, ..*self }
    }
}
