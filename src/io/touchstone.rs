//! Touchstone files of two-ports, which network analysers and simulators write.
//!
//! Read are version 1 and version 2.0, S-parameters only. Source: Touchstone File Format Specification, version 2.0,
//! IBIS Open Forum, 2009.

mod numbers;
mod options;
mod version_1;
mod version_2;

use std::cell::Cell;
use std::sync::Arc;

use num_complex::Complex64;

use super::diagnostic::{Findings, SourceText, Span};
use super::table::Table;
use numbers::{Line, lines};
use options::Options;

/// Scattering parameters of a two-port over frequency.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct TwoPort {
    source: Arc<SourceText>,
    /// Hz, rising; at least one.
    pub frequencies: Vec<f64>,
    /// What it does at each of them.
    pub parameters: Vec<Scattering>,
}

/// Scattering parameters at one frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scattering {
    /// Reflection at the input.
    pub s11: Complex64,
    /// Transmission from input to output.
    pub s21: Complex64,
    /// Transmission from output to input.
    pub s12: Complex64,
    /// Reflection at the output.
    pub s22: Complex64,
}

impl Table<'_> {
    /// The Touchstone file `name`, which the text at `key` names or gives a pattern for. `None` after an error, which
    /// is recorded at its line.
    pub(crate) fn touchstone(&self, key: &str, name: &str) -> Option<TwoPort> {
        TwoPort::read(self.findings, self.companion(key, name)?)
    }
}

impl TwoPort {
    /// Reads a text. `None` after an error, which is recorded at its line.
    pub(crate) fn read(findings: &Findings, source: Arc<SourceText>) -> Option<TwoPort> {
        let judge = Judge { findings, source: source.clone(), flaws: Cell::new(0) };
        let (frequencies, parameters) = read(&judge, &source)?;
        Some(TwoPort { source, frequencies, parameters })
    }

    /// The text that was read.
    pub(crate) fn source(&self) -> &Arc<SourceText> {
        &self.source
    }
}

fn read(judge: &Judge, source: &SourceText) -> Option<(Vec<f64>, Vec<Scattering>)> {
    let text = source.text.as_str();
    if text.starts_with('\u{feff}') {
        let help = "save it as plain text, without the mark";
        judge.refuse(0..3, "the file begins with a byte-order mark", "no part of a Touchstone file", help);
        return None;
    }
    if let Some(ports) = source.name.to_str().and_then(ports_of)
        && ports != 2
    {
        let message = format!("the name says that this is a file of {ports} ports");
        judge.refuse(None, message, "", "a file of two ports, `.s2p`");
        return None;
    }
    let lines: Vec<Line> = lines(text).collect();
    let Some(first) = lines.first() else {
        judge.refuse(
            None,
            "the file is empty",
            "",
            "an option line, such as `# GHz S MA R 50`, then rows of data",
        );
        return None;
    };
    let found = match first.keyword() {
        Some(keyword) if keyword.is("Version") => version_2::read(judge, &lines),
        _ => version_1::read(judge, &lines),
    };
    let (options, rows) = found?;
    let converted = rows.iter().filter_map(|row| row.in_si(judge, &options));
    let (frequencies, parameters) = converted.unzip();
    (judge.flaws.get() == 0).then_some((frequencies, parameters))
}

/// The ports that the ending of a name states: 2 of "a.s2p".
fn ports_of(name: &str) -> Option<u32> {
    let (_, ending) = name.rsplit_once('.')?;
    ending.strip_prefix(['s', 'S'])?.strip_suffix(['p', 'P'])?.parse().ok()
}

/// Most flaws that are reported of one file: a file of another format has one in each line.
const MOST_FLAWS: u32 = 20;

/// Records what is wrong with a file.
struct Judge<'a> {
    findings: &'a Findings,
    source: Arc<SourceText>,
    flaws: Cell<u32>,
}

impl Judge<'_> {
    fn refuse(
        &self,
        span: impl Into<Option<Span>>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) {
        let flaws = self.flaws.replace(self.flaws.get() + 1);
        if flaws < MOST_FLAWS {
            self.findings.error_in(&self.source, span, message, label, Some(help.into()));
        }
    }
}

#[cfg(test)]
mod tests;
