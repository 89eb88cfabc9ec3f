//! Where the elements stand. One layout a file; register it in the list below.

mod lattice;

pub use lattice::Lattice;

use crate::io::{Check, Dimension, Table};

macro_rules! layouts {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub use $module::$Type;)*

        /// The layouts a study can name.
        #[derive(Clone, Debug, PartialEq)]
        pub enum Layout { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type($Type)),* }

        impl Layout {
            /// Words for `kind`.
            pub const KINDS: &[&str] = &[$($Type::KIND),*];

            /// Reads `layout = { kind = ..., ... }`; `wavelength` (m) serves spacings given in wavelengths. `None` after an
            /// error that leaves nothing to go on with.
            pub fn read(array: &Table, wavelength: f64) -> Option<Layout> {
                type Reader = fn(&Table, f64) -> Option<Layout>;
                let table = array.required_table("layout", "{ kind = \"linear\", count = 16, spacing = \"5.77 mm\" }")?;
                let options: &[(&'static str, Reader)] =
                    &[$(($Type::KIND, |t, w| $Type::read(t, w).map(Layout::$Type))),*];
                let read = table.kind("layout", options)?;
                read(&table, wavelength)
            }

            /// Number of elements.
            pub fn channels(&self) -> usize {
                match self { $(Layout::$Type(layout) => layout.channels()),* }
            }

            /// The elements at their places.
            pub fn face(&self) -> Face {
                match self { $(Layout::$Type(layout) => layout.face()),* }
            }

            /// For people: "8 elements in a line along x, 15 mm apart"; `elements` counts them, `apart` writes a spacing, m.
            pub fn title(&self, elements: &str, apart: &dyn Fn(f64) -> String) -> String {
                match self { $(Layout::$Type(layout) => layout.title(elements, apart)),* }
            }
        }
    };
}

layouts! { linear::Linear, rectangular::Rectangular, triangular::Triangular, ring::Ring, positions::Positions }

/// Where the elements stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Face {
    /// Positions along x from the middle, m, `[channel]`.
    pub x: Vec<f64>,
    /// Positions along y from the middle, m, `[channel]`; exactly 0 on a line.
    pub y: Vec<f64>,
    /// The lattice that they are on, if any.
    pub lattice: Option<Lattice>,
}

impl Face {
    fn of_lattice(lattice: Lattice) -> Face {
        let (x, y) = lattice.positions();
        Face { x, y, lattice: Some(lattice) }
    }
}

impl Layout {
    /// True for a line along x, which scans in one plane.
    pub fn is_line(&self) -> bool {
        match self {
            Layout::Positions(positions) => positions.is_line(),
            _ => matches!(self, Layout::Linear(_)),
        }
    }

    /// True where the elements stand in rows and columns, so that a taper can run along them.
    pub fn is_lattice(&self) -> bool {
        matches!(self, Layout::Linear(_) | Layout::Rectangular(_) | Layout::Triangular(_))
    }
}

/// No elements are closer than this, in wavelengths.
pub const NARROWEST: f64 = 0.01;

/// Largest number of elements along one side.
pub const MOST_A_SIDE: u64 = 4096;

/// Reads a spacing: a length, or a multiple of the wavelength such as "0.5 wavelength". Returns m.
pub fn read_spacing(table: &Table, key: &'static str, wavelength: f64) -> f64 {
    if let Some(count) = table.multiple(key, "wavelength") {
        return match count.trim().parse::<f64>() {
            Ok(count) if count > 0.0 && count.is_finite() => count * wavelength,
            _ => {
                table.error(
                    Some(table.span_of(key)),
                    format!("`{key}` is no number of wavelengths above zero"),
                    "not above zero",
                    Some("such as \"0.5 wavelength\" or \"5.77 mm\"".into()),
                );
                wavelength / 2.0
            }
        };
    }
    table.quantity(key, Dimension::Length, Check::Positive)
}
