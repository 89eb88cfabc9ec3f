//! A tolerance whose table may state an inspection of its parts.

use crate::inspection::{inspected, stated};
use crate::io::{Check, Dimension, Table};
use crate::random::Tolerance;

/// Reads a required tolerance: a quantity alone, or `{ nominal = ..., normal = { sd = ... }, scope = "..." }`, to which
/// `and = { normal = { sd = ... }, scope = "..." }` may add a second distribution, and `inspection = { accept = "..." }` choose among its parts.
pub fn read_tolerance(parent: &Table, key: &'static str, dimension: Dimension, check: Check) -> Tolerance {
    read(parent, key, dimension, check, None)
}

/// The same, for a key that may be absent and whose nominal may be left out; both then take `default`.
pub fn read_tolerance_or(
    parent: &Table,
    key: &'static str,
    dimension: Dimension,
    check: Check,
    default: f64,
) -> Tolerance {
    read(parent, key, dimension, check, Some(default))
}

fn read(
    parent: &Table,
    key: &'static str,
    dimension: Dimension,
    check: Check,
    default: Option<f64>,
) -> Tolerance {
    let (delivered, table) = Tolerance::read_delivered(parent, key, dimension, check, default);
    let Some(table) = table else { return delivered };
    match stated::read(&table, dimension.difference()) {
        Some((inspection, span)) => inspected::apply(&table, delivered, inspection, span),
        None => delivered,
    }
}
