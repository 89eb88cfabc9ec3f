//! Kinds of charts, one a file. Each takes plain numbers with names and units, and draws them; it computes no statistic.

use crate::report::page::svg::Svg;

macro_rules! plots {
    ($($module:ident::$kind:ident,)*) => {
        $(mod $module;)*
        $(pub(crate) use $module::$kind;)*

        /// A plot of one kind.
        #[derive(Clone, Debug)]
        pub(crate) enum Plot {
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

pub(crate) use curve::{Drawn, Point, Series};
pub(crate) use histogram::{Side, Stop};
pub(crate) use intervals::Row;
pub(crate) use ranked::Bar;
pub(crate) use scatter::Spot;
pub(crate) use strips::Strip;

#[cfg(test)]
mod tests;
