//! `beamyield run`: builds the units and reports their yield.

use crate::bench::Calibration;
use crate::cli::Execute;
use crate::cli::asked::{Asked, share, shell_word};
use crate::cli::console::paper;
use crate::cli::merge::{MergeCommand, Parts};
use crate::cli::outputs::{Reports, Wanted};
use crate::cli::rows::{self, Rows};
use crate::cli::saving::{self, Done, Saving, each_unit};
use crate::cli::work::{Work, end_of, nothing_yet};
use crate::decide::{DesignRun, Passes, Values, required};
use crate::design::Design;
use crate::engine::{Outcomes, Pool, Summary, VIEWED, views};
use crate::error::{Error, Result};
use crate::model::Model;
use crate::report::page::{Origin, run_page};
use crate::report::{self, Ending, UnitRows, run_json, run_text, shown_plan};
use clap::Args;
use std::path::PathBuf;
use std::slice;

/// Build the units of a study and report their yield
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct RunCommand {
    #[command(flatten)]
    asked: Asked,
    #[command(flatten)]
    saving: Saving,
    /// Keep every unit beside the shard, so that a merge can write them all
    #[arg(long, requires = "shard")]
    keep_units: bool,
    /// Write every unit to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write every unit to this file as Parquet, with units of measure
    #[arg(long, value_name = "FILE.parquet")]
    trials_out: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
    /// Exit with 1 if the lower end of a yield interval is below this share
    #[arg(long, value_name = "SHARE", value_parser = share)]
    require_yield: Option<f64>,
}

const NOTES: &str = "\
The CSV has a row for each unit and calibration plan, units counted from 0. Its
columns for figures are named figure[unit]@beam@frequency. The Parquet has the
same rows and columns; its metadata hold the study, the seed and the units of
measure. --require-yield applies to every plan that calibrates, and not to
plans that leave units as built.";

impl Execute for RunCommand {
    const EXAMPLES: &'static [&'static str] = &[
        "beamyield run studies/line-64.toml",
        "beamyield run studies/line-64.toml --trials 100000 --json yield.json",
        "beamyield run studies/line-64.toml --require-yield 0.95 --quiet",
    ];

    fn run(&self) -> Result<()> {
        self.saving.refuse(&self.asked, &self.outputs())?;
        let opened = self.asked.open()?;
        let model = opened.model();
        self.require_yield.map_or(Ok(()), |_| required::refuse_idle(&opened, &model))?;
        let mut work = self.open(&opened, &self.saving.files())?;
        let mut rows = rows::of_run(&mut work.places, &model)?;
        work.begin(opened.warnings(&model).len());
        let models = slice::from_ref(&model);
        let header = saving::header(&opened, models, &[], saving::command());
        let are_written = self.csv.is_some() || self.trials_out.is_some();
        let keeps_units = self.keep_units || self.saving.resume.is_some() && are_written;
        let (places, progress) = (&mut work.places, &mut work.progress);
        let mut take = |outcomes: &[Outcomes]| rows.take(places, |rows| rows.take(&model, &outcomes[0]));
        let plan = saving::Wanted { models, header, values: Values::Kept, keeps_units };
        let done = self.saving.build(&self.asked, plan, progress, &mut take)?;
        if let Some(shard) = self.saving.shard {
            return done.end_of(shard, models);
        }
        if let (Some(path), Some(header), true) = (&self.saving.resume, &done.header, keeps_units) {
            let places = &mut work.places;
            each_unit(path, header, |outcomes| rows.take(places, |rows| rows.take(&model, outcomes)))?;
        }
        self.conclude(work, &model, rows, done, true)
    }
}

