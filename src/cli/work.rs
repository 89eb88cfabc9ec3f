//! The common course of commands that build units: open the outputs, count warnings, show progress, write the results, end.

use crate::cli::asked::Asked;
use crate::cli::outputs::{Places, Report, Reports, Step, Wanted};
use crate::cli::page::{origin, words};
use crate::cli::progress::Progress;
use crate::design::Design;
use crate::error::{Error, Result};
use crate::io::Output;
use crate::report::Ending;
use crate::report::page::Origin;
use serde::Serialize;
use std::path::PathBuf;
use std::time::Instant;

/// A command at work.
pub(super) struct Work<'a> {
    asked: &'a Asked,
    designs: Vec<&'a Design>,
    pub places: Places,
    pub progress: Progress,
    pub warnings: usize,
    /// The words of the command, for pages.
    pub words: Vec<String>,
    start: Instant,
}

impl<'a> Work<'a> {
    /// Opens all requested outputs, so that a place that cannot be written fails at once.
    pub(super) fn open(
        asked: &'a Asked,
        wanted: &Wanted,
        reports: Reports,
        designs: impl IntoIterator<Item = &'a Design>,
    ) -> Result<Work<'a>> {
        Work::open_beside(asked, wanted, reports, designs, &[])
    }

    /// The same; no output may replace one of `files`.
    pub(super) fn open_beside(
        asked: &'a Asked,
        wanted: &Wanted,
        reports: Reports,
        designs: impl IntoIterator<Item = &'a Design>,
        files: &[PathBuf],
    ) -> Result<Work<'a>> {
        let designs: Vec<&Design> = designs.into_iter().collect();
        let inputs = designs.iter().flat_map(|of| of.inputs()).chain(files.iter().cloned());
        let inputs: Vec<PathBuf> = inputs.collect();
        let places = Places::open(wanted, &inputs, reports)?;
        let progress = Progress::new(asked.quiet);
        Ok(Work { asked, designs, places, progress, warnings: 0, words: words(), start: Instant::now() })
    }

    /// Reports the number of warnings, and begins.
    pub(super) fn begin(&mut self, warnings: usize) {
        self.asked.count_warnings(&self.asked.file, warnings);
        self.begin_warned(warnings);
    }

    /// Begins after the warnings are reported.
    pub(super) fn begin_warned(&mut self, warnings: usize) {
        (self.warnings, self.start) = (warnings, Instant::now());
    }

    /// Time since the begin, s.
    pub(super) fn seconds(&self) -> f64 {
        self.start.elapsed().as_secs_f64()
    }

    /// Writes all requested outputs, and ends with `end`.
    ///
    /// # Errors
    /// All failed outputs, and the error of `end`.
    pub(super) fn finish<'w, Json: Serialize, Rows: IntoIterator<Item = Step<'w>>>(
        self,
        end: Result<()>,
        rows: impl FnOnce(Option<Output>) -> Rows,
        json: impl FnOnce() -> Json + 'w,
        report: impl FnOnce(Report, &Origin) -> Result<()> + 'w,
        text: impl FnOnce() -> String + 'w,
    ) -> Result<()>
    where
        'a: 'w,
    {
        let (designs, words) = (self.designs, self.words);
        let report = move |to| report(to, &origin(&words, designs));
        Error::of_all([self.places.write(rows, json, report, text), end])
    }
}

/// The error of a command that an interrupt stopped before it had results.
pub(super) fn nothing_yet(before: &str) -> Error {
    Error::Interrupted(format!("stopped before {before}; nothing is written"))
}

/// The error of a command that an interrupt stopped with partial results.
pub(super) fn partial(when: &str) -> Error {
    Error::Interrupted(format!("stopped {when}; the results are partial"))
}

/// The end of a run of so many trials.
pub(super) fn end_of(ending: Ending, trials: u64) -> Result<()> {
    match ending {
        Ending::Stopped { planned } => Err(partial(&format!("after {trials} of {planned} trials"))),
        _ => Ok(()),
    }
}
