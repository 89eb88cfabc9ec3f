//! Random numbers keyed by what is read: a draw is a pure function of (seed, source name, trial,
//! index, slot), so nothing depends on the order, the number or the thread of the draws.

pub mod draw;
pub mod key;
pub mod philox;
pub mod shape;
mod source;
mod tolerance;

pub use key::Key;
pub use shape::{Normal, Shape, Triangular, TruncatedNormal, Uniform};
pub use source::{Draws, Grouping, Place, Source, Sources};
pub use tolerance::{Scope, Spread, Tolerance};
