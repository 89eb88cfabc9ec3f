//! `beamyield sweep`: the yield of a study at several values of one or two parameters.

use crate::cli::Execute;
use crate::cli::asked::Asked;
use crate::cli::outputs::{Reports, at_end};
use crate::cli::vary::vary;
use crate::cli::work::{Work, nothing_yet, partial};
use crate::decide::{Points, Vary};
use crate::engine::End;
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
        let control = self.asked.control()?;
        let opened = self.asked.open()?;
        let points = Points::of(&opened, &self.vary)?;
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::Pages, [&opened])?;
        work.begin(opened.warnings(&opened.model()).len());
        let sweep = points.run(control, &mut work.progress)?;
        let Some(sweep) = sweep else { return Err(nothing_yet("the first unit was done")) };
        let (seconds, warnings) = (work.seconds(), work.warnings);
        let run = SweepRun { models: &points.models, sweep: &sweep, seconds, warnings };
        let end = match sweep.end {
            End::Interrupted => {
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
}
