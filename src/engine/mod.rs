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
mod settled;
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

pub(crate) use expect::{Cause, Expected, NoFormula, Part, expect};
pub(crate) use forecast::{Forecast, forecast};
pub(crate) use outcomes::{CHUNK, Failure, Outcomes, PlanOutcomes};
pub use partial::CannotMerge;
pub(crate) use partial::Partial;
pub(crate) use propagate::{
    Contribution, Stands, Variances, is_alike, leaves_out, nominal_gain_db, propagate,
};
pub use run::Control;
pub use run::End;
pub(crate) use run::{Finish, Leg, Together, accumulate, run, run_leg, run_together};
#[cfg(test)]
pub(crate) use run::{Watch, run_by};
pub(crate) use settled::Settled;
pub(crate) use step_times::step_times;
pub use step_times::{STEPS, StepTimes};
pub(crate) use summary::{
    CalibrationSummary, FigureSummary, LimitSummary, MissSummary, PERCENTILES, PlaceSummary, Summary,
};
pub(crate) use threads::{MOST_THREADS, Pool, in_parallel, threads};
pub use trial::LANES;
pub(crate) use unit::{Unit, UnitPlan, UnitTable, bench_seconds, log, rebuild};
pub(crate) use views::{BeamView, CutView, Levels, SweepView, VIEWED, Views, views};
