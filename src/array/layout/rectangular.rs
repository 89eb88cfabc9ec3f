//! Rows and columns of elements.

use super::{Face, Lattice, MOST_A_SIDE, Places, read_spacing, spacing};
use crate::io::{Count, Key, Special, Table, keys};

/// `columns` elements along x by `rows` along y.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Rectangular {
    /// Elements along x.
    pub columns: usize,
    /// Elements along y.
    pub rows: usize,
    /// Spacing along x, m.
    pub column_spacing: f64,
    /// Spacing along y, m.
    pub row_spacing: f64,
}

keys! {
    pub(super) KEYS: "Rows and columns";
    COLUMNS: Count = Key::count("columns", 2..=MOST_A_SIDE, "4", "Elements along x").bounding();
    ROWS: Count = Key::count("rows", 2..=MOST_A_SIDE, "3", "Elements along y").bounding();
    COLUMN_SPACING: Special = spacing("column_spacing", "0.5 wavelength", "Distance between columns");
    ROW_SPACING: Special = spacing("row_spacing", "0.5 wavelength", "Distance between rows");
}

impl Rectangular {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "rectangular";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Rectangular> {
        Some(Rectangular {
            columns: table.read(&COLUMNS) as usize,
            rows: table.read(&ROWS) as usize,
            column_spacing: read_spacing(table, &COLUMN_SPACING, wavelength),
            row_spacing: read_spacing(table, &ROW_SPACING, wavelength),
        })
    }
}

impl Places for Rectangular {
    fn channels(&self) -> usize {
        self.columns * self.rows
    }

    fn face(&self) -> Face {
        Face::of_lattice(Lattice {
            columns: self.columns,
            rows: self.rows,
            dx: self.column_spacing,
            dy: self.row_spacing,
            is_staggered: false,
        })
    }

    fn spacings(&self) -> Vec<f64> {
        vec![self.column_spacing, self.row_spacing]
    }

    fn words(&self, apart: &dyn Fn(f64) -> String) -> String {
        let (dx, dy) = (apart(self.column_spacing), apart(self.row_spacing));
        format!(": {} along x, {dx} apart, by {} along y, {dy} apart", self.columns, self.rows)
    }

    fn sides(&self) -> Option<(usize, usize)> {
        Some((self.columns, self.rows))
    }

    fn is_lattice(&self) -> bool {
        true
    }
}

impl Rectangular {}
