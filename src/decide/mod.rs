//! From yields to a decision: several designs, or one design at several values, on the same units.
//!
//! Everything here asks the engine for outcomes and weighs them; nothing is read, printed or written.

mod bench_steps;
pub mod budget;
mod compare;
pub mod cost;
mod design_runs;
pub mod inspect;
mod limit;
mod lot_yields;
mod measure;
mod pass_collector;
mod passes;
mod price;
mod progress;
pub mod required;
mod rework;
mod sweep;

pub use bench_steps::{BenchStep, YieldDifference, bench_steps, pareto_front};
pub use compare::{Candidate, CompareResult, MeanDifference, compare, compare_yields};
pub use cost::{CostResult, CostStep, Ladder, OfferCase, Pareto, Pays, Saving, Swing};
pub use design_runs::{DesignRun, run_all};
pub use limit::{
    Answer, Demand, Find, Limit, LimitResult, Probe, Question, Range, Refusal, SearchVariable, Spacing, Span,
    Verdict, significant,
};
#[cfg(test)]
pub use limit::{find_limit, try_on_units};
pub use lot_yields::{BELOW, LotYields, OF};
pub use measure::Measure;
pub use pass_collector::PassCollector;
pub use passes::Passes;
pub use price::{Bill, Effort, UnitCost};
pub use progress::{ProgressSink, with_progress};
pub use rework::{ReworkResult, mend};
#[cfg(test)]
pub(crate) use sweep::tests as sweep_tests;
pub use sweep::{Axis, Knee, Points, Step, Sweep, Vary, WORTH, in_steps, rises};
