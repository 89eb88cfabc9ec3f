//! How strongly each element is fed. One taper a file; register it in the list below.

use crate::array::{Lattice, Layout};
use crate::io::Table;

macro_rules! tapers {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub use $module::$Type;)*

        /// The tapers a study can name.
        #[derive(Clone, Debug, PartialEq)]
        pub enum Taper { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type($Type)),* }

        impl Taper {
            /// Words for `kind`.
            pub const KINDS: &[&str] = &[$($Type::KIND),*];

            /// Reads `taper = { kind = ..., ... }` and by what it is set; absent means uniform. Whether it fits is checked
            /// where there is a layout.
            pub fn read(array: &Table, layout: Option<&Layout>) -> (Taper, TaperBy) {
                type Reader = fn(&Table) -> Option<Taper>;
                let uniform = Taper::Uniform(Uniform);
                let Some(table) = array.table("taper") else { return (uniform, TaperBy::default()) };
                let set_by = table.choice_or("set_by", "way to set a taper", TaperBy::WORDS, TaperBy::default());
                let options: &[(&'static str, Reader)] =
                    &[$(($Type::KIND, |t| $Type::read(t).map(Taper::$Type))),*];
                let taper = table.kind("taper", options).and_then(|read| read(&table));
                if let (Some(taper), Some(layout)) = (&taper, layout) {
                    check(&table, taper, layout);
                }
                (taper.unwrap_or(uniform), set_by)
            }

            /// Amplitude of each channel, linear, largest 1, `[channel]`; `None` where the taper does not fit.
            pub fn over(&self, lattice: Option<&Lattice>, channels: usize) -> Option<Vec<f64>> {
                let amplitude = match self { $(Taper::$Type(taper) => taper.over(lattice, channels)?),* };
                Some(to_largest(amplitude))
            }

            /// For people: "Taylor taper, side lobes 25 dB below the peak, n-bar 4"; `number` writes one without a unit.
            pub fn title(&self, number: fn(f64) -> String) -> String {
                match self { $(Taper::$Type(taper) => taper.title(number)),* }
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

impl Taper {
    /// True when all elements are fed alike.
    pub fn is_uniform(&self) -> bool {
        matches!(self, Taper::Uniform(_))
    }
}

/// For people: side lobes of a level, dB.
fn side_lobes(level: f64) -> String {
    format!("side lobes {} below the peak", crate::io::quantity::format(level, crate::io::Dimension::Level))
}

/// What sets the amplitudes of a taper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TaperBy {
    /// The divider feeds the channels unlike.
    #[default]
    Divider,
    /// The channels' attenuators, behind a divider that feeds all alike.
    Attenuators,
}

impl TaperBy {
    /// Words for `set_by`.
    pub const WORDS: &[(&'static str, TaperBy)] =
        &[("divider", TaperBy::Divider), ("attenuators", TaperBy::Attenuators)];
}

/// Refuses a taper that has no meaning on a layout.
fn check(table: &Table, taper: &Taper, layout: &Layout) {
    let channels = layout.channels();
    match taper {
        Taper::Uniform(_) => {}
        Taper::Csv(csv) if csv.amplitude.len() == channels => {}
        Taper::Csv(csv) => table.error(
            table.span_of("csv"),
            format!("{} amplitudes for {channels} channels", csv.amplitude.len()),
            "as many rows are in this file",
            Some("one row for each channel, in the order of the channels".into()),
        ),
        _ if layout.is_lattice() => {}
        _ => table.error(
            table.span_of("kind"),
            "a taper along rows and columns where there are none",
            "the elements stand on no lattice",
            Some("\"uniform\", or \"csv\" with an amplitude for each element".into()),
        ),
    }
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
