//! Rows and columns of elements.

use super::{Face, Lattice, MOST_A_SIDE, read_spacing};
use crate::io::Table;

/// `columns` elements along x by `rows` along y.
#[derive(Clone, Debug, PartialEq)]
pub struct Rectangular {
    /// Elements along x.
    pub columns: usize,
    /// Elements along y.
    pub rows: usize,
    /// Spacing along x, m.
    pub column_spacing: f64,
    /// Spacing along y, m.
    pub row_spacing: f64,
}

impl Rectangular {
    /// Word for `kind`.
    pub const KIND: &'static str = "rectangular";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Rectangular> {
        Some(Rectangular {
            columns: table.bounding_count("columns", 2..=MOST_A_SIDE) as usize,
            rows: table.bounding_count("rows", 2..=MOST_A_SIDE) as usize,
            column_spacing: read_spacing(table, "column_spacing", wavelength),
            row_spacing: read_spacing(table, "row_spacing", wavelength),
        })
    }

    pub(super) fn channels(&self) -> usize {
        self.columns * self.rows
    }

    pub(super) fn face(&self) -> Face {
        Face::of_lattice(Lattice {
            columns: self.columns,
            rows: self.rows,
            dx: self.column_spacing,
            dy: self.row_spacing,
            is_staggered: false,
        })
    }
}

impl Rectangular {
    /// For people; see [`Layout::title`](super::Layout::title).
    pub(super) fn title(&self, elements: &str, apart: &dyn Fn(f64) -> String) -> String {
        format!(
            "{elements}: {} along x, {} apart, by {} along y, {} apart",
            self.columns,
            apart(self.column_spacing),
            self.rows,
            apart(self.row_spacing)
        )
    }
}
