//! The library's own interface: read a study, change it, run it, compare and sweep. Everything else in the crate stands behind it.

mod compare;
mod results;
mod split;
mod study;
mod sweep;
pub mod timing;
mod unit;

pub use compare::Comparison;
pub use results::{Figure, FigureResults, LimitResults, PlanResults, Run};
pub use split::Part;
pub use study::Study;
pub use sweep::{Sweep, SweepPoint};
pub use unit::{Unit, UnitPlan};
