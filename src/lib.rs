//! Predicts the yield of beamforming hardware: builds virtual units from tolerances, calibrates each as a bench
//! would, steers, measures and judges it. A [`Study`] is where to begin. DEVELOPERS.md maps the code.
#![deny(missing_docs)]
#![warn(unreachable_pub)]
// The command line and the reports use more of each module than the library's own interface does.
#![cfg_attr(not(feature = "program"), expect(dead_code, unused_imports))]
// Tests may use the system's functions and write files as they like.
#![cfg_attr(test, allow(clippy::disallowed_methods))]

mod array;
mod bench;
mod chain;
#[cfg(feature = "program")]
mod cli;
mod decide;
mod design;
mod engine;
mod error;
mod figure;
mod inspection;
mod io;
mod library;
mod math;
mod model;
mod random;
#[cfg(feature = "program")]
mod report;
mod stats;
mod study;

#[cfg(test)]
extern crate self as beamyield;
#[cfg(test)]
#[path = "../tests/inside/mod.rs"]
mod inside;

pub use design::{DesignError, NoSoundValue, StudyError};
pub use engine::{CannotMerge, Control, End};
pub use error::Error;
pub use io::{Diagnostic, Severity, SourceText};
pub use library::{Comparison, Figure, FigureResults, LimitResults, Part, PlanResults, Run, Study};
pub use library::{Sweep, SweepPoint, Unit, UnitPlan};
pub use random::{Key, Stream};
pub use stats::Estimate;
pub use study::{Bound, Change, Parameter};

/// For benchmarks alone: they time models that are compiled before, and the steps of a trial.
#[doc(hidden)]
pub use library::timing;

#[cfg(feature = "program")]
#[doc(hidden)]
pub use cli::{main as program, note_streams};
