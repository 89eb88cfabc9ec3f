//! Findings about an input text, collected with their places.

use std::cell::{Cell, RefCell};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub(crate) use super::draw::render;
pub(super) use super::draw::shown;
use super::inert::inert_line;

/// The name of standard input among inputs.
pub(crate) const STANDARD_INPUT: &str = "-";

/// A text and where it is from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceText {
    /// Its path; "-" is standard input.
    pub name: PathBuf,
    /// The whole text.
    pub text: String,
}

impl SourceText {
    /// What it is called in reports.
    pub fn title(&self) -> String {
        if self.name == Path::new(STANDARD_INPUT) {
            return "standard input".to_owned();
        }
        inert_line(&self.name.to_string_lossy()).into_owned()
    }
}

/// A place in a text: byte offsets. The empty place at 0 stands for the text as a whole.
pub(crate) type Span = Range<usize>;

/// How grave a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// The input cannot be used.
    Error,
    /// The input can be used, but a person should look.
    Warning,
}

/// One finding about a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// How grave it is.
    pub severity: Severity,
    /// What is wrong, in one line.
    pub message: String,
    /// The text it is about, where that is another than the one that is read: a file that stands beside it.
    pub other: Option<Arc<SourceText>>,
    /// Where; `None` means the text as a whole.
    pub span: Option<Span>,
    /// A few words that stand beside the underline; may be empty.
    pub label: String,
    /// What would be right.
    pub help: Option<String>,
    /// Whether it is a slip of writing: a value of another kind than is asked for, an unknown word or key, a file that is not there. Any
    /// other error is about a value that is understood and cannot be.
    pub is_slip: bool,
}

impl Diagnostic {
    /// An error about a text as a whole, and what would be right.
    pub fn of_all(message: String, help: String) -> Diagnostic {
        Diagnostic {
            severity: Severity::Error,
            message,
            other: None,
            span: None,
            label: String::new(),
            help: Some(help),
            is_slip: false,
        }
    }
}

/// Collects findings, so that a reader can go on after an error and report all of them at once.
#[derive(Debug, Default)]
pub(crate) struct Findings {
    list: RefCell<Vec<Diagnostic>>,
    stand_ins: RefCell<Vec<Span>>,
    /// Places whose value is a file in which errors were recorded.
    doubted: RefCell<Vec<Span>>,
    closed: Cell<bool>,
}

impl Findings {
    /// Records an error.
    ///
    /// Nothing is recorded at a place that a [`table`](super::table) reader has already reported:
    /// its value is a stand-in there, and a judgement on it would mislead.
    pub(crate) fn error(
        &self,
        span: impl Into<Option<Span>>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: Option<String>,
    ) {
        self.judge(here(Severity::Error, span.into(), message.into(), label.into(), help));
    }

    /// Records an error in another text than the one that is read.
    pub(crate) fn error_in(
        &self,
        other: &Arc<SourceText>,
        span: impl Into<Option<Span>>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: Option<String>,
    ) {
        let (message, label) = (message.into(), label.into());
        let other = Some(other.clone());
        let (severity, span) = (Severity::Error, span.into());
        self.record(Diagnostic { severity, message, other, span, label, help, is_slip: false });
    }

    /// Records an error that is a slip of writing; like [`Findings::error`] otherwise.
    pub(super) fn slip(
        &self,
        span: impl Into<Option<Span>>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: Option<String>,
    ) {
        let (span, message, label) = (span.into(), message.into(), label.into());
        self.judge(Diagnostic {
            severity: Severity::Error,
            message,
            other: None,
            span,
            label,
            help,
            is_slip: true,
        });
    }

    /// Records a warning; like [`Findings::error`] otherwise.
    pub(crate) fn warning(
        &self,
        span: impl Into<Option<Span>>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: Option<String>,
    ) {
        self.judge(here(Severity::Warning, span.into(), message.into(), label.into(), help));
    }

    /// Whether an error (not only a warning) was recorded.
    pub(crate) fn has_errors(&self) -> bool {
        let list = self.list.borrow();
        list.iter().any(|found| found.severity == Severity::Error)
    }

    /// Notes that errors were recorded in the file that the value at a place names.
    pub(super) fn doubt(&self, span: Span) {
        self.doubted.borrow_mut().push(span);
    }

    /// Whether an error was recorded at or within a place, or in a file that is named there.
    pub(super) fn has_error_in(&self, place: &Span) -> bool {
        let list = self.list.borrow();
        let is_in = |span: &Span| place.start <= span.start && span.end <= place.end;
        if self.doubted.borrow().iter().any(is_in) {
            return true;
        }
        let here = list.iter().filter(|found| found.severity == Severity::Error && found.other.is_none());
        here.filter_map(|found| found.span.as_ref()).any(is_in)
    }

