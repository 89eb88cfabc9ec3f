//! Looking about in a document without judging it, and writing over what stands at a place.

use super::diagnostic::{SourceText, Span};
use super::document::{Document, Node, Value};

/// A place in a document.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Place<'a> {
    document: &'a Document,
    node: &'a Node,
}

impl Document {
    /// The document as a whole.
    pub(crate) fn place(&self) -> Place<'_> {
        Place { document: self, node: self.top() }
    }

    /// Whether it could be parsed.
    pub(crate) fn is_broken(&self) -> bool {
        self.has_syntax_errors()
    }
}

impl<'a> Place<'a> {
    /// What stands at a key of a table.
    pub(crate) fn at(&self, key: &str) -> Option<Place<'a>> {
        let Value::Table(entries) = &self.node.value else { return None };
        let entry = entries.iter().find(|entry| entry.key == key)?;
        Some(Place { node: &entry.node, ..*self })
    }

    /// The keys of a table; none of anything else.
    pub(crate) fn keys(&self) -> impl Iterator<Item = &'a str> + use<'a> {
        let entries = match &self.node.value {
            Value::Table(entries) => entries.as_slice(),
            _ => &[],
        };
        entries.iter().map(|entry| entry.key.as_str())
    }

    /// The items of a list; none of anything else.
    pub(crate) fn items(&self) -> impl Iterator<Item = Place<'a>> + use<'a> {
        let items = match &self.node.value {
            Value::List(items) => items.as_slice(),
            _ => &[],
        };
        let document = self.document;
        items.iter().map(move |node| Place { document, node })
    }

    /// Whether a table stands here.
    pub(crate) fn is_table(&self) -> bool {
        matches!(self.node.value, Value::Table(_))
    }

    /// Whether a list stands here.
    pub(crate) fn is_list(&self) -> bool {
        matches!(self.node.value, Value::List(_))
    }

    /// The text that stands here, if it is one.
    pub(crate) fn text(&self) -> Option<&'a str> {
        match &self.node.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    /// What stands here, as the document writes it.
    pub(crate) fn written(&self) -> &'a str {
        self.document.written(self.node)
    }

    /// Where that is; of a table, as [`Table::span`](super::table::Table::span) has it.
    pub(crate) fn span(&self) -> Span {
        self.node.span.clone()
    }

    /// The document with `value` (TOML) in place of what stands here.
    pub(crate) fn over(&self, value: &str) -> SourceText {
        self.spliced(self.node.span.clone(), value)
    }

    /// The document with a further key in the table that stands here; `None` where nothing can be written into it, because it
    /// has no header and no braces of its own.
    pub(crate) fn with(&self, key: &str, value: &str) -> Option<SourceText> {
        let span = &self.node.span;
        let text = &self.document.source.text;
        if std::ptr::eq(self.node, self.document.top()) {
            return Some(self.spliced(0..0, &format!("{key} = {value}\n")));
        }
        let written = self.written();
        if written.starts_with('{') && written.ends_with('}') {
            let comma = if self.keys().next().is_some() { "," } else { "" };
            return Some(self.spliced(span.end - 1..span.end - 1, &format!("{comma} {key} = {value} ")));
        }
        if written.starts_with('[') && self.is_table() {
            let line = text.get(span.end..)?.find('\n').map_or(text.len(), |at| span.end + at);
            return Some(self.spliced(line..line, &format!("\n{key} = {value}")));
        }
        None
    }

    fn spliced(&self, span: Span, by: &str) -> SourceText {
        let source = &self.document.source;
        let (before, after) = (&source.text[..span.start], &source.text[span.end..]);
        SourceText { name: source.name.clone(), text: format!("{before}{by}{after}") }
    }
}

/// A value as TOML writes it: what is TOML already, as it is, but for a date; anything else as a text.
pub(crate) fn as_toml(value: &str) -> String {
    let document = Document::parse(SourceText { name: "".into(), text: format!("value = {value}") });
    let top = document.place();
    let is_one = !document.is_broken() && top.keys().count() == 1;
    let is_date = top.at("value").is_none_or(|place| matches!(place.node.value, Value::Date));
    if is_one && !is_date {
        return value.to_owned();
    }
    let escaped = value.chars().flat_map(|c| match c {
        '"' | '\\' => vec!['\\', c],
        c if c.is_control() => format!("\\u{:04x}", c as u32).chars().collect(),
        c => vec![c],
    });
    format!("\"{}\"", escaped.collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "\
title = \"A\"
list = [1, 2]

[one]   # a table
inner = { a = 1, b = \"two\" }
empty = {}

[[many]]
name = \"first\"
";

    fn document() -> Document {
        Document::parse(SourceText { name: "input.toml".into(), text: TEXT.into() })
    }

    #[test]
    fn places_are_found_and_written_over() {
        let document = document();
        let top = document.place();
        assert_eq!(top.keys().collect::<Vec<_>>(), ["title", "list", "one", "many"]);
        let inner = top.at("one").unwrap().at("inner").unwrap();
        assert_eq!(inner.at("b").unwrap().text(), Some("two"));
        assert_eq!(inner.at("a").unwrap().over("7").text, TEXT.replace("a = 1", "a = 7"));
        assert_eq!(top.at("list").unwrap().written(), "[1, 2]");
        let first = top.at("many").unwrap().items().next().unwrap();
        assert_eq!(first.at("name").unwrap().over("\"x\"").text, TEXT.replace("\"first\"", "\"x\""));
        assert!(first.at("other").is_none() && top.at("title").unwrap().at("x").is_none());
    }

    #[test]
    fn keys_are_added_to_tables_of_every_form() {
        let document = document();
        let top = document.place();
        let one = top.at("one").unwrap();
        for (place, from, to) in [
            (top, "title", "new = 5\ntitle"),
            (one, "# a table", "# a table\nnew = 5"),
            (one.at("inner").unwrap(), "\"two\" }", "\"two\" , new = 5 }"),
            (one.at("empty").unwrap(), "{}", "{ new = 5 }"),
            (top.at("many").unwrap().items().next().unwrap(), "[[many]]", "[[many]]\nnew = 5"),
        ] {
            let changed = place.with("new", "5").unwrap();
            assert_eq!(changed.text, TEXT.replacen(from, to, 1));
            assert!(!Document::parse(changed).is_broken());
        }
        assert!(top.at("title").unwrap().with("new", "5").is_none());
    }

    #[test]
    fn values_become_toml() {
        for (value, toml) in [
            ("5", "5"),
            ("0.25", "0.25"),
            ("true", "true"),
            ("[1, 2]", "[1, 2]"),
            ("{ sd = 1 }", "{ sd = 1 }"),
            ("\"x\"", "\"x\""),
            ("0.1 mm", "\"0.1 mm\""),
            ("peak", "\"peak\""),
            ("5 %", "\"5 %\""),
            ("1979-05-27", "\"1979-05-27\""),
            ("1\nother = 2", "\"1\\u000aother = 2\""),
            ("", "\"\""),
            ("say \"so\"", "\"say \\\"so\\\"\""),
        ] {
            assert_eq!(as_toml(value), toml);
        }
    }
}
