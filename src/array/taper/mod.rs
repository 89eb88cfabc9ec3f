//! How strongly each element is fed. One taper a file; register it in the list below.

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

            /// Reads `taper = { kind = ..., ... }`; absent means uniform.
            pub fn read(array: &Table) -> Taper {
                type Reader = fn(&Table) -> Taper;
                let uniform = Taper::Uniform(Uniform);
                let Some(table) = array.table("taper") else { return uniform };
                let options: &[(&'static str, Reader)] = &[$(($Type::KIND, |t| Taper::$Type($Type::read(t)))),*];
                match table.kind("taper", options) {
                    Some(read) => read(&table),
                    None => uniform,
                }
            }

            /// Amplitudes along a line of `count` elements, linear, largest 1.
            pub fn line(&self, count: usize) -> Vec<f64> {
                if count == 1 {
                    return vec![1.0];
                }
                let mut line = match self { $(Taper::$Type(taper) => taper.line(count)),* };
                let largest = line.iter().fold(0.0, |a: f64, b| a.max(*b));
                line.iter_mut().for_each(|a| *a /= largest);
                line
            }
        }
    };
}

tapers! { uniform::Uniform, taylor::Taylor, dolph_chebyshev::DolphChebyshev }
