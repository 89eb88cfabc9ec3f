//! Outputs of the commands, opened before the work.

use crate::cli::interrupt;
use crate::error::{Error, Result};
use crate::io::file::refuse_same;
use crate::io::{Destination, Output, inert};
use crate::model::Model;
use crate::report::page::{Page, page_html};
use crate::report::{Brief, brief_json, brief_text, write_json};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// The requested outputs, besides the text for people.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Wanted<'a> {
    pub json: Option<&'a Path>,
    pub csv: Option<&'a Path>,
    pub report: Option<&'a Path>,
    pub parquet: Option<&'a Path>,
}

/// The format of a report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    /// A summary of one sheet.
    Text,
    /// The same for scripts.
    Json,
    /// A page with charts and all numbers behind them.
    Page,
}

/// The formats of a command's report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reports {
    /// A page alone.
    Pages,
    /// A page, or a summary of one sheet.
    SummariesToo,
}

/// A requested report, opened before the work.
pub(super) struct Report {
    form: Form,
    output: Output,
}

/// The format of a report, by the ending of its name.
fn form_of(path: &Path, reports: Reports) -> Result<Form> {
    let ending = path.extension().and_then(|of| of.to_str()).map(str::to_ascii_lowercase);
    let is_stdout = path == Path::new("-");
    match (ending.as_deref(), reports) {
        (Some("html"), _) => Ok(Form::Page),
        (Some("json"), Reports::SummariesToo) => Ok(Form::Json),
        (Some("txt"), Reports::SummariesToo) => Ok(Form::Text),
        (_, Reports::SummariesToo) if is_stdout => Ok(Form::Text),
        (_, Reports::Pages) if is_stdout => Ok(Form::Page),
        (_, reports) => {
            let reason = match reports {
                Reports::Pages => "a report is a page: let its name end in .html",
                Reports::SummariesToo => {
                    "a summary is a page, a text or JSON: let its name end in .html, .txt or .json"
                }
            };
            Err(Error::Output { path: path.to_owned(), reason: reason.to_owned() })
        }
    }
}

impl Report {
    /// Writes a page.
    pub(super) fn write_page(self, page: impl FnOnce() -> Page) -> Result<()> {
        write(self.output, &page_html(&page()))
    }

    /// Writes a page or a summary, as requested; the other is not computed.
    pub(super) fn write(
        self,
        model: &Model,
        brief: impl FnOnce() -> Brief,
        page: impl FnOnce() -> Page,
    ) -> Result<()> {
        match self.form {
            Form::Page => self.write_page(page),
            Form::Text => write(self.output, &brief_text(model, &brief())),
            Form::Json => write_json(self.output, &brief_json(model, &brief())),
        }
    }
}

/// The outputs of a command, opened before the work.
pub(super) struct Places {
    pub json: Option<Output>,
    pub csv: Option<Output>,
    pub report: Option<Report>,
    /// Units as Parquet.
    pub parquet: Option<Output>,
    /// Whether standard output is one of them.
    is_taken: bool,
    /// Outputs that failed so far; the others are written all the same.
    failures: Vec<Error>,
}

impl Places {
    /// Opens all requested outputs; no two of them go to one place, and none to an input. It checks all before it opens one.
    pub(super) fn open(wanted: &Wanted, inputs: &[PathBuf], reports: Reports) -> Result<Places> {
        wanted.parquet.map(check_parquet).transpose()?;
        let form = wanted.report.map(|path| form_of(path, reports)).transpose()?;
        let Wanted { json, csv, report, parquet } = *wanted;
        let named = [("JSON", json), ("CSV", csv), ("report", report), ("Parquet", parquet)];
        let mut judged: Vec<Option<Destination>> = Vec::new();
        for (_, path) in named {
            judged.push(path.map(Destination::at).transpose()?);
        }
        let those: Vec<(&str, &Destination)> =
            named.iter().zip(&judged).filter_map(|((name, _), of)| Some((*name, of.as_ref()?))).collect();
        let is_taken = those.iter().any(|(_, of)| of.is_standard_output());
        refuse_same(&those)?;
        those.iter().try_for_each(|(_, of)| of.keep_off(inputs))?;
        if !is_taken {
            Destination::standard_output().keep_off(inputs)?;
        }
        let is_alone = those.iter().all(|(_, of)| of.is_standard_output());
        let mut opened = Vec::new();
        for of in judged {
            opened.push(of.map(Destination::open).transpose()?);
        }
        if is_alone {
            interrupt::end_with_the_reader();
        }
        let mut next = opened.into_iter().map(Some);
        let mut next = || next.next().flatten().flatten();
        let (json, csv, report, parquet) = (next(), next(), next(), next());
        let report = form.zip(report).map(|(form, output)| Report { form, output });
        Ok(Places { json, csv, report, parquet, is_taken, failures: Vec::new() })
    }

