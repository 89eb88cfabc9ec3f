//! What commands write to.

use crate::cli::console::paper;
use crate::cli::open::Opened;
use crate::cli::page::origin;
use crate::engine::{Outcomes, VIEWED, pool, views};
use crate::error::{Error, Result};
use crate::io::Output;
use crate::plan::Plan;
use crate::report::page::{Page, page_html, run_page};
use crate::report::{
    Brief, Run, RunCsv, UnitRows, brief_json, brief_text, run_json, run_text, shown_plan, write_json,
};
use serde::Serialize;
use std::path::Path;

/// Where the user wants what, beside the text for people.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted<'a> {
    pub json: Option<&'a Path>,
    pub csv: Option<&'a Path>,
    pub report: Option<&'a Path>,
}

/// What a run is written to, opened before the work, so that a place where nothing can be written fails at once.
pub(super) struct Outputs {
    places: Places,
    /// What is written unit by unit.
    units: Vec<Box<dyn UnitRows>>,
}

/// Whether standard output is meant.
pub(super) fn is_stdout(path: Option<&Path>) -> bool {
    path == Some(Path::new("-"))
}

/// What a report is written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    /// A summary of one sheet.
    Text,
    /// The same for scripts.
    Json,
    /// With charts and all that stands behind it.
    Page,
}

/// What a command's report can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reports {
    /// A page alone.
    Pages,
    /// A page, or a summary of one sheet.
    SummariesToo,
}

/// A report that is asked for, opened before the work.
pub(super) struct Report {
    form: Form,
    output: Output,
}

impl Report {
    /// Opens the place of the report, if one is wanted: what its name ends in.
    pub fn open(path: Option<&Path>, inputs: &[&Path], reports: Reports) -> Result<Option<Report>> {
        let Some(path) = path else { return Ok(None) };
        let ending = path.extension().and_then(|of| of.to_str()).map(str::to_ascii_lowercase);
        let form = match (ending.as_deref(), reports) {
            (Some("html"), _) => Form::Page,
            (Some("json"), Reports::SummariesToo) => Form::Json,
            (Some("txt"), Reports::SummariesToo) => Form::Text,
            (_, Reports::SummariesToo) if is_stdout(Some(path)) => Form::Text,
            (_, Reports::Pages) if is_stdout(Some(path)) => Form::Page,
            (_, reports) => {
                let reason = match reports {
                    Reports::Pages => "a report is a page: let its name end in .html",
                    Reports::SummariesToo => {
                        "a summary is a page, a text or JSON: let its name end in .html, .txt or .json"
                    }
                };
                return Err(Error::Output { path: path.to_owned(), reason: reason.to_owned() });
            }
        };
        Ok(Some(Report { form, output: Output::create(path, inputs)? }))
    }

    /// Writes a page.
    pub fn write_page(self, page: impl FnOnce() -> Page) -> Result<()> {
        write(self.output, &page_html(&page()))
    }

    /// Writes a page or a summary, whichever is wanted; the other is not made.
    pub fn write(
        self,
        plan: &Plan,
        brief: impl FnOnce() -> Brief,
        page: impl FnOnce() -> Page,
    ) -> Result<()> {
        match self.form {
            Form::Page => self.write_page(page),
            Form::Text => write(self.output, &brief_text(plan, &brief())),
            Form::Json => write_json(self.output, &brief_json(plan, &brief())),
        }
    }
}

/// What a command is asked to write, opened before the work.
pub(super) struct Places {
    pub json: Option<Output>,
    pub csv: Option<Output>,
    pub report: Option<Report>,
    /// Whether standard output is one of them.
    is_taken: bool,
}

impl Places {
    /// Opens all that is wanted; no two of them go to one place, and none to an input.
    pub fn open(wanted: &Wanted, inputs: &[&Path], reports: Reports) -> Result<Places> {
        let Wanted { json, csv, report } = *wanted;
        refuse_same(&[("JSON", json), ("CSV", csv), ("report", report)])?;
        Ok(Places {
            json: open(json, inputs)?,
            csv: open(csv, inputs)?,
            report: Report::open(report, inputs, reports)?,
            is_taken: [json, csv, report].into_iter().any(is_stdout),
        })
    }

