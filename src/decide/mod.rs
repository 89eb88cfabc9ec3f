//! From yields to a decision: several designs, or one design at several values, on the same units.
//!
//! Everything here asks the engine for outcomes and weighs them; nothing is read, printed or written.

mod bench_steps;
pub mod budget;
mod compare;
pub mod cost;
pub mod inspect;
mod keeper;
mod limit;
mod lot_yields;
mod measure;
mod passes;
mod price;
pub mod required;
mod rework;
mod stages;
mod sweep;
mod together;

pub use bench_steps::{BenchStep, YieldOver, bench_steps, pareto};
pub use compare::{Candidate, Compared, MeanOver, compare, compare_yields};
pub use cost::{CostStep, Costed, Ladder, OfferCase, Pareto, Pays, Saving, Swing, Throughput};
pub use keeper::Keeper;
pub use limit::{
    Answer, Demand, Find, Found, Limit, Oracle, Probe, Question, Range, Refusal, Sought, Spacing, Span,
    Units, Verdict, fewest_units, find_limit, significant, try_on_units, units_to_tell,
};
pub use lot_yields::{BELOW, LotYields, OF};
pub use measure::Measure;
pub use passes::Passes;
pub use price::{Bill, Effort, Priced};
pub use rework::{Attempt, Mended, mend};
pub use stages::{Stages, stage};
#[cfg(test)]
pub(crate) use sweep::tests as sweep_tests;
pub use sweep::{Axis, Knee, Points, Step, Sweep, Vary, WORTH, in_steps, rises};
pub use together::{Ran, run_all};
