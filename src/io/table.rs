//! A cursor over one table of a document, which records every error at its place and goes on.
//!
//! The readers of values are in `read.rs`.

use std::cell::{Cell, RefCell};

use super::diagnostic::{Findings, Span, shown};
use super::document::{Entry, Node, Value};
use super::suggest::closest;

pub(crate) use super::check::Check;
pub(crate) use super::document::Document;

/// A cursor over one table.
///
/// Every reader answers with a usable value: after an error it is a harmless stand-in, and nothing
/// that is said later about the same place is recorded. When the cursor is dropped, the keys that
/// no reader asked for are reported as unknown; so ask for each table once.
#[derive(Debug)]
pub(crate) struct Table<'a> {
    pub(super) document: &'a Document,
    pub(super) findings: &'a Findings,
    entries: &'a [Entry],
    span: Span,
    asked: RefCell<Vec<String>>,
    silent: Cell<bool>,
}

impl<'a> Table<'a> {
    /// A cursor over `node`, which is a table (anything else reads as an empty one).
    pub(super) fn new(document: &'a Document, findings: &'a Findings, node: &'a Node) -> Self {
        let entries: &[Entry] = match &node.value {
            Value::Table(entries) => entries,
            _ => &[],
        };
        Table {
            document,
            findings,
            entries,
            span: node.span.clone(),
            asked: RefCell::default(),
            silent: Cell::new(false),
        }
    }

    /// The place of the table: its header, or all of an inline table. Of the whole document, 0..0.
    pub(crate) fn span(&self) -> Span {
        self.span.clone()
    }

    /// The place of the value of `key`, or of the table when it has no such key.
    pub(crate) fn span_of(&self, key: impl AsRef<str>) -> Span {
        let key = key.as_ref();
        let entry = self.entries.iter().find(|entry| entry.key == key);
        entry.map_or_else(|| self.span(), |entry| entry.node.span.clone())
    }

    /// Whether the table has `key`, which counts as asked for from now on.
    pub(crate) fn has(&self, key: impl AsRef<str>) -> bool {
        self.find(key.as_ref()).is_some()
    }

    /// The keys that are there, in the order of the text.
    pub(crate) fn keys(&self) -> impl Iterator<Item = &'a str> + use<'a> {
        self.entries.iter().map(|entry| entry.key.as_str())
    }

