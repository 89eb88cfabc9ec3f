//! The readers of single values of a [`Table`]: texts, flags, counts, numbers, quantities, choices.
//!
//! What is read here may be absent; whether a key must be there, and what stands for it, its declaration says ([`Table::read`]).

use std::ops::RangeInclusive;

use super::check::{Check, count_demand, count_stand_in};
use super::diagnostic::shown;
use super::document::{Node, Value};
use super::quantity::{self, Dimension, parse_with_unit};
use super::suggest::closest;
use super::table::Table;
use super::unit::digits;

impl Table<'_> {
    /// The text at `key`, if there is one.
    pub(super) fn optional_text(&self, key: &str) -> Option<String> {
        self.find(key).map(|node| self.read_text(key, node))
    }

    /// What stands before `word` or its plural in the text at `key`, where it ends so: the 0.5 of "0.5 wavelength".
    pub(crate) fn multiple(&self, key: &str, word: &'static str) -> Option<&str> {
        match &self.find(key)?.value {
            Value::Text(text) => text.strip_suffix('s').unwrap_or(text).strip_suffix(word),
            _ => None,
        }
    }

    /// The `true` or `false` at `key`, or the default.
    pub(super) fn flag_or(&self, key: &str, default: bool) -> bool {
        match self.find(key) {
            None => default,
            Some(Node { value: Value::Flag(flag), .. }) => *flag,
            Some(node) => {
                self.wrong_type(key, node, "`true` or `false`", None);
                default
            }
        }
    }

    /// The whole number at `key`, which must be in `range`, if there is one.
    pub(super) fn optional_count(&self, key: &str, range: RangeInclusive<u64>) -> Option<u64> {
        self.find(key).map(|node| self.read_count(key, node, &range))
    }

    /// The number at `key`, if there is one: a bare one, or a percentage as a text.
    pub(crate) fn optional_number(&self, key: &str, check: Check) -> Option<f64> {
        self.optional_quantity(key, Dimension::Ratio, check)
    }

    /// The quantity at `key`, in SI, if there is one; see [`Dimension`].
    pub(super) fn optional_quantity(&self, key: &str, dimension: Dimension, check: Check) -> Option<f64> {
        let node = self.find(key);
        node.map(|node| self.read_quantity(key, node, dimension, check))
    }

    /// The meaning of the word at `key`. `what` names the kind of word ("shape"), `options` are
    /// the words with their meanings. The stand-in is the first.
    ///
    /// # Panics
    /// When `options` is empty, which no input can bring about.
    fn choice<T: Clone>(&self, key: &str, what: &str, options: &[(&'static str, T)]) -> T {
        let (word, first) = &options[0];
        self.optional_choice(key, what, options)
            .unwrap_or_else(|| self.missing(key, &format!("\"{word}\""), first.clone()))
    }

    /// The meaning of the word at `kind`, which must be there and says what else the table holds. `None` after an
    /// error, and then no key of the table is called unknown.
    pub(crate) fn kind<T: Clone>(&self, what: &str, options: &[(&'static str, T)]) -> Option<T> {
        let what = format!("kind of {what}");
        let known = |word: &str| options.iter().any(|(known, _)| *known == word);
        let is_known =
            self.find("kind").is_some_and(|node| matches!(&node.value, Value::Text(word) if known(word)));
        let meaning = self.choice("kind", &what, options);
        if !is_known {
            self.ignore_unknown();
        }
        is_known.then_some(meaning)
    }

    /// The meaning of the word at `key`, if there is one; see [`Table::choice`].
    ///
    /// # Panics
    /// When `options` is empty, which no input can bring about.
    pub(super) fn optional_choice<T: Clone>(
        &self,
        key: &str,
        what: &str,
        options: &[(&'static str, T)],
    ) -> Option<T> {
        let node = self.find(key)?;
        let words = || options.iter().map(|(word, _)| *word);
        let quoted: Vec<String> = words().map(|word| format!("\"{word}\"")).collect();
        let possible = format!("possible: {}", quoted.join(", "));
        let Value::Text(text) = &node.value else {
            self.wrong_type(key, node, &format!("a {what} as a text"), Some(possible));
            return Some(options[0].1.clone());
        };
        let hit = options.iter().find(|(word, _)| word == text);
        if let Some((_, meaning)) = hit {
            return Some(meaning.clone());
        }
        let help = match closest(text, words()) {
            Some(word) => format!("did you mean \"{word}\"? {possible}"),
            None => possible,
        };
        let message = format!("unknown {what} `{}`", shown(text));
        let label = format!("not a {what}");
        self.findings.stand_in(&node.span, message, label, Some(help));
        Some(options[0].1.clone())
    }

    pub(super) fn read_text(&self, key: &str, node: &Node) -> String {
        match &node.value {
            Value::Text(text) => text.clone(),
            _ => {
                let help = format!("write it in quotes, such as `{key} = \"...\"`");
                self.wrong_type(key, node, "a text", Some(help));
                String::new()
            }
        }
    }

    pub(super) fn read_count(&self, key: &str, node: &Node, range: &RangeInclusive<u64>) -> u64 {
        match node.value {
            Value::Whole(whole) => match u64::try_from(whole) {
                Ok(count) if range.contains(&count) => return count,
                _ => self.out_of_range(key, node, self.document.written(node), &count_demand(range)),
            },
            Value::Number(number) => self.findings.stand_in(
                &node.span,
                format!("`{key}` is {}, but must be a whole number", shown(self.document.written(node))),
                "not a whole number".to_owned(),
                (number.fract() == 0.0).then(|| format!("write `{key} = {}`", digits(number))),
            ),
            _ => self.wrong_type(key, node, "a whole number", None),
        }
        count_stand_in(range)
    }

    pub(super) fn read_quantity(&self, key: &str, node: &Node, dimension: Dimension, check: Check) -> f64 {
        let with_unit = || format!("{} with its unit", dimension.noun());
        let bare = match node.value {
            Value::Whole(whole) => Some(whole as f64),
            Value::Number(number) => Some(number),
            _ => None,
        };
        match (&node.value, bare) {
            (_, Some(number)) if dimension == Dimension::Ratio => {
                let most = dimension.most();
                let sized = Check::Within(-most, most);
                if check.holds(number) && sized.holds(number) {
                    return number;
                }
                let broken = match number.is_finite() {
                    true if check.holds(number) => sized,
                    true => check,
                    false => Check::Any,
                };
                let demand = broken.demand(digits);
                self.out_of_range(key, node, self.document.written(node), &demand);
            }
            (_, Some(_)) => {
                let number = shown(self.document.written(node));
                let (_, unit) = dimension.example().split_once(' ').unwrap_or_default();
                self.findings.stand_in(
                    &node.span,
                    format!("a bare number where {} is expected", with_unit()),
                    format!("{number} has no unit"),
                    Some(format!("write a text with its unit, such as \"{number} {unit}\"")),
                );
            }
            (Value::Text(text), None) => match parse_with_unit(text, dimension) {
                Ok((si, _)) if check.holds(si) => return si,
                Ok((_, unit)) => {
                    let demand = check.demand(|bound| unit.write(bound));
                    self.out_of_range(key, node, text.trim(), &demand);
                }
                Err(error) => {
                    let label = match dimension {
                        Dimension::Ratio => "a number is expected".to_owned(),
                        _ => format!("{} is expected", with_unit()),
                    };
                    self.findings.stand_in(&node.span, error.wrong, label, Some(error.right));
                }
            },
            _ if dimension == Dimension::Ratio => self.wrong_type(key, node, "a number", None),
            _ => {
                let help = format!("write, for example, `{key} = \"{}\"`", dimension.example());
                self.wrong_type(key, node, &with_unit(), Some(help));
            }
        }
        stand_in(dimension, check)
    }

    fn out_of_range(&self, key: &str, node: &Node, written: &str, demand: &str) {
        let message = format!("`{key}` is {}, but {demand}", shown(written));
        self.findings.out_of_range(&node.span, message);
    }
}

/// A quantity that holds, in SI: a common one if it does.
pub(super) fn stand_in(dimension: Dimension, check: Check) -> f64 {
    let common = match dimension {
        Dimension::Ratio => 1.0,
        _ => quantity::parse(dimension.example(), dimension).unwrap_or(1.0),
    };
    check.stand_in(common)
}

#[cfg(test)]
mod tests;
