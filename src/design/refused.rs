//! What a study cannot have or be asked, as data.

use crate::error::Error;
use crate::io::{Diagnostic, SourceText};
use crate::study::Change;

/// A text that is refused, or a question about it.
#[derive(Clone, Debug)]
pub struct Refused {
    /// The text, with the changes.
    pub source: SourceText,
    /// All that is wrong, each at its place.
    pub findings: Vec<Diagnostic>,
    /// What was changed to make it so; none where it is refused as it stands.
    pub changes: Vec<Change>,
}

/// What is sound, or why it is not.
pub type Checked<T> = std::result::Result<T, Refused>;

/// What ends work on designs early.
#[derive(Debug)]
pub enum Fault {
    /// The study cannot be so.
    Refused(Refused),
    /// The study can have none of the values that are asked for.
    AllRefused(AllRefused),
    /// The work itself failed.
    Failed(Error),
}

/// The result of work on designs.
pub type Result<T> = std::result::Result<T, Fault>;

/// Values that a study cannot have, so many of them whole as somebody would read.
#[derive(Clone, Debug, Default)]
pub struct AllRefused {
    /// The first ones.
    pub first: Vec<Refused>,
    /// How many more there are.
    pub further: usize,
}

impl Refused {
    /// An error about a text as a whole.
    pub(super) fn whole(source: SourceText, message: String, help: String) -> Refused {
        Refused { source, findings: vec![Diagnostic::of_all(message, help)], changes: Vec::new() }
    }

    /// The first thing that is wrong, and how many more are.
    pub fn reason(&self) -> String {
        let first = self.findings.first().map_or("", |found| &found.message);
        match self.findings.len() {
            0 | 1 => first.to_owned(),
            count => format!("{first} (and {} more)", count - 1),
        }
    }
}

impl AllRefused {
    /// Most values that are kept whole.
    const SHOWN: usize = 8;

    /// Adds the next one.
    pub fn push(&mut self, refused: Refused) {
        if self.first.len() < AllRefused::SHOWN {
            self.first.push(refused);
        } else {
            self.further += 1;
        }
    }
}

impl From<Refused> for Fault {
    fn from(refused: Refused) -> Fault {
        Fault::Refused(refused)
    }
}

impl From<Error> for Fault {
    fn from(error: Error) -> Fault {
        Fault::Failed(error)
    }
}
