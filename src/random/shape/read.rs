//! Shapes as a study file writes them.

use super::{Normal, Shape, Triangular, TruncatedNormal, Uniform};
use crate::io::{Check, Dimension, Table};

type Reader = fn(&Table, Dimension) -> Result<Shape, String>;

/// A new shape is one line here: its key, and how the table behind the key is read.
const READERS: &[(&str, Reader)] = &[
    ("normal", |table, dimension| Ok(Shape::Normal(Normal::new(size(table, "sd", dimension))?))),
    ("truncated_normal", |table, dimension| {
        let at = table.quantity("at", dimension, Check::Positive);
        Ok(Shape::TruncatedNormal(TruncatedNormal::new(size(table, "sd", dimension), at)?))
    }),
    ("uniform", |table, dimension| Ok(Shape::Uniform(Uniform::new(size(table, "half_width", dimension))?))),
    ("triangular", |table, dimension| {
        Ok(Shape::Triangular(Triangular::new(size(table, "half_width", dimension))?))
    }),
];

fn size(table: &Table, key: &str, dimension: Dimension) -> f64 {
    table.quantity(key, dimension, Check::NonNegative)
}

impl Shape {
    /// Keys under which a tolerance states its shape.
    pub fn keys() -> impl Iterator<Item = &'static str> {
        READERS.iter().map(|(key, _)| *key)
    }

    /// Reads the shape of a tolerance: `normal = { sd = "0.1 mm" }` or one of its like. `None` where it states none, or none that
    /// can be read (the error is recorded). Two shapes are an error.
    pub fn read(tolerance: &Table, dimension: Dimension) -> Option<Shape> {
        let mut found: Option<(&str, Option<Shape>)> = None;
        for (key, read) in READERS {
            if !tolerance.has(key) {
                continue;
            }
            let shape = tolerance.table(key).and_then(|table| match read(&table, dimension) {
                Ok(shape) => Some(shape),
                Err(broken) => {
                    tolerance.error(tolerance.span_of(key), broken, "not a law", None);
                    None
                }
            });
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
}
