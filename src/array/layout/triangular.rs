//! Rows and columns of elements, every other row shifted.

use super::{Face, Lattice, MOST_A_SIDE, read_spacing};
use crate::io::Table;

/// `columns` elements along x by `rows` along y, the odd rows shifted along x by half the column spacing.
///
/// Equal sides take a row spacing of sqrt(3)/2 of the column spacing.
#[derive(Clone, Debug, PartialEq)]
pub struct Triangular {
    /// Elements of a row.
    pub columns: usize,
    /// Rows along y.
    pub rows: usize,
    /// Spacing along x within a row, m.
    pub column_spacing: f64,
    /// Distance from row to row, m.
    pub row_spacing: f64,
}

impl Triangular {
    /// Word for `kind`.
    pub const KIND: &'static str = "triangular";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Triangular> {
        Some(Triangular {
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
            is_staggered: true,
        })
    }
}

impl Triangular {
    /// For people; see [`Layout::title`](super::Layout::title).
    pub(super) fn title(&self, elements: &str, apart: &dyn Fn(f64) -> String) -> String {
        format!(
            "{elements} on a triangular lattice: {} rows {} apart along y, of {} elements {} apart along x, the odd rows \
             half a spacing farther",
            self.rows,
            apart(self.row_spacing),
            self.columns,
            apart(self.column_spacing)
        )
    }
}
