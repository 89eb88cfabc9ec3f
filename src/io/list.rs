//! The readers of lists of a [`Table`]: each entry with its place, at least one entry.

use super::check::Check;
use super::diagnostic::Span;
use super::document::{Node, Value};
use super::quantity::Dimension;
use super::read::stand_in;
use super::table::Table;

impl Table<'_> {
    /// The quantities of the list at `key`, if there is one, in SI, each with its place; at least one. `example` shows its right-hand side.
    pub(super) fn optional_quantities(
        &self,
        key: &str,
        dimension: Dimension,
        check: Check,
        example: &str,
    ) -> Option<Vec<(f64, Span)>> {
        let stand_in = vec![(stand_in(dimension, check), self.span_of(key))];
        self.list(key, "a list", example, stand_in, |node| self.read_quantity(key, node, dimension, check))
    }

    /// The texts of the list at `key`, if there is one, each with its place; at least one. `example` shows its right-hand side.
    pub(crate) fn optional_texts(&self, key: &str, example: &str) -> Option<Vec<(String, Span)>> {
        let stand_in = vec![(String::new(), self.span_of(key))];
        self.list(key, "a list of texts", example, stand_in, |node| self.read_text(key, node))
    }

    fn list<T>(
        &self,
        key: &str,
        right: &str,
        example: &str,
        stand_in: Vec<(T, Span)>,
        read: impl Fn(&Node) -> T,
    ) -> Option<Vec<(T, Span)>> {
        let node = self.find(key)?;
        let help = || Some(format!("write, for example, `{key} = {example}`"));
        match &node.value {
            Value::List(items) if !items.is_empty() => {
                let read = |item: &Node| (read(item), item.span.clone());
                return Some(items.iter().map(read).collect());
            }
            Value::List(_) => self.findings.stand_in(
                &node.span,
                format!("`{key}` is empty, but needs at least one entry"),
                "nothing in here".to_owned(),
                help(),
            ),
            _ => self.wrong_type(key, node, right, help()),
        }
        Some(stand_in)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::io::diagnostic::{Findings, SourceText, render};
    use crate::io::table::Document;
    use crate::io::{Key, List, Quantity};

    const fn frequencies(name: &'static str) -> Key<List<Quantity>> {
        Key::quantity(name, Dimension::Frequency, Check::Positive, "[\"26 GHz\"]", "").list()
    }

    #[test]
    fn lists_report_each_entry() {
        let text = "a = \"26 GHz\"\nb = []\nc = [\"1 GHz\", 2, \"-3 GHz\"]\nd = [1, \"x\"]\n";
        snapbox::assert_data_eq!(
            report(text, |t| {
                let texts = |name| t.read(&Key::text(name, "[\"...\"]", "").list());
                t.read(&frequencies("a"));
                assert_eq!(texts("b").len(), 1);
                let three = t.read(&frequencies("c"));
                assert_eq!((three.len(), three[0].0), (3, 1e9));
                assert_eq!(texts("d")[1].0, "x");
            }),
            snapbox::str![[r#"
error: a text where a list is expected
 --> input.toml:1:5
  |
1 | a = "26 GHz"
  |     ^^^^^^^^ `a` takes a list
  |
  = help: write, for example, `a = ["26 GHz"]`

error: `b` is empty, but needs at least one entry
 --> input.toml:2:5
  |
2 | b = []
  |     ^^ nothing in here
  |
  = help: write, for example, `b = ["..."]`

error: a bare number where a frequency with its unit is expected
 --> input.toml:3:15
  |
3 | c = ["1 GHz", 2, "-3 GHz"]
  |               ^ 2 has no unit
  |
  = help: write a text with its unit, such as "2 GHz"

error: `c` is -3 GHz, but must be above zero
 --> input.toml:3:18
  |
3 | c = ["1 GHz", 2, "-3 GHz"]
  |                  ^^^^^^^^ out of range

error: a number where a text is expected
 --> input.toml:4:6
  |
4 | d = [1, "x"]
  |      ^ `d` takes a text
  |
  = help: write it in quotes, such as `d = "..."`

5 errors in input.toml

"#]]
        );
    }

    fn report(text: &str, read: impl FnOnce(&Table)) -> String {
        let document = Document::parse(SourceText { name: "input.toml".into(), text: text.into() });
        let findings = Findings::default();
        read(&document.root(&findings));
        render(&document.source, &findings.into_vec(), false)
    }
}
