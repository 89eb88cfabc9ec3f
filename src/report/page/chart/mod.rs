//! Kinds of charts, one a file. Each takes plain numbers with names and units, and draws them; it computes no statistic.

use crate::report::page::svg::Svg;

macro_rules! plots {
    ($($module:ident::$kind:ident,)*) => {
        $(mod $module;)*
        $(pub use $module::$kind;)*

        /// A plot of one kind.
        #[derive(Clone, Debug)]
        pub enum Plot {
            $(
                #[doc = concat!("See [`", stringify!($kind), "`].")]
                $kind($kind),
            )*
        }

        $(
            impl From<$kind> for Plot {
                fn from(of: $kind) -> Plot {
                    Plot::$kind(of)
                }
            }
        )*

        impl Plot {
            /// The drawing; `label` is its text alternative.
            pub(super) fn svg(&self, label: &str) -> String {
                let svg: Svg = match self { $(Plot::$kind(of) => of.draw(),)* };
                svg.finish(label)
            }

            /// The kind's name, for its place in the page's style.
            pub(super) fn kind(&self) -> &'static str {
                match self { $(Plot::$kind(_) => stringify!($module),)* }
            }
        }
    };
}

plots! {
    band::Band,
    by_channel::ByChannel,
    curve::Curve,
    heat_map::HeatMap,
    histogram::Histogram,
    intervals::Intervals,
    ranked::Ranked,
    readings::Readings,
    scatter::Scatter,
    split::Split,
    strips::Strips,
}

pub use curve::{Drawn, Point, Series};
pub use histogram::{Side, Stop};
pub use intervals::Row;
pub use ranked::Bar;
pub use scatter::Spot;
pub use strips::Strip;

#[cfg(test)]
mod tests;
