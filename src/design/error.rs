//! Errors of a study, and of work on studies, as data.

use crate::error::Error;
use crate::io::{Diagnostic, SourceText, render};
use crate::study::Change;
use std::fmt;

/// All that is wrong with a study, or with a question about it. It displays as every finding under the line that it is about.
#[derive(Clone, Debug)]
pub struct StudyError {
    /// The text, with the changes.
    pub source: SourceText,
    /// All that is wrong, each at its place.
    pub findings: Vec<Diagnostic>,
    /// The changes after which it is wrong; none where it is wrong as it stands.
    pub changes: Vec<Change>,
}

/// The result of what a study may not allow.
pub(crate) type Checked<T> = std::result::Result<T, StudyError>;

/// The error of work on studies.
#[derive(Debug, thiserror::Error)]
pub enum DesignError {
    /// The study is wrong.
    #[error(transparent)]
    Study(#[from] StudyError),
    /// The study can have none of the values that were asked for.
    #[error(transparent)]
    NoSoundValue(#[from] NoSoundValue),
    /// The run failed.
    #[error(transparent)]
    Run(#[from] Error),
}

/// The result of work on studies.
pub(crate) type Result<T> = std::result::Result<T, DesignError>;

/// Values that a study cannot have. It displays as the errors of the first ones.
#[derive(Clone, Debug, Default)]
pub struct NoSoundValue {
    /// The errors of the first ones.
    pub first: Vec<StudyError>,
    /// How many more there are.
    pub further: usize,
}

impl StudyError {
    /// An error about a text as a whole.
    pub(super) fn whole(source: SourceText, message: String, help: String) -> StudyError {
        StudyError { source, findings: vec![Diagnostic::of_all(message, help)], changes: Vec::new() }
    }

    /// The first finding, and how many more there are.
    pub fn reason(&self) -> String {
        let first = self.findings.first().map_or("", |found| &found.message);
        match self.findings.len() {
            0 | 1 => first.to_owned(),
            count => format!("{first} (and {} more)", count - 1),
        }
    }
}

impl fmt::Display for StudyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(render(&self.source, &self.findings, false).trim_end())
    }
}

impl std::error::Error for StudyError {}

impl NoSoundValue {
    /// Most errors that are kept whole: as many as a person would read.
    const SHOWN: usize = 8;

    /// Adds the next one.
    pub fn push(&mut self, error: StudyError) {
        if self.first.len() < NoSoundValue::SHOWN {
            self.first.push(error);
        } else {
            self.further += 1;
        }
    }
}

impl fmt::Display for NoSoundValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, error) in self.first.iter().enumerate() {
            write!(f, "{}{error}", if number > 0 { "\n\n" } else { "" })?;
        }
        if self.further > 0 { write!(f, "\n\nand {} values more", self.further) } else { Ok(()) }
    }
}

impl std::error::Error for NoSoundValue {}