    /// Records that an output failed; `left` outputs are still written unit by unit.
    ///
    /// # Errors
    /// That error where there is no other output.
    pub(super) fn lose(&mut self, error: Error, left: usize) -> Result<()> {
        if left == 0 && self.is_taken && self.json.is_none() && self.report.is_none() {
            return Err(error);
        }
        self.failures.push(error);
        Ok(())
    }

    /// Writes all requested outputs, and the text for people unless standard output is taken. Others are not computed.
    ///
    /// # Errors
    /// All failed outputs, once the rest is written.
    pub(super) fn write<'a, Json: Serialize, Rows: IntoIterator<Item = Step<'a>>>(
        self,
        rows: impl FnOnce(Option<Output>) -> Rows,
        json: impl FnOnce() -> Json + 'a,
        report: impl FnOnce(Report) -> Result<()> + 'a,
        text: impl FnOnce() -> String + 'a,
    ) -> Result<()> {
        interrupt::writing();
        let Places { json: to_json, csv: to_csv, report: to_report, is_taken, failures, .. } = self;
        let mut steps: Vec<Step> = Vec::new();
        if !is_taken {
            steps.push(Step::of(true, || write(Output::stdout(), &inert(&text()))));
        }
        steps.extend(rows(to_csv));
        if let Some(output) = to_json {
            steps.push(Step::of(output.is_standard_output(), || write_json(output, &json())));
        }
        if let Some(to) = to_report {
            steps.push(Step::of(to.output.is_standard_output(), || report(to)));
        }
        steps.sort_by_key(|step| !step.is_standard_output);
        let written = steps.into_iter().map(|step| (step.write)());
        Error::of_all(failures.into_iter().map(Err).chain(written))
    }
}

/// One output that is written at the end.
pub(super) struct Step<'a> {
    is_standard_output: bool,
    write: Box<dyn FnOnce() -> Result<()> + 'a>,
}

impl<'a> Step<'a> {
    pub(super) fn of(is_standard_output: bool, write: impl FnOnce() -> Result<()> + 'a) -> Step<'a> {
        Step { is_standard_output, write: Box::new(write) }
    }
}

/// Rows that are written at the end, where requested.
pub(super) fn at_end<'a>(
    write: impl FnOnce(Output) -> Result<()> + 'a,
) -> impl FnOnce(Option<Output>) -> Option<Step<'a>> {
    |output| output.map(|output| Step::of(output.is_standard_output(), || write(output)))
}

/// Refuses a name with an ending other than Parquet's.
fn check_parquet(path: &Path) -> Result<()> {
    let refuse = |reason: &str| Err(Error::Output { path: path.to_owned(), reason: reason.to_owned() });
    if cfg!(not(feature = "parquet")) {
        return refuse(
            "this program was built without Parquet: build it with `--features parquet`, or take --csv",
        );
    }
    if path.extension().is_none_or(|of| of != "parquet") {
        return refuse("the units are written as Parquet: let the name end in .parquet (--csv writes CSV)");
    }
    Ok(())
}

/// Writes a whole text and finishes its output.
pub(super) fn write(mut output: Output, text: &str) -> Result<()> {
    output.write_text(text)?;
    output.finish()
}