    /// The findings in the order of their places; those without a place come first, those in other texts last.
    pub(crate) fn into_vec(self) -> Vec<Diagnostic> {
        let mut list = self.list.into_inner();
        let place = |found: &Diagnostic| {
            let other = found.other.as_ref().map(|other| other.name.clone());
            (other, found.span.as_ref().map(|span| span.start))
        };
        list.sort_by_key(place);
        list
    }

    /// Records a slip of writing at `span`, for which its reader answers with a stand-in.
    pub(super) fn stand_in(&self, span: &Span, message: String, label: String, help: Option<String>) {
        let found = here(Severity::Error, Some(span.clone()), message, label, help);
        self.stand_in_for(span, Diagnostic { is_slip: true, ..found });
    }

    /// Records that the value at `span` is understood and cannot be; its reader answers with a stand-in.
    pub(super) fn out_of_range(&self, span: &Span, message: String) {
        let label = "out of range".to_owned();
        self.stand_in_for(span, here(Severity::Error, Some(span.clone()), message, label, None));
    }

    fn stand_in_for(&self, span: &Span, found: Diagnostic) {
        if !self.has_stand_in(span) {
            self.mark(span);
            self.record(found);
        }
    }

    /// Records that `key` is missing in the table at `span`. A table can miss several keys.
    pub(super) fn missing(&self, span: &Span, key: &str, help: String) {
        let message = format!("missing key `{key}`");
        let label = format!("`{key}` is expected here");
        // The text as a whole is not marked: that would hide unrelated remarks on it.
        if !is_whole(span) {
            self.mark(span);
        }
        self.record(here(Severity::Error, Some(span.clone()), message, label, Some(help)));
    }

    /// Records nothing from here on: what is read from a broken text would be guesswork.
    pub(super) fn close(&self) {
        self.closed.set(true);
    }

    fn judge(&self, found: Diagnostic) {
        if !found.span.as_ref().is_some_and(|span| self.has_stand_in(span)) {
            self.record(found);
        }
    }

    fn record(&self, found: Diagnostic) {
        let mut list = self.list.borrow_mut();
        if !self.closed.get() && !list.contains(&found) {
            list.push(found);
        }
    }

    fn mark(&self, span: &Span) {
        self.stand_ins.borrow_mut().push(span.clone());
    }

    fn has_stand_in(&self, span: &Span) -> bool {
        self.stand_ins.borrow().contains(span)
    }
}

/// A finding in the text that is read.
fn here(
    severity: Severity,
    span: Option<Span>,
    message: String,
    label: String,
    help: Option<String>,
) -> Diagnostic {
    Diagnostic { severity, message, other: None, span, label, help, is_slip: false }
}

/// Whether a place stands for the text as a whole.
pub(super) fn is_whole(span: &Span) -> bool {
    *span == (0..0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stand_in_provokes_no_second_finding() {
        let findings = Findings::default();
        findings.stand_in(&(4..5), "first".into(), String::new(), None);
        findings.stand_in(&(4..5), "second".into(), String::new(), None);
        findings.error(4..5, "third", "", None);
        findings.error(4..6, "elsewhere", "", None);
        let messages: Vec<String> = findings.into_vec().into_iter().map(|f| f.message).collect();
        assert_eq!(messages, ["first", "elsewhere"]);
    }

    #[test]
    fn a_missing_key_silences_its_table_but_not_the_whole_text() {
        let findings = Findings::default();
        for span in [0..0, 7..9] {
            findings.missing(&span, "a", String::new());
            findings.missing(&span, "b", String::new());
            findings.error(span.clone(), format!("more on {}", span.start), "", None);
        }
        let messages: Vec<String> = findings.into_vec().into_iter().map(|f| f.message).collect();
        let missing = |key| format!("missing key `{key}`");
        let whole = [missing("a"), missing("b"), "more on 0".to_owned()];
        assert_eq!(messages, [&whole[..], &[missing("a"), missing("b")]].concat());
    }

    #[test]
    fn the_same_finding_is_kept_once() {
        let findings = Findings::default();
        findings.error(1..2, "same", "", None);
        findings.error(1..2, "same", "", None);
        assert_eq!(findings.into_vec().len(), 1);
    }

    #[test]
    fn nothing_is_recorded_after_closing() {
        let findings = Findings::default();
        findings.close();
        findings.error(None, "late", "", None);
        assert!(!findings.has_errors());
    }
}
