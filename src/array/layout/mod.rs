//! Where the elements stand. One layout a file; register it in the list below.

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

            /// Reads `layout = { kind = ..., ... }`; `wavelength` (m) serves spacings given in wavelengths.
            pub fn read(array: &Table, wavelength: f64) -> Option<Layout> {
                type Reader = fn(&Table, f64) -> Layout;
                let table = array.required_table("layout", "{ kind = \"linear\", count = 16, spacing = \"5.77 mm\" }")?;
                let options: &[(&'static str, Reader)] =
                    &[$(($Type::KIND, |t, w| Layout::$Type($Type::read(t, w)))),*];
                let read = table.kind("layout", options)?;
                Some(read(&table, wavelength))
            }

            /// The lattice the elements stand on.
            pub fn lattice(&self) -> Lattice {
                match self { $(Layout::$Type(layout) => layout.lattice()),* }
            }
        }
    };
}

layouts! { linear::Linear, rectangular::Rectangular }

/// A rectangular lattice; a line has one row. Channels are counted along x first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lattice {
    /// Elements along x.
    pub columns: usize,
    /// Elements along y; 1 for a line.
    pub rows: usize,
    /// Spacing along x, m.
    pub dx: f64,
    /// Spacing along y, m; without meaning for a line.
    pub dy: f64,
}

impl Lattice {
    /// True for a line along x.
    pub fn is_line(&self) -> bool {
        self.rows == 1
    }
}

/// Largest number of elements along one side.
pub const MOST_A_SIDE: u64 = 4096;

/// Reads a spacing: a length, or a multiple of the wavelength such as "0.5 wavelength". Returns m.
pub fn read_spacing(table: &Table, key: &'static str, wavelength: f64) -> f64 {
    if table.is_text(key) {
        let text = table.text(key);
        let count = text.strip_suffix("wavelengths").or_else(|| text.strip_suffix("wavelength"));
        if let Some(count) = count {
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
    }
    table.quantity(key, Dimension::Length, Check::Positive)
}
