//! Reads designs, and formats their diagnostics.

use crate::cli::console;
use crate::cli::progress::preparing;
use crate::design::{Design, DesignError, StudyError};
use crate::error::{Error, Result};
use crate::io::{inert, read_text, render};
use crate::study::Change;
use std::path::Path;

/// Reads a study.
pub(super) fn open(path: &Path) -> Result<Design> {
    Ok(Design::read(read_text(path)?)?.showing(|what, compile| preparing(what, compile)))
}

/// All that is wrong, each at its place.
fn drawn(refused: &StudyError) -> String {
    let drawn = render(&refused.source, &refused.findings, console::has_colour());
    if refused.changes.is_empty() {
        return drawn;
    }
    let changes: Vec<String> = refused.changes.iter().map(Change::to_string).collect();
    format!("{}\nas changed by {}\n", drawn.trim_end(), inert(&changes.join(", ")))
}

impl From<StudyError> for Error {
    fn from(refused: StudyError) -> Error {
        Error::Input(drawn(&refused))
    }
}

impl From<DesignError> for Error {
    fn from(fault: DesignError) -> Error {
        match fault {
            DesignError::Run(error) => error,
            DesignError::Study(refused) => refused.into(),
            DesignError::NoSoundValue(all) => {
                let mut reports: Vec<String> = all.first.iter().map(drawn).collect();
                if all.further > 0 {
                    reports.push(format!("and {} more values that the study cannot have\n", all.further));
                }
                Error::Input(reports.join("\n"))
            }
        }
    }
}
