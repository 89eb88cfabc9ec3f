//! Random numbers keyed by what is read: a draw is a pure function of (seed, source name, trial,
//! index, slot), so nothing depends on the order, the number or the thread of the draws.

mod correlation;
pub mod draw;
mod draws;
mod gauge;
mod inspected;
pub mod key;
pub mod philox;
mod sampling;
mod scope;
pub mod shape;
mod source;
mod tolerance;
mod value;
mod window;

pub use correlation::{Correlation, Parameter};
pub use draws::Draws;
pub use gauge::Gauge;
pub use inspected::{Inspected, Inspection};
pub use key::Key;
pub use sampling::Sampling;
pub use scope::{Grouping, Scope};
pub use shape::{
    Arcsine, Chance, Empirical, LogNormal, Mixture, Normal, Part, Sampled, Screened, Shape, Stated,
    Triangular, TruncatedNormal, Uniform,
};
pub use source::{Place, Source, Sources, Twins, whole_lots};
pub use tolerance::{Spread, Tolerance};
pub use value::Value;
pub use window::Window;
