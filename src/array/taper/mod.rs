//! How strongly each element is fed. One taper a file; register it in the list below.

use crate::array::{Lattice, Layout};
use crate::io::{Dimension, Key, Keys, Nested, Or, Table, Text, Word, keys, quantity};

keys! {
    OF_ALL: "How strongly each element is fed; all alike where it is left out";
    KIND: Text = Key::text("kind", "taylor", "How strongly each element is fed");
    SET_BY: Or<Word<TaperBy>, TaperBy> =
        Key::word("set_by", "way to set a taper", || TaperBy::WORDS.to_vec(), "divider",
            "What sets the amplitudes; the divider where it is left out").or(TaperBy::Divider);
}

/// Key of the taper in the table of the array.
pub(crate) const TAPER: Key<Nested> =
    Key::table("taper", &Taper::KEYS, "{ kind = \"taylor\", side_lobe = \"25 dB\", nbar = 4 }");

/// What a taper answers.
trait Feeds {
    /// Amplitude of each channel, linear, `[channel]`; `None` where the taper does not fit.
    fn over(&self, lattice: Option<&Lattice>, channels: usize) -> Option<Vec<f64>>;

    /// What it is in a report: "Taylor taper, side lobes 25 dB below the peak, n-bar 4".
    fn words(&self) -> String;

    /// Refuses the taper at `table` where it has no meaning on a layout: as it does on one without rows and columns.
    fn check(&self, table: &Table, layout: &Layout) {
        if !layout.is_lattice() {
            table.error(
                table.span_of(KIND),
                "a taper along rows and columns where there are none",
                "the elements stand on no lattice",
                Some("\"uniform\", or \"csv\" with an amplitude for each element".into()),
            );
        }
    }

    /// Whether it feeds all channels alike.
    fn is_uniform(&self) -> bool {
        false
    }
}

macro_rules! tapers {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub(crate) use $module::$Type;)*

        /// The tapers a study can name.
        #[derive(Clone, Debug, PartialEq)]
        pub(crate) enum Taper { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type($Type)),* }

        impl Taper {
            /// Words for `kind`.
            #[cfg(test)]
            pub(crate) const KINDS: &[&str] = &[$($Type::KIND),*];

            /// Keys of a taper, by its kind.
            const KEYS: Keys = Keys { kinds: &[$(($Type::KIND, &$module::KEYS)),*], ..OF_ALL };

            /// Reads `taper = { kind = ..., ... }` and by what it is set; absent means uniform. Whether it fits is checked
            /// where there is a layout.
            pub(crate) fn read(array: &Table, layout: Option<&Layout>) -> (Taper, TaperBy) {
                type Reader = fn(&Table) -> Option<Taper>;
                let uniform = Taper::Uniform(Uniform);
                let Some(table) = array.table(TAPER) else { return (uniform, TaperBy::default()) };
                let set_by = table.read(&SET_BY);
                let options: &[(&'static str, Reader)] =
                    &[$(($Type::KIND, |t| $Type::read(t).map(Taper::$Type))),*];
                let taper = table.kind("taper", options).and_then(|read| read(&table));
                if let (Some(taper), Some(layout)) = (&taper, layout) {
                    taper.feeds().check(&table, layout);
                }
                (taper.unwrap_or(uniform), set_by)
            }

            fn feeds(&self) -> &dyn Feeds {
                match self { $(Taper::$Type(taper) => taper),* }
            }
        }
    };
}

tapers! {
    uniform::Uniform,
    taylor::Taylor,
    dolph_chebyshev::DolphChebyshev,
    cosine_pedestal::CosinePedestal,
    csv::Csv,
}

/// What sets the amplitudes of a taper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum TaperBy {
    /// The divider feeds the channels unlike.
    #[default]
    Divider,
    /// The channels' attenuators, behind a divider that feeds all alike.
    Attenuators,
}

impl TaperBy {
    /// Words for `set_by`.
    pub(crate) const WORDS: &[(&'static str, TaperBy)] =
        &[("divider", TaperBy::Divider), ("attenuators", TaperBy::Attenuators)];
}

impl Taper {
    /// Amplitude of each channel, linear, largest 1, `[channel]`; `None` where the taper does not fit.
    pub(crate) fn over(&self, lattice: Option<&Lattice>, channels: usize) -> Option<Vec<f64>> {
        self.feeds().over(lattice, channels).map(to_largest)
    }

    /// What it is in a report: "Taylor taper, side lobes 25 dB below the peak, n-bar 4".
    pub(crate) fn words(&self) -> String {
        self.feeds().words()
    }

    /// Whether it feeds all channels alike.
    pub(crate) fn is_uniform(&self) -> bool {
        self.feeds().is_uniform()
    }
}

/// "side lobes 25 dB below the peak".
fn side_lobes(level: f64) -> String {
    format!("side lobes {} below the peak", quantity::format(level, Dimension::Level))
}

/// A taper of lines over a plane: the product of the tapers of its two lines. On a triangular lattice the line along x has a
/// place for each half spacing, of which the even rows take the even ones and the odd rows the odd ones.
fn of_lines(lattice: &Lattice, line: impl Fn(usize) -> Vec<f64>) -> Vec<f64> {
    let whole = |count| if count == 1 { vec![1.0] } else { to_largest(line(count)) };
    let places = if lattice.is_staggered { 2 } else { 1 };
    let (along_x, along_y) = (whole(places * lattice.columns), whole(lattice.rows));
    let of_row = |(row, of_row): (usize, &f64)| {
        let first = if lattice.is_staggered { row % 2 } else { 0 };
        let taken = along_x[first..].iter().step_by(places);
        taken.map(|of_column| of_column * of_row).collect::<Vec<f64>>()
    };
    along_y.iter().enumerate().flat_map(of_row).collect()
}

fn to_largest(mut amplitude: Vec<f64>) -> Vec<f64> {
    let largest = amplitude.iter().fold(0.0, |a: f64, b| a.max(*b));
    amplitude.iter_mut().for_each(|a| *a /= largest);
    amplitude
}
