//! `beamyield run`: builds the units and reports their yield.

use crate::bench::Calibration;
use crate::cli::Execute;
use crate::cli::asked::{Asked, share, shell_word};
use crate::cli::console::paper;
use crate::cli::outputs::{Reports, Wanted};
use crate::cli::rows;
use crate::cli::work::{Work, end_of, nothing_yet};
use crate::decide::{PassCollector, Passes, required, with_progress};
use crate::engine::{self, Finish, Pool, Summary, VIEWED, views};
use crate::error::{Error, Result};
use crate::model::Model;
use crate::report::page::{Origin, run_page};
use crate::report::{self, Ending, run_json, run_text, shown_plan};
use clap::Args;
use std::path::PathBuf;

/// Build the units of a study and report their yield
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct RunCommand {
    #[command(flatten)]
    asked: Asked,
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
        let opened = self.asked.open()?;
        let model = opened.model();
        self.require_yield.map_or(Ok(()), |_| required::refuse_idle(&opened, &model))?;
        let control = self.asked.control()?;
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let wanted = Wanted { parquet: self.trials_out.as_deref(), ..wanted };
        let mut work = Work::open(&self.asked, &wanted, Reports::Pages, [&opened])?;
        let mut rows = rows::of_run(&mut work.places, &model)?;
        work.begin(opened.warnings(&model).len());
        let mut kept = PassCollector::new(&model);
        let Finish { summary, end } = with_progress(&mut work.progress, model.trials.most(), |advance| {
            engine::run(&model, control, |outcomes| {
                rows.take(&mut work.places, |rows| rows.take(&model, outcomes))?;
                kept.take(outcomes);
                advance(outcomes.first_trial + outcomes.trials);
                Ok(())
            })
        })?;
        let Some(summary) = summary else { return Err(nothing_yet("the first unit was done")) };
        let passes = kept.passes();
        let ending = Ending::of(end, model.trials);
        let show = |(of, passes): (&Calibration, &Passes)| Some(self.show(&of.name, passes.first_failing()?));
        let failing_unit: Vec<Option<String>> = model.calibrations.iter().zip(passes).map(show).collect();
        let run = report::Run {
            model: &model,
            summary: &summary,
            seconds: work.seconds(),
            ending,
            warnings: work.warnings,
            passes,
            failing_unit: &failing_unit,
        };
        let page = |origin: &Origin| {
            let shown = shown_plan(&summary);
            run_page(&run, shown, &views(&model, shown, VIEWED.min(summary.trials)), origin)
        };
        let end = end_of(ending, summary.trials).and_then(|()| self.hold(&model, &summary));
        work.finish(
            end,
            |_| rows.finish(|rows| rows.finish()),
            || run_json(&run),
            |report, origin| Pool::new(control.threads)?.install(|| report.write_page(|| page(origin))),
            || run_text(&run, paper()),
        )
    }
}

impl RunCommand {
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
