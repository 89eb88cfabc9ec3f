//! A TOML text as a tree that keeps the place of every value.

use std::cell::RefCell;
use std::sync::Arc;

use toml::de::{DeTable, DeValue};

use super::diagnostic::{Findings, SourceText, Span};
use super::table::Table;

/// A parsed TOML text.
#[derive(Debug)]
pub(crate) struct Document {
    /// The text it was parsed from.
    pub source: SourceText,
    /// The files that were read beside it.
    pub(super) companions: RefCell<Vec<Arc<SourceText>>>,
    root: Node,
    broken: Vec<(String, Option<Span>)>,
}

/// A value and its place. The place of a standard table is its header.
#[derive(Debug)]
pub(super) struct Node {
    pub span: Span,
    pub value: Value,
}

#[derive(Debug)]
pub(super) enum Value {
    Text(String),
    /// A whole number; one beyond this range is an infinite `Number`.
    Whole(i128),
    Number(f64),
    Flag(bool),
    Date,
    List(Vec<Node>),
    /// In the order of the text.
    Table(Vec<Entry>),
}

#[derive(Debug)]
pub(super) struct Entry {
    pub key: String,
    pub key_span: Span,
    pub node: Node,
}

impl Document {
    /// Parses a text. Syntax errors are kept and come out of [`Document::root`].
    pub(crate) fn parse(source: SourceText) -> Document {
        let (table, errors) = DeTable::parse_recoverable(&source.text);
        let root = Node { span: 0..0, value: Value::Table(entries(table.get_ref())) };
        let broken = one_a_line(&source.text, &errors);
        Document { source, companions: RefCell::default(), root, broken }
    }

    /// A cursor over the whole document.
    ///
    /// All syntax errors are recorded at once; after one, `findings` records nothing else, so
    /// that reading on does no harm and needs no special case.
    pub(crate) fn root<'a>(&'a self, findings: &'a Findings) -> Table<'a> {
        for (message, span) in &self.broken {
            findings.slip(span.clone(), message.clone(), "", None);
        }
        if !self.broken.is_empty() {
            findings.close();
        }
        Table::new(self, findings, &self.root)
    }

    pub(super) fn top(&self) -> &Node {
        &self.root
    }

    pub(super) fn has_syntax_errors(&self) -> bool {
        !self.broken.is_empty()
    }

    /// The text of a value as it stands in the document.
    pub(super) fn written(&self, node: &Node) -> &str {
        self.source.text.get(node.span.clone()).unwrap_or_default()
    }
}

impl Value {
    /// What stands there, for a message.
    pub(super) fn noun(&self) -> &'static str {
        match self {
            Value::Text(_) => "a text",
            Value::Whole(_) | Value::Number(_) => "a number",
            Value::Flag(true) => "`true`",
            Value::Flag(false) => "`false`",
            Value::Date => "a date",
            Value::List(_) => "a list",
            Value::Table(_) => "a table",
        }
    }
}

/// The first syntax error of each line: the others on it are mostly echoes of the first.
fn one_a_line(text: &str, errors: &[toml::de::Error]) -> Vec<(String, Option<Span>)> {
    let mut lines = Vec::new();
    let mut kept = Vec::new();
    for error in errors {
        // The empty place at 0 would stand for the text as a whole.
        let span = error.span().map(|span| match span {
            Span { start: 0, end: 0 } => 0..1,
            span => span,
        });
        let before = span.as_ref().and_then(|span| text.get(..span.start));
        let line = before.map(|before| before.rfind('\n'));
        if !lines.contains(&line) {
            lines.push(line);
            kept.push((error.message().to_owned(), span));
        }
    }
    kept
}

fn entries(table: &DeTable<'_>) -> Vec<Entry> {
    let mut entries: Vec<Entry> = table
        .iter()
        .map(|(key, value)| Entry {
            key: key.get_ref().to_string(),
            key_span: key.span(),
            node: node(value.span(), value.get_ref()),
        })
        .collect();
    entries.sort_by_key(|entry| entry.key_span.start);
    entries
}

fn node(span: Span, value: &DeValue<'_>) -> Node {
    let value = match value {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(digits) => i128::from_str_radix(digits.as_str(), digits.radix())
            .map_or(Value::Number(f64::INFINITY), Value::Whole),
        DeValue::Float(digits) => Value::Number(digits.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(flag) => Value::Flag(*flag),
        DeValue::Datetime(_) => Value::Date,
        DeValue::Array(list) => {
            Value::List(list.iter().map(|item| node(item.span(), item.get_ref())).collect())
        }
        DeValue::Table(table) => Value::Table(entries(table)),
    };
    Node { span, value }
}
