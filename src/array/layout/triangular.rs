//! Rows and columns of elements, every other row shifted.

use super::{Face, Lattice, MOST_A_SIDE, Places, read_spacing, spacing};
use crate::io::{Count, Key, Special, Table, keys};

/// `columns` elements along x by `rows` along y, the odd rows shifted along x by half the column spacing.
///
/// Equal sides take a row spacing of sqrt(3)/2 of the column spacing.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Triangular {
    /// Elements of a row.
    pub columns: usize,
    /// Rows along y.
    pub rows: usize,
    /// Spacing along x within a row, m.
    pub column_spacing: f64,
    /// Distance from row to row, m.
    pub row_spacing: f64,
}

keys! {
    pub(super) KEYS: "Rows and columns, every second row moved by half a spacing";
    COLUMNS: Count = Key::count("columns", 2..=MOST_A_SIDE, "4", "Elements of a row").bounding();
    ROWS: Count = Key::count("rows", 2..=MOST_A_SIDE, "3", "Number of rows").bounding();
    COLUMN_SPACING: Special = spacing("column_spacing", "15 mm", "Distance between neighbours of a row");
    ROW_SPACING: Special = spacing("row_spacing", "13 mm", "Distance between rows");
}

impl Triangular {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "triangular";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Triangular> {
        Some(Triangular {
            columns: table.read(&COLUMNS) as usize,
            rows: table.read(&ROWS) as usize,
            column_spacing: read_spacing(table, &COLUMN_SPACING, wavelength),
            row_spacing: read_spacing(table, &ROW_SPACING, wavelength),
        })
    }
}

impl Places for Triangular {
    fn channels(&self) -> usize {
        self.columns * self.rows
    }

    fn face(&self) -> Face {
        Face::of_lattice(Lattice {
            columns: self.columns,
            rows: self.rows,
            dx: self.column_spacing,
            dy: self.row_spacing,
            is_staggered: true,
        })
    }

    fn spacings(&self) -> Vec<f64> {
        let (dx, dy) = (self.column_spacing, self.row_spacing);
        let mut spacings = vec![dx, (dx * dx / 4.0 + dy * dy).sqrt()];
        // Two rows apart elements stand above one another.
        if self.rows > 2 {
            spacings.push(2.0 * dy);
        }
        spacings
    }

    fn words(&self, apart: &dyn Fn(f64) -> String) -> String {
        let (dx, dy) = (apart(self.column_spacing), apart(self.row_spacing));
        format!(
            " on a triangular lattice: {} rows {dy} apart along y, of {} elements {dx} apart along x, the odd rows half a \
             spacing farther",
            self.rows, self.columns
        )
    }

    fn sides(&self) -> Option<(usize, usize)> {
        Some((self.columns, self.rows))
    }

    fn is_lattice(&self) -> bool {
        true
    }
}

impl Triangular {}
