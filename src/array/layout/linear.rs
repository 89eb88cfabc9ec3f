//! A line of elements along x.

use super::{Face, Lattice, MOST_A_SIDE, read_spacing};
use crate::io::Table;

/// A line of `count` elements at one spacing.
#[derive(Clone, Debug, PartialEq)]
pub struct Linear {
    /// Number of elements.
    pub count: usize,
    /// Spacing, m.
    pub spacing: f64,
}

impl Linear {
    /// Word for `kind`.
    pub const KIND: &'static str = "linear";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Linear> {
        Some(Linear {
            count: table.bounding_count("count", 2..=MOST_A_SIDE) as usize,
            spacing: read_spacing(table, "spacing", wavelength),
        })
    }

    pub(super) fn channels(&self) -> usize {
        self.count
    }

    pub(super) fn face(&self) -> Face {
        let (columns, spacing) = (self.count, self.spacing);
        Face::of_lattice(Lattice { columns, rows: 1, dx: spacing, dy: spacing, is_staggered: false })
    }
}

impl Linear {
    /// For people; see [`Layout::title`](super::Layout::title).
    pub(super) fn title(&self, elements: &str, apart: &dyn Fn(f64) -> String) -> String {
        format!("{elements} in a line along x, {} apart", apart(self.spacing))
    }
}
