//! For every wrong study or command line the program reports the error, its place and a remedy, and
//! leaves nothing behind.

mod bench;
mod blocks;
mod costs;
mod files;
mod inspections;
mod layouts;
mod sizes;
mod structure;
mod tolerances;
mod touchstone;
mod values;
mod words;

use crate::program::{Folder, SMALL, edited};

/// One edit of the small study, and the message about it.
struct Case {
    /// The text to replace, once.
    from: &'static str,
    to: &'static str,
    /// The text that an error points at, the first such text from the edit on; empty for an error on the study as a
    /// whole.
    at: &'static str,
    /// Words of the report.
    says: &'static [&'static str],
    /// How many errors there are.
    errors: usize,
}

/// A case of one error.
const fn case(from: &'static str, to: &'static str, at: &'static str, says: &'static [&'static str]) -> Case {
    Case { from, to, at, says, errors: 1 }
}

/// "line:column" of a place in a text, both from 1, columns in characters.
fn line_and_column(text: &str, at: usize) -> String {
    let before = &text[..at];
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
    format!("{line}:{column}")
}

impl Case {
    fn with_errors(self, errors: usize) -> Case {
        Case { errors, ..self }
    }

    fn check(&self) {
        let study = edited(SMALL, &[(self.from, self.to)]);
        let edit = SMALL.find(self.from).expect("checked by the edit");
        let report = Folder::with(&study).refused(&["check", "study.toml"]);
        let shown = format!("{:?} -> {:?}\n{report}", self.from, self.to);
        let place = if self.at.is_empty() {
            "--> study.toml\n".to_owned()
        } else {
            let at = study[edit..].find(self.at).map(|at| edit + at).expect("a place after the edit");
            format!("--> study.toml:{}\n", line_and_column(&study, at))
        };
        assert!(report.contains(&place), "{place}{shown}");
        for words in self.says {
            assert!(report.contains(words), "{words}\n{shown}");
        }
        let count = if self.errors == 1 { "1 error".to_owned() } else { format!("{} errors", self.errors) };
        assert!(report.ends_with(&format!("\n{count} in study.toml\n")), "{count}\n{shown}");
    }
}

fn check(cases: &[Case]) {
    cases.iter().for_each(Case::check);
}

#[test]
fn the_study_that_the_cases_edit_is_right() {
    Folder::with(SMALL).done(&["check", "study.toml"]);
}

#[test]
fn lines_and_columns_count_from_one() {
    assert_eq!(line_and_column("ab\ncéd", 0), "1:1");
    assert_eq!(line_and_column("ab\ncéd", "ab\ncé".len()), "2:3");
}
