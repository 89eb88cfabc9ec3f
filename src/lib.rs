//! Predicts the yield of beamforming hardware: builds virtual units from tolerances, calibrates each as a bench
//! would, steers, measures and judges it. DEVELOPERS.md maps the code.
#![deny(missing_docs)]

pub mod array;
pub mod bench;
pub mod chain;
pub mod engine;
pub mod error;
pub mod figure;
pub mod io;
pub mod math;
pub mod plan;
pub mod random;
pub mod stats;
pub mod study;
