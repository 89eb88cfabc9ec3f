//! `beamyield compare`: calibration plans, of one study or of several, on the same units.

use crate::cli::Execute;
use crate::cli::asked::{Asked, StudyFile};
use crate::cli::open::open;
use crate::cli::outputs::Reports;
use crate::cli::rows::Rows;
use crate::cli::work::{Work, end_of, nothing_yet};
use crate::decide::{self, Candidate, with_progress};
use crate::design::{Checked, Design};
use crate::error::Result;
use crate::io::suggest;
use crate::model::Model;
use crate::report::{self, page::compare_page};
use crate::report::{CompareCsv, CompareRun, Ending, compare_json, compare_text};
use clap::Args;
use std::path::PathBuf;

/// Compare calibration plans and designs on the same units
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct CompareCommand {
    #[command(flatten)]
    asked: Asked,
    /// Another design, a study of its own; repeat for more designs
    #[arg(long, value_name = "OTHER.toml")]
    with: Vec<PathBuf>,
    /// Take differences from this plan, not from the one of highest yield
    #[arg(long, value_name = "NAME", allow_hyphen_values = true)]
    against: Option<String>,
    /// Write each unit's verdicts to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
The CSV has a row for each unit and a column for each plan, 1 for a pass.
All designs use the seed and the number of units of STUDY, so that a part of
the same name has the same deviation in each (common random numbers): their
differences have narrower intervals than those of unpaired runs. Plans of
other files are named by file and plan, \"tighter: fit\". --set changes STUDY
alone; --calibration selects one plan of every design.";

/// A design and its file.
struct Read {
    opened: Design,
    file: StudyFile,
}

impl Execute for CompareCommand {
    const EXAMPLES: &'static [&'static str] = &["beamyield compare studies/bench-minutes.toml"];

    fn run(&self) -> Result<()> {
        let control = self.asked.control()?;
        let read = self.read()?;
        let first = &read[0].opened;
        let models: Vec<Model> = read.iter().map(|of| of.opened.model()).collect();
        let (designs, names) = self.name(&models);
        if names.len() < 2 {
            return Err(first
                .refuse(
                    "there is one calibration plan alone, and nothing to compare it with",
                    "a second `[[calibration]]`, or another design by `--with OTHER.toml`",
                )
                .into());
        }
        let against = self.against.as_deref().map(|name| number_of(name, &names, first)).transpose()?;
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let designs_read = read.iter().map(|of| &of.opened);
        let mut work = Work::open(&self.asked, &wanted, Reports::Pages, designs_read)?;
        let csv = work.places.csv.take();
        let columns = if csv.is_some() { columns(&models, &names, first)? } else { Vec::new() };
        let mut rows = Rows::new();
        rows.add(&mut work.places, csv, 0, |output| CompareCsv::new(&columns, output))?;
        let mut warnings = 0;
        for (of, model) in read.iter().zip(&models) {
            let found = of.opened.warnings(model).len();
            self.asked.count_warnings(&of.file, found);
            warnings += found;
        }
        work.begin_warned(warnings);
        let compared = with_progress(&mut work.progress, models[0].trials.most(), |advance| {
            decide::compare(&models, control, |outcomes| {
                advance(outcomes[0].first_trial + outcomes[0].trials);
                rows.take(&mut work.places, |csv| csv.take(outcomes))
            })
        })?;
        let Some(compared) = compared else { return Err(nothing_yet("the first unit was done")) };
        let ending = Ending::of(compared.end, models[0].trials);
        let run = CompareRun {
            models: &models,
            designs: &designs,
            names: &names,
            compared: &compared,
            against: against.or(compared.best()).unwrap_or(0),
            seconds: work.seconds(),
            ending,
            warnings,
        };
        work.finish(
            end_of(ending, compared.trials()),
            |_| rows.finish(CompareCsv::finish),
            || compare_json(&run),
            |report, origin| report.write_page(|| compare_page(&run, origin)),
            || compare_text(&run),
        )
    }
}

impl CompareCommand {
    /// The study and the others; all take the seed and the trials of the first.
    fn read(&self) -> Result<Vec<Read>> {
        let first = self.asked.open()?;
        let file = StudyFile { study: self.asked.file.study.clone(), set: self.asked.file.set.clone() };
        let mut read = vec![Read { opened: first, file }];
        for path in &self.with {
            let mut opened = open(path)?;
            opened.keep_calibration(self.asked.calibration.as_deref())?;
            opened.build_as(&read[0].opened);
            opened.keep_confidence(read[0].opened.study.confidence);
            read.push(Read { opened, file: StudyFile { study: path.clone(), set: Vec::new() } });
        }
        Ok(read)
    }

    /// Names of the designs and of their plans, no two plans alike.
    fn name(&self, models: &[Model]) -> (Vec<report::Design>, Vec<String>) {
        let files = std::iter::once(&self.asked.file.study).chain(&self.with);
        let (mut designs, mut names): (Vec<report::Design>, Vec<String>) = (Vec::new(), Vec::new());
        for (number, (file, model)) in files.zip(models).enumerate() {
            let stem = file.file_stem().map_or(String::new(), |stem| stem.display().to_string());
            let of_plans = |label: &str| -> Vec<String> {
                let own = model.calibrations.iter().map(|of| &of.name);
                own.map(|own| if number == 0 { own.clone() } else { format!("{label}: {own}") }).collect()
            };
            let numbered = (2..).map(|count| format!("{stem} {count}"));
            let is_free = |label: &String| of_plans(label).iter().all(|name| !names.contains(name));
            let label = std::iter::once(stem.clone()).chain(numbered).find(is_free).unwrap_or(stem.clone());
            names.extend(of_plans(&label));
            designs.push(report::Design { label, file: file.display().to_string() });
        }
        (designs, names)
    }
}

/// The columns of the CSV of all units: without limits there is no pass.
fn columns<'n>(models: &[Model], names: &'n [String], first: &Design) -> Checked<Vec<(Candidate, &'n str)>> {
    let candidates = Candidate::all(models).zip(names.iter().map(String::as_str));
    let columns: Vec<_> = candidates.filter(|(of, _)| !models[of.design].limits.is_empty()).collect();
    if columns.is_empty() {
        return Err(first.refuse(
            "without limits no unit passes or fails, so the CSV would be empty",
            "add a `[[limit]]`, or leave `--csv` out",
        ));
    }
    Ok(columns)
}

fn number_of(name: &str, names: &[String], first: &Design) -> Checked<usize> {
    names.iter().position(|of| of == name).ok_or_else(|| {
        let help = suggest::instead_of(name, names.iter().map(String::as_str));
        first.refuse(format!("there is no plan `{name}` to compare against"), help)
    })
}
