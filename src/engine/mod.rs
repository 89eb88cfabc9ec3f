//! Running a plan: trials in batches, batches in chunks, chunks on threads, outcomes in trial order.

mod batch;
mod desk;
mod outcomes;
mod run;
mod summary;
mod trial;
mod unit;

pub use batch::Batch;
pub use outcomes::{Failure, Outcomes, PlanOutcomes};
pub use run::{Control, Progress, run};
pub use summary::{CalibrationSummary, FigureSummary, Gatherer, LimitSummary, PERCENTILES, Summary};
pub use trial::{LANES, build, calibrate, draw, measure, steer, trial};
pub use unit::{Reading, Unit, UnitPlan, rebuild};
