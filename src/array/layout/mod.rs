//! Where the elements stand. One layout a file; register it in the list below.

mod lattice;

pub(crate) use lattice::Lattice;

use crate::io::{Accepts, Check, Dimension, Key, Keys, Nested, Special, Table, Text, keys};

keys! {
    OF_ALL: "Where the elements stand";
    KIND: Text = Key::text("kind", "linear", "How the elements stand");
}

/// Key of the layout in the table of the array.
pub(crate) const LAYOUT: Key<Nested> =
    Key::table("layout", &Layout::KEYS, "{ kind = \"linear\", count = 16, spacing = \"5.77 mm\" }").needed();

/// What a layout answers.
trait Places {
    /// Number of elements.
    fn channels(&self) -> usize;

    /// The elements at their places.
    fn face(&self) -> Face;

    /// Distances between neighbours, m: of a lattice those that are stated and the least, elsewhere the least.
    fn spacings(&self) -> Vec<f64>;

    /// What follows "16 elements" in a report. `apart` writes a distance.
    fn words(&self, apart: &dyn Fn(f64) -> String) -> String;

    /// Number of columns and of rows, where it states both.
    fn sides(&self) -> Option<(usize, usize)> {
        None
    }

    /// True for a line along x.
    fn is_line(&self) -> bool {
        false
    }

    /// True where the elements stand in rows and columns.
    fn is_lattice(&self) -> bool {
        false
    }
}

macro_rules! layouts {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub(crate) use $module::$Type;)*

        /// The layouts a study can name.
        #[derive(Clone, Debug, PartialEq)]
        pub(crate) enum Layout { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type($Type)),* }

        impl Layout {
            /// Words for `kind`.
            #[cfg(test)]
            pub(crate) const KINDS: &[&str] = &[$($Type::KIND),*];

            /// Keys of a layout, by its kind.
            const KEYS: Keys = Keys { kinds: &[$(($Type::KIND, &$module::KEYS)),*], ..OF_ALL };

            /// Reads `layout = { kind = ..., ... }`; `wavelength` (m) serves spacings given in wavelengths. `None` after an
            /// error that leaves nothing to go on with.
            pub(crate) fn read(array: &Table, wavelength: f64) -> Option<Layout> {
                type Reader = fn(&Table, f64) -> Option<Layout>;
                let table = array.required_table(LAYOUT, LAYOUT.example)?;
                let options: &[(&'static str, Reader)] =
                    &[$(($Type::KIND, |t, w| $Type::read(t, w).map(Layout::$Type))),*];
                let read = table.kind("layout", options)?;
                read(&table, wavelength)
            }

            fn places(&self) -> &dyn Places {
                match self { $(Layout::$Type(layout) => layout),* }
            }
        }
    };
}

layouts! { linear::Linear, rectangular::Rectangular, triangular::Triangular, ring::Ring, positions::Positions }

/// Where the elements stand.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Face {
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
    /// Number of elements.
    pub(crate) fn channels(&self) -> usize {
        self.places().channels()
    }

    /// The elements at their places.
    pub(crate) fn face(&self) -> Face {
        self.places().face()
    }

    /// Distances between neighbours, m: of a lattice those that are stated and the least, elsewhere the least.
    pub(crate) fn spacings(&self) -> Vec<f64> {
        self.places().spacings()
    }

    /// Number of columns and of rows, where it states both.
    pub(crate) fn sides(&self) -> Option<(usize, usize)> {
        self.places().sides()
    }

    /// What follows "16 elements" in a report: " in a line along x, 5.77 mm apart". `apart` writes a distance.
    pub(crate) fn words(&self, apart: &dyn Fn(f64) -> String) -> String {
        self.places().words(apart)
    }

    /// True for a line along x, which scans in one plane.
    pub(crate) fn is_line(&self) -> bool {
        self.places().is_line()
    }

    /// True where the elements stand in rows and columns, so that a taper can run along them.
    pub(crate) fn is_lattice(&self) -> bool {
        self.places().is_lattice()
    }
}

/// No elements are closer than this, in wavelengths.
pub(crate) const NARROWEST: f64 = 0.01;

/// Largest number of elements along one side.
pub(crate) const MOST_A_SIDE: u64 = 4096;

/// A key that takes a length, or a multiple of the wavelength such as "0.5 wavelength".
const fn spacing(name: &'static str, example: &'static str, about: &'static str) -> Key<Special> {
    let accepts = || {
        let length = Accepts::Quantity(Dimension::Length, Check::Positive);
        Accepts::AnyOf(vec![Accepts::Multiple("wavelength"), length])
    };
    Key::special(name, accepts, example, about).needed()
}

/// Reads a spacing: a length, or a multiple of the wavelength such as "0.5 wavelength". Returns m.
fn read_spacing(table: &Table, key: &Key<Special>, wavelength: f64) -> f64 {
    let name = key.name;
    if let Some(count) = table.multiple(name, "wavelength") {
        return match count.trim().parse::<f64>() {
            Ok(count) if count > 0.0 && count.is_finite() => count * wavelength,
            _ => {
                table.error(
                    Some(table.span_of(key)),
                    format!("`{name}` is no number of wavelengths above zero"),
                    "not above zero",
                    Some("such as \"0.5 wavelength\" or \"5.77 mm\"".into()),
                );
                wavelength / 2.0
            }
        };
    }
    table.read(&Key::quantity(name, Dimension::Length, Check::Positive, key.example, key.about))
}
