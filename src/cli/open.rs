//! From the command line's words to a plan: reading a study, choosing and changing what was asked for.

use crate::cli::console;
use crate::error::{Error, Result};
use crate::io::{Diagnostic, Severity, SourceText, read_text, render, suggest};
use crate::plan::{self, Plan, compile};
use crate::study::{self, Study};
use std::path::Path;

/// A study and what was read.
pub(super) struct Opened {
    pub source: SourceText,
    pub study: Study,
}

impl Opened {
    /// Reads a study.
    pub fn read(path: &Path) -> Result<Opened> {
        let source = read_text(path)?;
        match study::parse(&source) {
            Ok(study) => Ok(Opened { source, study }),
            Err(findings) => Err(Error::Input(render(&source, &findings, console::has_colour()))),
        }
    }

    /// Keeps one calibration plan alone, if one is named.
    pub fn keep_calibration(&mut self, name: Option<&str>) -> Result<()> {
        let Some(name) = name else { return Ok(()) };
        let plans = &mut self.study.calibrations;
        if !plans.iter().any(|plan| plan.name == name) {
            let help = suggest::instead_of(name, plans.iter().map(|plan| plan.name.as_str()));
            return Err(self.refuse(format!("there is no calibration plan `{name}`"), help));
        }
        plans.retain(|plan| plan.name == name);
        Ok(())
    }

    /// Draws from another seed, if one is given.
    pub fn reseed(&mut self, seed: Option<u64>) {
        self.study.seed = seed.unwrap_or(self.study.seed);
    }

    /// The study compiled.
    pub fn plan(&self) -> Plan {
        compile(&self.study, &self.source.text)
    }

    /// What a person should look at before trusting the results.
    pub fn warnings(&self, plan: &Plan) -> Vec<Diagnostic> {
        plan::warnings(&self.study, plan)
    }

    /// An error about the study as a whole.
    pub fn refuse(&self, message: String, help: String) -> Error {
        let found = Diagnostic {
            severity: Severity::Error,
            message,
            other: None,
            span: None,
            label: String::new(),
            help: Some(help),
        };
        Error::Input(render(&self.source, &[found], console::has_colour()))
    }
}

/// A seed that a study could hold as well.
pub(super) fn seed(text: &str) -> std::result::Result<u64, String> {
    const MOST: u64 = i64::MAX as u64;
    let seed = text.parse().ok().filter(|seed| *seed <= MOST);
    seed.ok_or_else(|| format!("a whole number from 0 to {MOST} is due"))
}
