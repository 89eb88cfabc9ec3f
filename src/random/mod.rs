//! Random numbers keyed by what is read: a draw is a pure function of (seed, source name, trial,
//! index, slot), so nothing depends on the order, the number or the thread of the draws.

mod correlation;
pub mod distribution;
pub mod draw;
mod draws;
mod gauge;
mod inspected;
pub mod key;
pub mod philox;
mod sampling;
mod scope;
mod source;
mod stream;
mod tolerance;
mod toleranced;
mod value;
mod window;

pub use correlation::{CORRELATION, Correlation, Parameter};
#[cfg(test)]
pub use distribution::{
    Arcsine, Beta, Empirical, Gamma, LogNormal, Mixture, Part, Triangular, TruncatedNormal, Weibull,
};
pub use distribution::{
    DISTRIBUTIONS, Distribution, InvalidDistribution, Normal, Sampled, Screened, Stated, Uniform,
};
pub use draws::Draws;
pub use gauge::Gauge;
pub use inspected::{Inspected, Inspection};
pub use key::Key;
pub use sampling::Sampling;
pub use scope::{GROUPS, Grouping, LOT, Scope};
pub use source::{Place, SharedDraws, Source, Sources, whole_lots};
pub use stream::Stream;
pub use tolerance::{NOMINAL, SPREAD, Spread, Tolerance};
pub use toleranced::Toleranced;
pub use value::Value;
pub use window::Window;
