//! `beamyield inspect`: the effect of an incoming inspection on parts and units, and the choice of its limit.

use crate::cli::Execute;
use crate::cli::asked::{Asked, share, shell_word};
use crate::cli::outputs::{Reports, at_end};
use crate::cli::vary::ends;
use crate::cli::work::{Work, nothing_yet, partial};
use crate::decide::inspect::{Acceptance, Choice, Question, Settings};
use crate::design::{Checked, Design};
use crate::error::{Error, Result};
use crate::io::Amount;
use crate::model::Model;
use crate::report::page::inspect_page;
use crate::report::{InspectRun, cautions, inspect_brief, inspect_json, inspect_text, write_inspect_csv};
use clap::Args;
use std::path::PathBuf;

/// Evaluate an incoming inspection: rejects, risks, yield, cost
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct InspectCommand {
    #[command(flatten)]
    asked: Asked,
    /// The value whose parts are inspected, such as jumper.length
    #[arg(long, value_name = "NAME")]
    source: String,
    /// Accept readings within this, such as '0.4 mm' or '-0.1..0.5 mm'
    #[arg(long, value_name = "AMOUNT", value_parser = accept, allow_hyphen_values = true)]
    #[arg(conflicts_with_all = ["find_limit", "cheapest"])]
    accept: Option<Acceptance>,
    /// Standard deviation of the gauge, whatever the study says
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    gauge_sd: Option<String>,
    /// Find the widest acceptance that still meets --yield
    #[arg(long, requires = "share", conflicts_with = "cheapest")]
    find_limit: bool,
    /// The share of units that have to pass
    #[arg(long = "yield", id = "share", value_name = "SHARE", value_parser = share)]
    share: Option<f64>,
    /// Find the acceptance of the least cost per good unit
    #[arg(long)]
    cheapest: bool,
    /// Write the limits tried to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a one-page summary to this .txt or .json file; - as with --csv
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
An inspection is stated in a tolerance of the study,
  length = { nominal = \"85 mm\", normal = { sd = \"0.25 mm\" },
             inspection = { accept = \"0.4 mm\", gauge = { sd = \"0.04 mm\" } } }
--accept and --gauge-sd try another. The results include each [[offer]] of the
study, an exact gauge, and one twice as bad. Costs need a [cost] table. The
exit code is 1 when no limit is shown to meet the yield.";

impl Execute for InspectCommand {
    const EXAMPLES: &'static [&'static str] =
        &["beamyield inspect studies/cable-limit.toml --source jumper.length \
         --find-limit --yield 0.95"];

    fn run(&self) -> Result<()> {
        let control = self.asked.control()?;
        let mut opened = self.asked.open()?;
        opened.keep_one_calibration("an inspection's yield")?;
        let (accept, gauge_sd) = (self.accept.as_ref(), self.gauge_sd.as_deref());
        let settings = Settings::of(&opened, &self.source, accept, gauge_sd, |own| self.question(own))?;
        let (notation, base) = (&settings.notation, settings.base());
        let model = base.model();
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::SummariesToo, [base])?;
        let warnings = base.warnings(&model);
        let of_offers = cautions_of_offers(&model, &settings);
        work.begin(warnings.len());
        let (results, is_finished) = settings.answer(control, &mut work.progress)?;
        if results.is_empty() {
            return Err(nothing_yet("anything was known"));
        }
        let run = InspectRun {
            model: &model,
            source: &notation.source,
            place: base.study.place_of_inspection(&notation.source),
            dimension: notation.dimension,
            form: notation.form,
            unit: &notation.unit.unit,
            one: notation.one,
            question: settings.question,
            answers: &results,
            cost: base.study.cost.as_ref(),
            seconds: work.seconds(),
            is_partial: !is_finished,
            warnings: &warnings,
            of_offers: &of_offers,
            again: &self.again(),
        };
        work.finish(
            end(&run),
            at_end(|csv| write_inspect_csv(&run, csv)),
            || inspect_json(&run),
            |report, origin| report.write(&model, || inspect_brief(&run), || inspect_page(&run, origin)),
            || inspect_text(&run),
        )
    }
}

impl InspectCommand {
    /// The question, if the study can answer it.
    fn question(&self, own: &Design) -> Checked<Question> {
        match self.share {
            Some(_) if !self.find_limit => Err(
                own.refuse("--yield is given without --find-limit", "add --find-limit, or leave --yield out")
            ),
            Some(share) => Question::widest(own, share),
            None if self.cheapest => Question::cheapest(own),
            None => Ok(Question::Stated),
        }
    }

    /// The command that repeats the answer.
    fn again(&self) -> String {
        let mut then = format!("--source {}", shell_word(&self.source));
        if let Some(accept) = &self.accept {
            then.push_str(&format!(" --accept {}", shell_word(&accept.to_string())));
        }
        if let Some(sd) = &self.gauge_sd {
            then.push_str(&format!(" --gauge-sd {}", shell_word(sd)));
        }
        if let Some(share) = self.share {
            then.push_str(&format!(" --find-limit --yield {share}"));
        }
        if self.cheapest {
            then.push_str(" --cheapest");
        }
        format!("beamyield inspect {}", self.asked.again_with(&then))
    }
}

/// Differences of offers from the study, other than in hardware.
fn cautions_of_offers(model: &Model, settings: &Settings) -> Vec<String> {
    let of = |(name, offered): (&str, &Design)| cautions(("the study", model), (name, &offered.model()));
    settings.offers().flat_map(of).collect()
}

/// The exit for an answer.
fn end(run: &InspectRun) -> Result<()> {
    if run.is_partial {
        return Err(partial("before all answers were known"));
    }
    if let (Question::Widest(demand), Choice::Nothing) = (&run.question, run.answers[0].search.choice()) {
        return Err(Error::LimitMissed(format!(
            "no acceptance is shown to meet the yield of {} required",
            demand.share
        )));
    }
    Ok(())
}

/// Reads "0.4 mm" or "-0.1..0.5 mm".
fn accept(text: &str) -> std::result::Result<Acceptance, String> {
    if let Some((from, to)) = text.split_once("..") {
        let (from, to) = ends(from, to)?;
        return Ok(Acceptance::Between(from, to));
    }
    Amount::parse(text).map(Acceptance::Size).ok_or_else(|| {
        format!("`{text}` is no acceptance: expected a size, such as '0.4 mm', or a range, '-0.1..0.5 mm'")
    })
}
