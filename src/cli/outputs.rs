//! What a run is written to.

use crate::cli::console::paper;
use crate::cli::open::Opened;
use crate::cli::page::{is_page, open_page, origin, write_page};
use crate::engine::{Outcomes, VIEWED, pool, views};
use crate::error::{Error, Result};
use crate::io::Output;
use crate::plan::Plan;
use crate::report::page::{Page, run_page};
use crate::report::{
    Brief, Run, RunCsv, UnitRows, brief_json, brief_text, run_json, run_text, shown_plan, write_json,
};
use std::path::Path;

/// Where the user wants what, beside the text for people.
pub(super) struct Wanted<'a> {
    pub json: Option<&'a Path>,
    pub csv: Option<&'a Path>,
    pub parquet: Option<&'a Path>,
    pub report: Option<&'a Path>,
}

/// The outputs, opened before the work, so that a place where nothing can be written fails at once.
pub(super) struct Outputs {
    json: Option<Output>,
    /// What is written unit by unit.
    units: Vec<Box<dyn UnitRows>>,
    page: Option<Output>,
    text: Option<Output>,
}

/// Whether standard output is meant.
pub(super) fn is_stdout(path: Option<&Path>) -> bool {
    path == Some(Path::new("-"))
}

/// What a one-page summary is written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ReportForm {
    Text,
    Json,
    /// With charts and all that stands behind it: more than one sheet.
    Page,
}

/// A one-page summary that is asked for, opened before the work.
pub(super) struct Report {
    form: ReportForm,
    output: Output,
}

impl Report {
    /// Opens the place of the summary, if one is wanted: a text, or what its name ends in.
    pub fn open(path: Option<&Path>, inputs: &[&Path]) -> Result<Option<Report>> {
        let Some(path) = path else { return Ok(None) };
        let form = match path.extension().and_then(|of| of.to_str()) {
            Some("json") => ReportForm::Json,
            Some("txt") => ReportForm::Text,
            _ if is_page(path) => ReportForm::Page,
            _ if is_stdout(Some(path)) => ReportForm::Text,
            _ => {
                let reason = "a summary is a page, a text or JSON: let its name end in .html, .txt or .json"
                    .to_owned();
                return Err(Error::Output { path: path.to_owned(), reason });
            }
        };
        Ok(Some(Report { form, output: Output::create(path, inputs)? }))
    }

    /// Writes the summary.
    pub fn write(self, plan: &Plan, brief: &Brief, page: impl FnOnce() -> Page) -> Result<()> {
        match self.form {
            ReportForm::Page => write_page(Some(self.output), page),
            ReportForm::Text => write(self.output, &brief_text(plan, brief)),
            ReportForm::Json => write_json(self.output, &brief_json(plan, brief)),
        }
    }
}

/// What a costing or an inspection is written to, opened before the work.
pub(super) struct Places {
    pub json: Option<Output>,
    pub csv: Option<Output>,
    pub report: Option<Report>,
    /// Whether standard output is one of them.
    pub is_taken: bool,
}

impl Places {
    /// Opens all that is wanted; no two of them go to one place.
    pub fn open(
        json: Option<&Path>,
        csv: Option<&Path>,
        report: Option<&Path>,
        study: &Path,
    ) -> Result<Places> {
        refuse_same(json, csv)?;
        if let Some(path) = report.filter(|path| [json, csv].contains(&Some(path))) {
            let reason = "the summary and another document would both go there".to_owned();
            return Err(Error::Output { path: path.to_owned(), reason });
        }
        Ok(Places {
            json: open(json, study)?,
            csv: open(csv, study)?,
            report: Report::open(report, &[study])?,
            is_taken: [json, csv, report].into_iter().any(is_stdout),
        })
    }
}

/// Opens an output, if one is wanted, that must not be the study.
pub(super) fn open(path: Option<&Path>, study: &Path) -> Result<Option<Output>> {
    path.map(|path| Output::create(path, &[study])).transpose()
}

/// Two documents cannot go to one place.
pub(super) fn refuse_same(json: Option<&Path>, csv: Option<&Path>) -> Result<()> {
    match json {
        Some(path) if csv == json => {
            let reason = "the JSON and the CSV would both go there".to_owned();
            Err(Error::Output { path: path.to_owned(), reason })
        }
        _ => Ok(()),
    }
}

impl Outputs {
    pub fn open(wanted: &Wanted, study: &Path, plan: &Plan) -> Result<Outputs> {
        refuse_same(wanted.json, wanted.csv)?;
        let mut units: Vec<Box<dyn UnitRows>> = Vec::new();
        if let Some(output) = open(wanted.csv, study)? {
            units.push(Box::new(RunCsv::new(plan, output)?));
        }
        if let Some(path) = wanted.parquet {
            let reason = match () {
                _ if path.extension().is_none_or(|of| of != "parquet") => {
                    Some("the units are written as Parquet: let the name end in .parquet (--csv writes CSV)")
                }
                _ if [wanted.json, wanted.csv].contains(&wanted.parquet) => {
                    Some("another document would go there as well")
                }
                _ => None,
            };
            if let Some(reason) = reason {
                return Err(Error::Output { path: path.to_owned(), reason: reason.to_owned() });
            }
            units.push(parquet(path, study, plan)?);
        }
        let page = open_page(wanted.report, &[study], &[wanted.json, wanted.csv])?;
        let is_taken = [wanted.json, wanted.csv, wanted.report].into_iter().any(is_stdout);
        Ok(Outputs { json: open(wanted.json, study)?, units, page, text: (!is_taken).then(Output::stdout) })
    }

    /// Writes what is written unit by unit.
    pub fn take(&mut self, plan: &Plan, outcomes: &Outcomes) -> Result<()> {
        self.units.iter_mut().try_for_each(|of| of.take(plan, outcomes))
    }

    /// Writes what is written at the end, and finishes all.
    pub fn finish(self, run: &Run, opened: &Opened, threads: usize) -> Result<()> {
        self.units.into_iter().try_for_each(|of| of.finish())?;
        if let Some(page) = self.page {
            let shown = shown_plan(run.summary);
            let units = VIEWED.min(run.summary.trials);
            let make = || run_page(run, shown, &views(run.plan, shown, units), &origin([opened]));
            pool(threads)?.install(|| write_page(Some(page), make))?;
        }
        self.json.map_or(Ok(()), |json| write_json(json, &run_json(run)))?;
        self.text.map_or(Ok(()), |text| write(text, &run_text(run, paper())))
    }
}

/// Opens the Parquet file of a run's units.
#[cfg(feature = "parquet")]
fn parquet(path: &Path, study: &Path, plan: &Plan) -> Result<Box<dyn UnitRows>> {
    let output = Output::create(path, &[study])?;
    Ok(Box::new(crate::report::RunParquet::new(plan, output)?))
}

/// Tells that this program was built without what it takes.
#[cfg(not(feature = "parquet"))]
fn parquet(path: &Path, _: &Path, _: &Plan) -> Result<Box<dyn UnitRows>> {
    let reason = "this program was built without Parquet: build it with `--features parquet`, or take --csv";
    Err(Error::Output { path: path.to_owned(), reason: reason.to_owned() })
}

/// Writes a whole text and finishes its output.
pub(super) fn write(mut output: Output, text: &str) -> Result<()> {
    output.write_text(text)?;
    output.finish()
}