impl RunCommand {
    /// The outputs that a shard of the work does not have.
    fn outputs(&self) -> [(&'static str, bool); 5] {
        [
            ("--json", self.asked.json.is_some()),
            ("--csv", self.csv.is_some()),
            ("--trials-out", self.trials_out.is_some()),
            ("--report", self.report.is_some()),
            ("--require-yield", self.require_yield.is_some()),
        ]
    }

    /// Opens the outputs; none may replace one of `files`.
    fn open<'a>(&'a self, opened: &'a Design, files: &[PathBuf]) -> Result<Work<'a>> {
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let wanted = Wanted { parquet: self.trials_out.as_deref(), ..wanted };
        Work::open_beside(&self.asked, &wanted, Reports::Pages, [opened], files)
    }

    /// Reports what is done. With `is_whole` an end before all units is an error.
    fn conclude(
        &self,
        work: Work,
        model: &Model,
        rows: Rows<Box<dyn UnitRows>>,
        done: Done,
        is_whole: bool,
    ) -> Result<()> {
        let control = self.asked.control()?;
        let ran = done.part.into_runs(slice::from_ref(model), control)?.pop().flatten();
        let Some(DesignRun { summary, passes, .. }) = ran else {
            return Err(nothing_yet("the first unit was done"));
        };
        let ending = Ending::of(done.end, model.trials);
        let show = |(of, passes): (&Calibration, &Passes)| Some(self.show(&of.name, passes.first_failing()?));
        let failing_unit: Vec<Option<String>> = model.calibrations.iter().zip(&passes).map(show).collect();
        let run = report::Run {
            model,
            summary: &summary,
            seconds: work.seconds(),
            ending,
            warnings: work.warnings,
            passes: &passes,
            failing_unit: &failing_unit,
        };
        let page = |origin: &Origin| {
            let shown = shown_plan(&summary);
            run_page(&run, shown, &views(model, shown, VIEWED.min(summary.trials)), origin)
        };
        let end = if is_whole { end_of(ending, summary.trials) } else { Ok(()) };
        work.finish(
            end.and_then(|()| self.hold(model, &summary)),
            |_| rows.finish(|rows| rows.finish()),
            || run_json(&run),
            |report, origin| Pool::new(control.threads)?.install(|| report.write_page(|| page(origin))),
            || run_text(&run, paper()),
        )
    }

    /// Reports parts of this run that others did.
    pub(super) fn merge(&self, parts: &Parts) -> Result<()> {
        let opened = self.asked.open()?;
        let model = opened.model();
        self.require_yield.map_or(Ok(()), |_| required::refuse_idle(&opened, &model))?;
        let models = slice::from_ref(&model);
        parts.check(&saving::header(&opened, models, &[], parts.command().to_vec()))?;
        let are_written = self.csv.is_some() || self.trials_out.is_some();
        if are_written {
            parts.need_units()?;
        }
        let mut work = self.open(&opened, &parts.files())?;
        work.words = saving::as_one(parts.command());
        let mut rows = rows::of_run(&mut work.places, &model)?;
        work.begin(opened.warnings(&model).len());
        let done = parts.merge(models)?;
        if are_written {
            let places = &mut work.places;
            parts.each_unit(|outcomes| rows.take(places, |rows| rows.take(&model, outcomes)))?;
        }
        self.conclude(work, &model, rows, done, false)
    }

    /// Takes where a merge writes to.
    pub(super) fn writing_to(mut self, merge: &MergeCommand) -> RunCommand {
        merge.outputs_of(&mut self.asked);
        self.csv.clone_from(&merge.csv);
        self.trials_out.clone_from(&merge.trials_out);
        self.report.clone_from(&merge.report);
        self.require_yield = merge.require_yield;
        self
    }

    /// Compares each calibrated plan's yield with what is required.
    fn hold(&self, model: &Model, summary: &Summary) -> Result<()> {
        let Some(share) = self.require_yield else { return Ok(()) };
        let missed: Vec<String> = required::missed(model, summary, share)
            .map(|(of, low)| format!("\"{}\" ({low:.5})", of.name))
            .collect();
        if missed.is_empty() {
            return Ok(());
        }
        Err(Error::LimitMissed(format!(
            "the lower end of the yield interval is below the {share} required: {}",
            missed.join(", ")
        )))
    }

    /// The command that shows a unit of this run after one calibration plan.
    fn show(&self, calibration: &str, trial: u64) -> String {
        let seed = self.asked.seed.map_or(String::new(), |seed| format!(" --seed {seed}"));
        let unit = self.asked.file.again_with(&trial.to_string());
        format!("beamyield unit {unit} --calibration {}{seed}", shell_word(calibration))
    }
}
