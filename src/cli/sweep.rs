//! `beamyield sweep`: the yield of a study at several values of one or two parameters.

use crate::cli::Execute;
use crate::cli::asked::Asked;
use crate::cli::merge::{MergeCommand, Parts};
use crate::cli::outputs::{Reports, at_end};
use crate::cli::saving::{self, Done, Saving};
use crate::cli::vary::vary;
use crate::cli::work::{Work, nothing_yet, partial};
use crate::decide::{Points, Values, Vary};
use crate::design::Design;
use crate::engine::{Control, End};
use crate::error::Result;
use crate::report::page::sweep_page;
use crate::report::{SweepRun, sweep_json, sweep_text, write_sweep_csv};
use clap::Args;
use std::path::PathBuf;

/// Report the yield at several values of one or two parameters
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct SweepCommand {
    #[command(flatten)]
    asked: Asked,
    #[command(flatten)]
    saving: Saving,
    /// A parameter and its values, once or twice
    #[arg(long, value_name = "KEY=VALUES", value_parser = vary, required = true)]
    vary: Vec<Vary>,
    /// Write all yields and figures to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
Values are a list or a range:
  --vary shifter.bits=3..8
  --vary 'jumper.length.sd=0.1 mm, 0.2 mm, 0.5 mm'
  --vary 'jumper.length.sd=0.1 mm..0.5 mm in 5'      (or: by 0.1 mm)
Any value of the study can be varied, addressed as by --set. All points use the
same units (common random numbers), so that a step has a narrower interval
than between unpaired runs. A value that the study cannot have, such as 3 bits
with a plan of 16 codes, is left out and shown with the reason; a value with a
syntax error ends the sweep before it begins.";

impl Execute for SweepCommand {
    const EXAMPLES: &'static [&'static str] =
        &["beamyield sweep studies/quay-link-16.toml --vary shifter.bits=4..8"];

    fn run(&self) -> Result<()> {
        let outputs = [
            ("--json", self.asked.json.is_some()),
            ("--csv", self.csv.is_some()),
            ("--report", self.report.is_some()),
        ];
        self.saving.refuse(&self.asked, &outputs)?;
        let opened = self.asked.open()?;
        let points = Points::of(&opened, &self.vary)?;
        let mut work = self.open(&opened, &self.saving.files())?;
        work.begin(opened.warnings(&opened.model()).len());
        let header = saving::header(&opened, &points.models, &self.varied(), saving::command());
        let plan =
            saving::Wanted { models: &points.models, header, values: Values::Forgotten, keeps_units: false };
        let done = self.saving.build(&self.asked, plan, &mut work.progress, &mut |_| Ok(()))?;
        if let Some(shard) = self.saving.shard {
            return done.end_of(shard, &points.models);
        }
        conclude(work, &points, done, self.asked.control()?, true)
    }
}

impl SweepCommand {
    /// Opens the outputs; none may replace one of `files`.
    fn open<'a>(&'a self, opened: &'a Design, files: &[PathBuf]) -> Result<Work<'a>> {
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        Work::open_beside(&self.asked, &wanted, Reports::Pages, [opened], files)
    }

    /// What varies, in words.
    fn varied(&self) -> Vec<String> {
        self.vary.iter().map(|of| format!("{}={}", of.parameter, of.values.join(", "))).collect()
    }

    /// Reports parts of this sweep that others did.
    pub(super) fn merge(&self, parts: &Parts) -> Result<()> {
        let opened = self.asked.open()?;
        let points = Points::of(&opened, &self.vary)?;
        parts.check(&saving::header(&opened, &points.models, &self.varied(), parts.command().to_vec()))?;
        let mut work = self.open(&opened, &parts.files())?;
        work.words = saving::as_one(parts.command());
        work.begin(opened.warnings(&opened.model()).len());
        let done = parts.merge(&points.models)?;
        conclude(work, &points, done, self.asked.control()?, false)
    }

    /// Takes where a merge writes to.
    pub(super) fn writing_to(mut self, merge: &MergeCommand) -> Result<SweepCommand> {
        merge.refuse_outputs_of_runs()?;
        merge.outputs_of(&mut self.asked);
        self.csv.clone_from(&merge.csv);
        self.report.clone_from(&merge.report);
        Ok(self)
    }
}

/// Reports what is done of a sweep. With `is_whole` an end before all units is an error.
fn conclude(work: Work, points: &Points, done: Done, control: Control, is_whole: bool) -> Result<()> {
    let Some(sweep) = points.results(done.part.into_runs(&points.models, control)?, done.end) else {
        return Err(nothing_yet("the first unit was done"));
    };
    let (seconds, warnings) = (work.seconds(), work.warnings);
    let run = SweepRun { models: &points.models, sweep: &sweep, seconds, warnings };
    let end = match sweep.end {
        End::Interrupted if is_whole => {
            let whole = sweep.sound().filter(|point| sweep.is_whole(*point)).count();
            Err(partial(&format!("after {whole} of {} points", points.models.len())))
        }
        _ => Ok(()),
    };
    work.finish(
        end,
        at_end(|csv| write_sweep_csv(&run, csv)),
        || sweep_json(&run),
        |report, origin| report.write_page(|| sweep_page(&run, origin)),
        || sweep_text(&run),
    )
}