    /// What stands at `key`, as the document writes it, which counts as asked for from now on.
    pub(crate) fn written(&self, key: &str) -> Option<&'a str> {
        self.find(key).map(|node| self.document.written(node))
    }

    /// Whether `key` is there and holds a table.
    pub(crate) fn is_table(&self, key: impl AsRef<str>) -> bool {
        let node = self.find(key.as_ref());
        node.is_some_and(|node| matches!(node.value, Value::Table(_)))
    }

    /// Whether `key` is there and holds a text.
    pub(crate) fn is_text(&self, key: impl AsRef<str>) -> bool {
        let node = self.find(key.as_ref());
        node.is_some_and(|node| matches!(node.value, Value::Text(_)))
    }

    /// Whether nothing is known to be wrong at or within the value of `key`. Where something is, stand-ins were read,
    /// and nothing should be judged by them.
    pub(crate) fn is_sound(&self, key: impl AsRef<str>) -> bool {
        let key = key.as_ref();
        let entry = self.entries.iter().find(|entry| entry.key == key);
        entry.map_or_else(|| !self.findings.has_error_in(&self.span()), |entry| self.is_sound_at(&entry.node))
    }

    /// The same of a value. The place of a table under a header is the header alone, so what stands in it is asked by itself.
    fn is_sound_at(&self, node: &Node) -> bool {
        let is_sound_inside = match &node.value {
            Value::Table(entries) => entries
                .iter()
                .all(|entry| !self.findings.has_error_in(&entry.key_span) && self.is_sound_at(&entry.node)),
            Value::List(items) => items.iter().all(|item| self.is_sound_at(item)),
            _ => true,
        };
        is_sound_inside && !self.findings.has_error_in(&node.span)
    }

    /// The table at `key`; anything else there is an error.
    pub(crate) fn table(&self, key: impl AsRef<str>) -> Option<Table<'a>> {
        let key = key.as_ref();
        let node = self.find(key)?;
        if matches!(node.value, Value::Table(_)) {
            return Some(Table::new(self.document, self.findings, node));
        }
        self.wrong_type(key, node, "a table", Some(format!("write `{key} = {{ ... }}`")));
        None
    }

    /// The table at `key`, which must be there. `example` shows its right-hand side.
    pub(crate) fn required_table(&self, key: impl AsRef<str>, example: &str) -> Option<Table<'a>> {
        let key = key.as_ref();
        if !self.has(key) {
            self.missing(key, example, ());
        }
        self.table(key)
    }

    /// The tables of the list at `key`; none when there is no such key.
    pub(crate) fn tables(&self, key: impl AsRef<str>) -> Vec<Table<'a>> {
        let key = key.as_ref();
        let Some(node) = self.find(key) else {
            return Vec::new();
        };
        let Value::List(items) = &node.value else {
            let help = format!("write a header `[[{key}]]` for each");
            self.wrong_type(key, node, "a list of tables", Some(help));
            return Vec::new();
        };
        let mut tables = Vec::new();
        for item in items {
            if matches!(item.value, Value::Table(_)) {
                tables.push(Table::new(self.document, self.findings, item));
            } else {
                self.wrong_type(key, item, "a table", None);
            }
        }
        tables
    }

    /// The tables of the list at `key`, one at least. Without one, `message` says what is missing and `help` what to add.
    pub(crate) fn required_tables(&self, key: impl AsRef<str>, message: &str, help: &str) -> Vec<Table<'a>> {
        let tables = self.tables(key);
        if tables.is_empty() {
            self.error(None, message, "", Some(help.to_owned()));
        }
        tables
    }

    /// Records an error; see [`Findings::error`].
    pub(crate) fn error(
        &self,
        span: impl Into<Option<Span>>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: Option<String>,
    ) {
        self.findings.error(span, message, label, help);
    }

    /// Where the errors go.
    pub(crate) fn findings(&self) -> &'a Findings {
        self.findings
    }

    /// Turns off the report of unknown keys, for when it cannot be known which keys are expected.
    pub(crate) fn ignore_unknown(&self) {
        self.silent.set(true);
    }

    /// The value of `key`, which counts as asked for from now on.
    pub(super) fn find(&self, key: &str) -> Option<&'a Node> {
        let mut asked = self.asked.borrow_mut();
        if !asked.iter().any(|known| known == key) {
            asked.push(key.to_owned());
        }
        let entry = self.entries.iter().find(|entry| entry.key == key);
        entry.map(|entry| &entry.node)
    }

    /// Records that `key` is missing and answers with the stand-in.
    pub(super) fn missing<T>(&self, key: &str, example: &str, stand_in: T) -> T {
        let help = format!("add, for example, `{key} = {example}`");
        self.findings.missing(&self.span, key, help);
        stand_in
    }

    /// Records that something other than `right` stands at `node`.
    pub(super) fn wrong_type(&self, key: &str, node: &Node, right: &str, help: Option<String>) {
        let message = format!("{} where {right} is expected", node.value.noun());
        let label = format!("`{key}` takes {right}");
        self.findings.stand_in(&node.span, message, label, help);
    }

    /// What to write instead of an unknown key.
    fn instead_of(&self, key: &str) -> String {
        let asked = self.asked.borrow();
        let is_free = |known: &&str| !self.entries.iter().any(|entry| entry.key == **known);
        let free = asked.iter().map(String::as_str).filter(is_free);
        if let Some(known) = closest(key, free) {
            return format!("did you mean `{known}`?");
        }
        if asked.is_empty() {
            return "this table takes no keys".to_owned();
        }
        let known: Vec<String> = asked.iter().map(|known| format!("`{known}`")).collect();
        format!("this table takes {}", known.join(", "))
    }
}

impl Drop for Table<'_> {
    fn drop(&mut self) {
        if self.silent.get() {
            return;
        }
        for entry in self.entries {
            if !self.asked.borrow().contains(&entry.key) {
                self.findings.slip(
                    entry.key_span.clone(),
                    format!("unknown key `{}`", shown(&entry.key)),
                    "nothing reads this",
                    Some(self.instead_of(&entry.key)),
                );
            }
        }
    }
}

#[cfg(test)]
mod tests;
