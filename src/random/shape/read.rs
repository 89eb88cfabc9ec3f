//! Laws as study files write them.

use super::{
    Arcsine, Empirical, LogNormal, Mixture, Normal, Screened, Shape, Triangular, TruncatedNormal, Uniform,
    plus_or_minus,
};
use crate::io::survey::Due;
use crate::io::{Check, Dimension, Table};

/// The value that a law stands beside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// Kind of quantity.
    pub dimension: Dimension,
    /// Its nominal value.
    pub nominal: f64,
}

type Reader = fn(&Table, &Stated) -> Option<Shape>;

/// A new law is one line here: its key, and how the table behind the key is read.
const READERS: &[(&str, Reader)] = &[
    ("normal", |table, of| made(table, Normal::new(size(table, "sd", of)).map(Shape::Normal))),
    ("truncated_normal", |table, of| {
        let at = table.quantity("at", of.dimension, Check::Positive);
        made(table, TruncatedNormal::new(size(table, "sd", of), at).map(Shape::TruncatedNormal))
    }),
    ("uniform", |table, of| made(table, Uniform::new(size(table, "half_width", of)).map(Shape::Uniform))),
    ("triangular", |table, of| {
        made(table, Triangular::new(size(table, "half_width", of)).map(Shape::Triangular))
    }),
    ("arcsine", |table, of| made(table, Arcsine::new(size(table, "half_width", of)).map(Shape::Arcsine))),
    ("log_normal", LogNormal::read),
    ("mixture", Mixture::read),
    ("empirical", Empirical::read),
    ("screened", Screened::read),
    ("plus_or_minus", plus_or_minus::read),
];

fn size(table: &Table, key: &str, of: &Stated) -> f64 {
    table.quantity(key, of.dimension, Check::NonNegative)
}

/// The law that was made of a table, or the error for it.
pub(super) fn made(table: &Table, law: Result<Shape, String>) -> Option<Shape> {
    law.inspect_err(|broken| table.error(table.span(), broken.as_str(), "not a law", None)).ok()
}

impl Shape {
    /// Keys under which a tolerance states its law.
    pub fn keys() -> impl Iterator<Item = &'static str> {
        READERS.iter().map(|(key, _)| *key)
    }

    /// Reads the law of a tolerance: `normal = { sd = "0.1 mm" }` or one of its like. `None` where it states none, or none
    /// that can be read (the error is recorded). Two laws are an error.
    pub fn read(tolerance: &Table, of: &Stated) -> Option<Shape> {
        let mut found: Option<(&str, Option<Shape>)> = None;
        for (key, read) in READERS {
            tolerance.expects(key, || Due::Shared(format!("{}.{key}", of.dimension.name())));
            if !tolerance.has(key) {
                continue;
            }
            let shape = tolerance.table(key).and_then(|table| read(&table, of));
            if let Some((first, _)) = found {
                tolerance.error(
                    tolerance.span_of(key),
                    format!("both `{first}` and `{key}`"),
                    "a second shape",
                    Some("a tolerance has one shape; keep one of the two".into()),
                );
            } else {
                found = Some((key, shape));
            }
        }
        found.and_then(|(_, shape)| shape)
    }

    /// The same where a law must be stated.
    pub(in crate::random) fn required(table: &Table, of: &Stated) -> Option<Shape> {
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