    /// Writes all that is wanted, and the text for people unless standard output is taken. What is not wanted is not made.
    pub fn write<Json: Serialize>(
        self,
        csv: impl FnOnce(Output) -> Result<()>,
        json: impl FnOnce() -> Json,
        report: impl FnOnce(Report) -> Result<()>,
        text: impl FnOnce() -> String,
    ) -> Result<()> {
        self.csv.map_or(Ok(()), csv)?;
        self.json.map_or(Ok(()), |output| write_json(output, &json()))?;
        if !self.is_taken {
            write(Output::stdout(), &text())?;
        }
        self.report.map_or(Ok(()), report)
    }
}

/// Opens an output, if one is wanted, that must not be an input.
pub(super) fn open(path: Option<&Path>, inputs: &[&Path]) -> Result<Option<Output>> {
    path.map(|path| Output::create(path, inputs)).transpose()
}

/// No two documents go to one place.
fn refuse_same(wanted: &[(&str, Option<&Path>)]) -> Result<()> {
    for (number, (name, path)) in wanted.iter().enumerate() {
        let same = wanted[..number].iter().find(|(_, other)| path.is_some() && other == path);
        if let (Some((other, _)), Some(path)) = (same, path) {
            let reason = format!("the {other} and the {name} would both go there");
            return Err(Error::Output { path: path.to_path_buf(), reason });
        }
    }
    Ok(())
}

impl Outputs {
    pub fn open(wanted: &Wanted, parquet: Option<&Path>, study: &Path, plan: &Plan) -> Result<Outputs> {
        let mut places = Places::open(wanted, &[study], Reports::Pages)?;
        let mut units: Vec<Box<dyn UnitRows>> = Vec::new();
        if let Some(output) = places.csv.take() {
            units.push(Box::new(RunCsv::new(plan, output)?));
        }
        if let Some(path) = parquet {
            if path.extension().is_none_or(|of| of != "parquet") {
                let reason =
                    "the units are written as Parquet: let the name end in .parquet (--csv writes CSV)";
                return Err(Error::Output { path: path.to_owned(), reason: reason.to_owned() });
            }
            let documents = [("JSON", wanted.json), ("CSV", wanted.csv), ("Parquet", parquet)];
            refuse_same(&documents)?;
            units.push(write_parquet(path, study, plan)?);
        }
        Ok(Outputs { places, units })
    }

    /// Writes what is written unit by unit.
    pub fn take(&mut self, plan: &Plan, outcomes: &Outcomes) -> Result<()> {
        self.units.iter_mut().try_for_each(|of| of.take(plan, outcomes))
    }

    /// Writes what is written at the end, and finishes all; a page on so many threads.
    pub fn finish(self, run: &Run, opened: &Opened, threads: usize) -> Result<()> {
        self.units.into_iter().try_for_each(|of| of.finish())?;
        let page = || {
            let shown = shown_plan(run.summary);
            let units = VIEWED.min(run.summary.trials);
            run_page(run, shown, &views(run.plan, shown, units), &origin([opened]))
        };
        let report = |report: Report| pool(threads)?.install(|| report.write_page(page));
        self.places.write(|_| Ok(()), || run_json(run), report, || run_text(run, paper()))
    }
}

/// Opens the Parquet file of a run's units.
#[cfg(feature = "parquet")]
fn write_parquet(path: &Path, study: &Path, plan: &Plan) -> Result<Box<dyn UnitRows>> {
    let output = Output::create(path, &[study])?;
    Ok(Box::new(crate::report::RunParquet::new(plan, output)?))
}

/// Tells that this program was built without what it takes.
#[cfg(not(feature = "parquet"))]
fn write_parquet(path: &Path, _: &Path, _: &Plan) -> Result<Box<dyn UnitRows>> {
    let reason = "this program was built without Parquet: build it with `--features parquet`, or take --csv";
    Err(Error::Output { path: path.to_owned(), reason: reason.to_owned() })
}

/// Writes a whole text and finishes its output.
pub(super) fn write(mut output: Output, text: &str) -> Result<()> {
    output.write_text(text)?;
    output.finish()
}
