//! Reports on a run, a study or a unit, worded for people and written for scripts. Statistics come finished from
//! the engine; here they are only rounded, ordered and named.

mod bench_text;
mod brief;
mod budget_csv;
mod budget_json;
mod budget_text;
mod budget_verdict;
mod budget_words;
mod cautions;
mod chain_text;
mod change;
mod check_json;
mod check_text;
mod compare_csv;
mod compare_json;
mod compare_text;
mod compare_verdict;
mod cost_brief;
mod cost_csv;
mod cost_json;
mod cost_text;
mod cost_verdict;
mod cost_words;
mod csv_file;
mod draws_text;
mod error_free;
mod errors_text;
mod errors_words;
mod grid;
mod inspect_brief;
mod inspect_csv;
mod inspect_json;
mod inspect_parts_json;
mod inspect_parts_text;
mod inspect_text;
mod inspect_tried_text;
mod inspect_verdict;
mod inspect_words;
mod inspection_text;
pub(crate) mod jobs;
mod json_parts;
mod json_text;
mod limit_csv;
mod limit_json;
mod limit_text;
mod lots_text;
mod margins;
mod misses;
mod money;
mod number;
pub(crate) mod page;
mod part_file;
mod points_text;
mod refused;
mod run_csv;
mod run_json;
#[cfg(feature = "parquet")]
mod run_parquet;
mod run_text;
mod run_verdict;
#[cfg(test)]
mod sample;
mod sheet;
mod sheet_csv;
mod sheet_text;
mod spread_axis;
mod spreads_text;
mod strip_plot_text;
mod sweep_csv;
mod sweep_json;
mod sweep_text;
mod sweep_verdict;
mod unit_json;
mod unit_text;
mod words;

pub(crate) use brief::{Brief, BriefFigure, brief_json, brief_text};
pub(crate) use budget_csv::write_budget_csv;
pub(crate) use budget_json::budget_json;
pub(crate) use budget_text::{BudgetRun, budget_text};
pub(crate) use cautions::cautions;
pub(crate) use check_json::check_json;
pub(crate) use check_text::check_text;
pub(crate) use compare_csv::CompareCsv;
pub(crate) use compare_json::compare_json;
pub(crate) use compare_text::compare_text;
pub(crate) use cost_brief::cost_brief;
pub(crate) use cost_csv::write_cost_csv;
pub(crate) use cost_json::cost_json;
pub(crate) use cost_text::cost_text;
pub(crate) use cost_words::CostRun;
pub(crate) use errors_words::Errors;
pub(crate) use grid::Paper;
pub(crate) use inspect_brief::inspect_brief;
pub(crate) use inspect_csv::write_inspect_csv;
pub(crate) use inspect_json::inspect_json;
pub(crate) use inspect_text::inspect_text;
pub(crate) use inspect_words::InspectRun;
pub(crate) use json_text::write_json;
pub(crate) use limit_csv::write_limit_csv;
pub(crate) use limit_json::limit_json;
pub(crate) use limit_text::{LimitRun, limit_text};
pub(crate) use part_file::{Header, read_part, write_part};
pub(crate) use run_csv::{RunCsv, UnitRows};
pub(crate) use run_json::run_json;
#[cfg(feature = "parquet")]
pub(crate) use run_parquet::RunParquet;
pub(crate) use run_text::run_text;
pub(crate) use run_verdict::shown_plan;
pub(crate) use sheet_csv::write_sheet_csv;
pub(crate) use sheet_text::sheet_text;
pub(crate) use sweep_csv::write_sweep_csv;
pub(crate) use sweep_json::sweep_json;
pub(crate) use sweep_text::sweep_text;
pub(crate) use unit_json::unit_json;
pub(crate) use unit_text::unit_text;

use crate::decide::{CompareResult, Passes, Sweep};
use crate::engine::{End, Summary};
use crate::model::Model;
use crate::study::Trials;

/// Version of the JSON that is written.
const FORMAT: u32 = 1;

/// Name and version of the program.
const PROGRAM: &str = concat!("beamyield ", env!("CARGO_PKG_VERSION"));

/// How a run came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ending {
    /// As the study asks.
    AsAsked,
    /// At the most trials that the study allows, before the yield interval was as narrow as it asks.
    TooWide,
    /// Stopped from outside.
    Stopped {
        /// Most trials it would have run.
        planned: u64,
    },
}

impl Ending {
    /// Of a run that was to take as many trials as the study asks.
    pub(crate) fn of(end: End, trials: Trials) -> Ending {
        match (end, trials) {
            (End::Interrupted, _) => Ending::Stopped { planned: trials.most() },
            (End::Done, Trials::UntilYield { .. }) => Ending::TooWide,
            _ => Ending::AsAsked,
        }
    }
}

/// A run to report.
#[derive(Clone, Debug)]
pub(crate) struct Run<'a> {
    /// The model.
    pub model: &'a Model,
    /// The result.
    pub summary: &'a Summary,
    /// Time it took, s.
    pub seconds: f64,
    /// How it ended.
    pub ending: Ending,
    /// Warnings about the study.
    pub warnings: usize,
    /// For each calibration plan, which units pass.
    pub passes: &'a [Passes],
    /// For each calibration plan, the command that shows the first unit that fails.
    pub failing_unit: &'a [Option<String>],
}

/// A sweep to report.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SweepRun<'a> {
    /// The model at each point that is not refused, at least one.
    pub models: &'a [Model],
    /// The result.
    pub sweep: &'a Sweep,
    /// Time it took, s.
    pub seconds: f64,
    /// Warnings about the study.
    pub warnings: usize,
}

impl<'a> SweepRun<'a> {
    /// Units at each complete point.
    fn trials(&self) -> u64 {
        self.sweep.points.iter().flatten().map(|ran| ran.summary.trials).max().unwrap_or(0)
    }

    /// Differences of the points other than hardware.
    fn cautions(&self) -> Vec<String> {
        cautions::caution_of_points(self.models).into_iter().collect()
    }

    /// The model at a point that is not refused.
    fn model(&self, point: usize) -> &'a Model {
        &self.models[point - self.sweep.refused.range(..point).count()]
    }

    /// Whether there are limits, and so a yield.
    fn has_limits(&self) -> bool {
        self.models.iter().all(|model| !model.limits.is_empty())
    }
}

/// A compared design.
#[derive(Clone, Debug)]
pub(crate) struct Design {
    /// A prefix for the names of its plans.
    pub label: String,
    /// Its file, as it was named.
    pub file: String,
}

/// A comparison to report.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CompareRun<'a> {
    /// The designs compiled, at least one.
    pub models: &'a [Model],
    /// Their names and files.
    pub designs: &'a [Design],
    /// Names of the candidates, no two alike.
    pub names: &'a [String],
    /// The result.
    pub compared: &'a CompareResult,
    /// Number of the candidate that the others are compared with.
    pub against: usize,
    /// Time it took, s.
    pub seconds: f64,
    /// How it ended.
    pub ending: Ending,
    /// Warnings about all studies.
    pub warnings: usize,
}

impl CompareRun<'_> {
    /// Differences of the other designs from the first, other than hardware.
    fn cautions(&self) -> Vec<String> {
        cautions::cautions_of(self.designs.iter().map(|of| of.label.as_str()).zip(self.models))
    }
}
