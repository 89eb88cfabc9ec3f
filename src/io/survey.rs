//! What the readers ask of a document: which keys, and what may stand at each.
//!
//! A document that is surveyed keeps every question. So what a document may hold need not be written down beside the
//! readers: it is what they ask for.

use std::cell::RefCell;
use std::ops::RangeInclusive;

use super::check::Check;
use super::diagnostic::{SourceText, Span};
use super::document::Document;
use super::table::Table;
use super::unit::Dimension;

/// What may stand at a key.
#[derive(Clone, Debug, PartialEq)]
pub enum Due {
    /// Any text.
    Text,
    /// `true` or `false`.
    Flag,
    /// A whole number.
    Count(RangeInclusive<u64>),
    /// A quantity with its unit; of a ratio, a number as well.
    Quantity(Dimension, Check),
    /// A text of a number and this word, which is no unit: "0.5 wavelength".
    Multiple(&'static str),
    /// One of these words.
    Word(Vec<&'static str>),
    /// A list of such values, at least one.
    List(Box<Due>),
    /// A table.
    Table,
    /// A list of tables.
    Tables,
    /// What stands at many keys alike, under a name of its own: "length.tolerance".
    Shared(String),
    /// Any value: another reader judges it.
    Anything,
}

/// What was asked of a table.
#[derive(Clone, Debug, PartialEq)]
pub enum Asked {
    /// What stands at a key, if anything does; `None` where only that is asked.
    Key(String, Option<Due>),
    /// A key that was due and absent, or of which one is due at least.
    Required(String),
    /// Every key that there is: the study names them.
    Names,
}

/// A question to the table at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Place of the table.
    pub table: Span,
    /// What was asked.
    pub asked: Asked,
}

/// The questions to a document.
#[derive(Debug, Default)]
pub(super) struct Survey {
    questions: RefCell<Vec<Question>>,
    blank: Option<Span>,
}

impl Document {
    /// Parses a text to learn what is asked of it. The table at `blank` shows nothing of what it holds but its kind, so that what
    /// is missed shows what is due. No file that it names is read.
    pub fn surveyed(source: SourceText, blank: Option<Span>) -> Document {
        let survey = Survey { questions: RefCell::default(), blank };
        let mut document = Document::parse(source);
        document.survey = Some(survey);
        document
    }

    /// What was asked of it so far, in order.
    pub fn questions(&self) -> Vec<Question> {
        self.survey.as_ref().map_or(Vec::new(), |survey| survey.questions.borrow().clone())
    }

    /// Whether a table's keys are hidden.
    pub(super) fn hides(&self, table: &Span) -> bool {
        self.survey.as_ref().is_some_and(|survey| survey.blank.as_ref() == Some(table))
    }
}

impl Table<'_> {
    /// States what `key` takes, for a reader that asks for it in a way of its own.
    pub fn expects(&self, key: &str, due: impl FnOnce() -> Due) {
        self.note(|| Asked::Key(key.to_owned(), Some(due())));
    }

    pub(super) fn note(&self, asked: impl FnOnce() -> Asked) {
        if let Some(survey) = &self.document.survey {
            let question = Question { table: self.span(), asked: asked() };
            let mut questions = survey.questions.borrow_mut();
            if !questions.contains(&question) {
                questions.push(question);
            }
        }
    }
}
