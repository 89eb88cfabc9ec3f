//! From yields to a decision: several designs, or one design at several values, on the same units.
//!
//! Everything here asks the engine for outcomes and weighs them; nothing is read, printed or written.

mod bench_steps;
pub(crate) mod budget;
mod compare;
pub(crate) mod cost;
mod design_runs;
pub(crate) mod inspect;
mod limit;
mod lot_yields;
mod measure;
mod part;
mod pass_collector;
mod passes;
mod price;
mod progress;
pub(crate) mod required;
mod rework;
mod split;
mod sweep;

pub(crate) use bench_steps::{BenchStep, YieldDifference, bench_steps, pareto_front};
pub(crate) use compare::{Candidate, CompareResult, MeanDifference, compare, compare_yields};
pub(crate) use cost::{CostResult, CostStep, Ladder, OfferCase, Pareto, Pays, Saving, Swing};
pub(crate) use design_runs::{DesignRun, run_all};
pub(crate) use limit::{
    Answer, Demand, Find, Limit, LimitResult, Probe, Question, Range, Refusal, SearchVariable, Spacing, Span,
    Verdict, significant,
};
#[cfg(test)]
pub(crate) use limit::{find_limit, try_on_units};
pub(crate) use lot_yields::{BELOW, LotYields, OF};
pub(crate) use measure::Measure;
pub(crate) use part::{Keeper, Part, Values, build};
pub(crate) use pass_collector::PassCollector;
pub(crate) use passes::Passes;
pub(crate) use price::{Bill, Effort, UnitCost};
pub(crate) use progress::{ProgressSink, with_progress};
pub(crate) use rework::{ReworkResult, mend};
pub(crate) use split::{Job, Shard, whole};
#[cfg(test)]
pub(crate) use sweep::tests as sweep_tests;
pub(crate) use sweep::{Axis, Knee, Points, Step, Sweep, Vary, WORTH, in_steps, rises};
