//! A line of elements along x.

use super::{Face, Lattice, MOST_A_SIDE, Places, read_spacing, spacing};
use crate::io::{Count, Key, Special, Table, keys};

/// A line of `count` elements at one spacing.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Linear {
    /// Number of elements.
    pub count: usize,
    /// Spacing, m.
    pub spacing: f64,
}

keys! {
    pub(super) KEYS: "A line of elements along x";
    COUNT: Count = Key::count("count", 2..=MOST_A_SIDE, "12", "Number of elements").bounding();
    SPACING: Special = spacing("spacing", "15 mm", "Distance between neighbours");
}

impl Linear {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "linear";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Linear> {
        Some(Linear {
            count: table.read(&COUNT) as usize,
            spacing: read_spacing(table, &SPACING, wavelength),
        })
    }
}

impl Places for Linear {
    fn channels(&self) -> usize {
        self.count
    }

    fn face(&self) -> Face {
        let (columns, spacing) = (self.count, self.spacing);
        Face::of_lattice(Lattice { columns, rows: 1, dx: spacing, dy: spacing, is_staggered: false })
    }

    fn spacings(&self) -> Vec<f64> {
        vec![self.spacing]
    }

    fn words(&self, apart: &dyn Fn(f64) -> String) -> String {
        format!(" in a line along x, {} apart", apart(self.spacing))
    }

    fn is_line(&self) -> bool {
        true
    }

    fn is_lattice(&self) -> bool {
        true
    }
}

impl Linear {}
