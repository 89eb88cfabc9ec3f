//! Random numbers keyed by what is read: a draw is a pure function of (seed, source name, trial,
//! index, slot), so nothing depends on the order, the number or the thread of the draws.

mod correlation;
pub(crate) mod distribution;
pub(crate) mod draw;
mod draws;
mod gauge;
mod inspected;
pub(crate) mod key;
pub(crate) mod philox;
mod sampling;
mod scope;
mod source;
mod stream;
mod tolerance;
mod toleranced;
mod value;
mod window;

pub(crate) use correlation::{CORRELATION, Correlation, Parameter};
#[cfg(test)]
pub(crate) use distribution::{
    Arcsine, Beta, Empirical, Gamma, LogNormal, Mixture, Part, Triangular, TruncatedNormal, Weibull,
};
pub(crate) use distribution::{
    DISTRIBUTIONS, Distribution, InvalidDistribution, Normal, Sampled, Screened, Stated, Uniform,
};
pub(crate) use draws::Draws;
pub(crate) use gauge::Gauge;
pub(crate) use inspected::{Inspected, Inspection};
pub use key::Key;
pub(crate) use sampling::Sampling;
pub(crate) use scope::{GROUPS, Grouping, LOT, Scope};
pub(crate) use source::{Place, SharedDraws, Source, Sources, whole_lots};
pub use stream::Stream;
pub(crate) use tolerance::{NOMINAL, SPREAD, Spread, Tolerance};
pub(crate) use toleranced::Toleranced;
pub(crate) use value::Value;
pub(crate) use window::Window;
