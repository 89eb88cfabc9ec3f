//! Distributions as study files write them.

use super::{
    Arcsine, Distribution, Empirical, LogNormal, Mixture, Normal, Screened, Triangular, TruncatedNormal,
    Uniform, plus_or_minus,
};
use crate::io::survey::Due;
use crate::io::{Check, Dimension, Table};

/// The value that a distribution stands beside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// Kind of quantity.
    pub dimension: Dimension,
    /// Its nominal value.
    pub nominal: f64,
}

type Reader = fn(&Table, &Stated) -> Option<Distribution>;

/// A new distribution is one line here: its key, and how the table behind the key is read.
const READERS: &[(&str, Reader)] = &[
    ("normal", |table, of| made(table, Normal::new(size(table, "sd", of)).map(Distribution::Normal))),
    ("truncated_normal", |table, of| {
        let at = table.quantity("at", of.dimension, Check::Positive);
        made(table, TruncatedNormal::new(size(table, "sd", of), at).map(Distribution::TruncatedNormal))
    }),
    ("uniform", |table, of| {
        made(table, Uniform::new(size(table, "half_width", of)).map(Distribution::Uniform))
    }),
    ("triangular", |table, of| {
        made(table, Triangular::new(size(table, "half_width", of)).map(Distribution::Triangular))
    }),
    ("arcsine", |table, of| {
        made(table, Arcsine::new(size(table, "half_width", of)).map(Distribution::Arcsine))
    }),
    ("log_normal", LogNormal::read),
    ("mixture", Mixture::read),
    ("empirical", Empirical::read),
    ("screened", Screened::read),
    ("plus_or_minus", plus_or_minus::read),
];

fn size(table: &Table, key: &str, of: &Stated) -> f64 {
    table.quantity(key, of.dimension, Check::NonNegative)
}

/// The distribution that was made of a table, or the error for it.
pub(super) fn made(table: &Table, distribution: Result<Distribution, String>) -> Option<Distribution> {
    distribution.inspect_err(|broken| table.error(table.span(), broken.as_str(), "not a law", None)).ok()
}

impl Distribution {
    /// Keys under which a tolerance states its distribution.
    pub fn keys() -> impl Iterator<Item = &'static str> {
        READERS.iter().map(|(key, _)| *key)
    }

    /// Reads the distribution of a tolerance: `normal = { sd = "0.1 mm" }` or one of its like. `None` where it states none, or none
    /// that can be read (the error is recorded). Two distributions are an error.
    pub fn read(tolerance: &Table, of: &Stated) -> Option<Distribution> {
        let mut found: Option<(&str, Option<Distribution>)> = None;
        for (key, read) in READERS {
            tolerance.expects(key, || Due::Shared(format!("{}.{key}", of.dimension.name())));
            if !tolerance.has(key) {
                continue;
            }
            let distribution = tolerance.table(key).and_then(|table| read(&table, of));
            if let Some((first, _)) = found {
                tolerance.error(
                    tolerance.span_of(key),
                    format!("both `{first}` and `{key}`"),
                    "a second shape",
                    Some("a tolerance has one shape; keep one of the two".into()),
                );
            } else {
                found = Some((key, distribution));
            }
        }
        found.and_then(|(_, distribution)| distribution)
    }

    /// The same where a distribution must be stated.
    pub(in crate::random) fn required(table: &Table, of: &Stated) -> Option<Distribution> {
        if !Self::keys().any(|key| table.has(key)) {
            let keys: Vec<String> = Self::keys().map(|key| format!("`{key}`")).collect();
            table.error(
                table.span(),
                "no law is stated here",
                "a law is due",
                Some(format!("add one of {}", keys.join(", "))),
            );
        }
        Self::read(table, of)
    }
}
