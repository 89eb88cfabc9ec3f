//! Numerics that know nothing of hardware: pinned elementary functions, distributions and a
//! Fourier transform, all with equal bits on every machine and at every vector width.
//!
//! The system's sines and logarithms differ in bits from one C library or processor to the next,
//! so nothing that a result depends on may call them.

pub(crate) mod arc;
pub(crate) mod beta;
pub(crate) mod binomial;
pub(crate) mod bivariate;
pub(crate) mod deviate;
pub(crate) mod elementary;
pub(crate) mod gamma;
pub(crate) mod lanes;
pub(crate) mod normal;
pub(crate) mod scalar;
pub(crate) mod single;
pub(crate) mod transform;

pub(crate) use lanes::{Complex, Lanes};

/// A full turn, 2 pi.
pub(crate) const TAU: f64 = std::f64::consts::TAU;
/// Half a turn, pi.
pub(crate) const PI: f64 = std::f64::consts::PI;
/// The natural logarithm of 10.
pub(crate) const LN_10: f64 = std::f64::consts::LN_10;
