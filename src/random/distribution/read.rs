//! Distributions as study files write them.

use super::{Distribution, InvalidDistribution, READERS};
use crate::io::{Dimension, Table};

/// The value that a distribution is stated beside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stated {
    /// Kind of quantity.
    pub dimension: Dimension,
    /// Its nominal value.
    pub nominal: f64,
}

/// How the table behind a key is read.
pub(super) type Reader = fn(&Table, &Stated) -> Option<Distribution>;

/// The distribution that was made of a table, or the error for it.
pub(super) fn made<T>(table: &Table, distribution: Result<T, InvalidDistribution>) -> Option<T> {
    distribution
        .inspect_err(|broken| table.error(table.span(), broken.to_string(), "not a distribution", None))
        .ok()
}

impl Distribution {
    fn readers() -> impl Iterator<Item = (&'static str, Reader)> {
        READERS.iter().filter_map(|(key, read)| Some(((*key)?.name, *read)))
    }

    /// Keys under which a tolerance states its distribution.
    pub(crate) fn keys() -> impl Iterator<Item = &'static str> {
        Self::readers().map(|(key, _)| key)
    }

    /// Reads the distribution of a tolerance: `normal = { sd = "0.1 mm" }` or one of its like. `None` where it states none, or none
    /// that can be read (the error is recorded). Two distributions are an error.
    pub(crate) fn read(tolerance: &Table, of: &Stated) -> Option<Distribution> {
        let mut found: Option<(&str, Option<Distribution>)> = None;
        for (key, read) in Self::readers() {
            if !tolerance.has(key) {
                continue;
            }
            let distribution = tolerance.table(key).and_then(|table| read(&table, of));
            if let Some((first, _)) = found {
                tolerance.error(
                    tolerance.span_of(key),
                    format!("both `{first}` and `{key}`"),
                    "a second distribution",
                    Some("a tolerance has one distribution; keep one of the two".into()),
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
                "no distribution is stated here",
                "expected a distribution",
                Some(format!("add one of {}", keys.join(", "))),
            );
        }
        Self::read(table, of)
    }
}
