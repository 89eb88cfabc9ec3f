//! Runs a model: trials in batches, batches in chunks, chunks on threads, outcomes in trial order.

mod accumulator;
mod batch;
mod build;
mod by_lot;
mod calibrate;
mod channels;
mod compression;
mod coupling;
mod expect;
mod forecast;
mod joint_misses;
mod line;
mod observer;
mod outcomes;
mod pair;
mod partial;
mod places;
mod propagate;
mod recorder;
mod run;
mod sharing;
mod simulated_bench;
mod steer;
mod step_times;
mod summary;
mod threads;
mod tree;
mod trial;
mod unit;
mod unrounded;
mod views;
mod workspace;

pub use expect::{Cause, Expected, NoFormula, Part, expect};
pub use forecast::{Forecast, forecast};
pub use outcomes::{CHUNK, Failure, Outcomes, PlanOutcomes};
pub use partial::{CannotMerge, Partial};
pub use propagate::{Contribution, Stands, Variances, is_alike, leaves_out, nominal_gain_db, propagate};
pub use run::{Control, End, Finish, Together, accumulate, run, run_together};
#[cfg(test)]
pub use run::{Watch, run_by};
pub use step_times::{STEPS, StepTimes, step_times};
pub use summary::{
    CalibrationSummary, FigureSummary, LimitSummary, MissSummary, PERCENTILES, PlaceSummary, Summary,
};
pub use threads::{MOST_THREADS, Pool, in_parallel, threads};
pub use trial::LANES;
pub use unit::{Unit, UnitPlan, UnitTable, bench_seconds, log, rebuild};
pub use views::{BeamView, CutView, Levels, SweepView, VIEWED, Views, views};
