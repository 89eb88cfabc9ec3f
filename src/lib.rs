//! Predicts the yield of beamforming hardware: builds virtual units from tolerances, calibrates each as a bench
//! would, steers, measures and judges it. DEVELOPERS.md maps the code.
#![deny(missing_docs)]
// Tests may use the system's functions and write files as they like.
#![cfg_attr(test, allow(clippy::disallowed_methods))]

pub mod array;
pub mod bench;
pub mod chain;
pub mod cli;
pub mod decide;
pub mod design;
pub mod engine;
pub mod error;
pub mod figure;
pub mod inspection;
pub mod io;
pub mod math;
pub mod model;
pub mod random;
pub mod report;
pub mod stats;
pub mod study;
