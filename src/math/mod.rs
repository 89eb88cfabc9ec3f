//! Numerics that know nothing of hardware: pinned elementary functions, distributions and a
//! Fourier transform, all with equal bits on every machine and at every vector width.
//!
//! The system's sines and logarithms differ in bits from one C library or processor to the next,
//! so nothing that a result depends on may call them.

pub mod arc;
pub mod beta;
pub mod binomial;
pub mod bivariate;
pub mod deviate;
pub mod elementary;
pub mod gamma;
pub mod lanes;
pub mod normal;
pub mod scalar;
pub mod single;
pub mod transform;

pub use lanes::{Complex, Lanes};

/// A full turn, 2 pi.
pub const TAU: f64 = std::f64::consts::TAU;
/// Half a turn, pi.
pub const PI: f64 = std::f64::consts::PI;
/// The natural logarithm of 10.
pub const LN_10: f64 = std::f64::consts::LN_10;
