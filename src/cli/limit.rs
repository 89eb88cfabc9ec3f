//! `beamyield limit`: the loosest value that still meets a yield.

use crate::cli::Execute;
use crate::cli::asked::{Asked, share};
use crate::cli::outputs::{Reports, at_end};
use crate::cli::range::{factor, find};
use crate::cli::work::{Work, nothing_yet, partial};
use crate::decide::{Demand, Find, LimitResult, Question, Range};
use crate::error::{Error, Result};
use crate::report::page::limit_page;
use crate::report::{LimitRun, limit_json, limit_text, write_limit_csv};
use clap::Args;
use std::path::PathBuf;

/// Find the loosest value of a study that still meets a yield
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct LimitCommand {
    #[command(flatten)]
    asked: Asked,
    /// Vary this value, such as shifter.bits=3..9; several share one factor
    #[arg(long, value_name = "KEY[=FROM..TO]", value_parser = find, required = true)]
    find: Vec<Find>,
    /// The share of units that have to pass
    #[arg(long = "yield", value_name = "SHARE", value_parser = share)]
    share: f64,
    /// Confidence of the limit's interval, instead of the study's
    #[arg(long, value_name = "SHARE", value_parser = confidence)]
    confidence: Option<f64>,
    /// Range of the factor on the study's values
    #[arg(long, value_name = "FROM..TO", value_parser = factor)]
    factor: Option<Range>,
    /// Write the values tried to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
A range is written as on a drawing, \"jumper.length.half_width=0.05 mm..1 mm\".
Without one, the search goes from 1/32 to 32 times the study's value, for whole
numbers from 1 to the study's and 6 more, as far as the study takes them. A
value that the study cannot have is shown with the reason and left out.
--trials is the maximum number of units for one value. The exit code is 1 when
no value is shown to meet the yield.";

impl Execute for LimitCommand {
    const EXAMPLES: &'static [&'static str] =
        &["beamyield limit studies/avalanche-ridge-12.toml --calibration quick \
         --find 'mast cable.length.first.sd' --yield 0.9"];

    fn run(&self) -> Result<()> {
        let control = self.asked.control()?;
        let mut opened = self.asked.open()?;
        opened.keep_one_calibration("a limit")?;
        let demand = Demand::of(&opened, self.share, self.confidence)?;
        let question = Question::of(&opened, &self.find, self.factor.as_ref())?;
        let model = opened.model();
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::Pages, [&opened])?;
        work.begin(opened.warnings(&model).len());
        let found = question.answer(&opened, &demand, control, &mut work.progress)?;
        if found.probes.is_empty() {
            return Err(nothing_yet("the first value was tried"));
        }
        let (seconds, warnings) = (work.seconds(), work.warnings);
        let run = LimitRun {
            model: &model,
            sought: &question.variable,
            own: question.own,
            found: &found,
            seconds,
            warnings,
        };
        work.finish(
            self.end(&found),
            at_end(|csv| write_limit_csv(&run, csv)),
            || limit_json(&run),
            |report, origin| report.write_page(|| limit_page(&run, origin)),
            || limit_text(&run),
        )
    }
}

impl LimitCommand {
    /// The exit for an answer.
    fn end(&self, found: &LimitResult) -> Result<()> {
        if !found.is_finished {
            return Err(partial(&format!("after {} values", found.probes.len())));
        }
        if !found.meets_somewhere() {
            return Err(Error::LimitMissed(format!(
                "no value is shown to meet the yield of {} required",
                self.share
            )));
        }
        Ok(())
    }
}

/// A confidence, in the range of a study's.
fn confidence(text: &str) -> std::result::Result<f64, String> {
    match share(text) {
        Ok(confidence) if (0.5..=0.9999).contains(&confidence) => Ok(confidence),
        _ => Err("expected a share between 0.5 and 0.9999, such as 0.95 or \"95 %\"".to_owned()),
    }
}
