//! The JSON Schema of the study file, for editors and for whatever else writes studies.
//!
//! Specimens of a study are read by the readers that read every study, and what these ask for is the schema: keys, kinds of value,
//! units, bounds, words, what is required. What is required is seen by showing a reader each table of a specimen once without what
//! it holds. A specimen's comments say what a key means.

mod kept;
mod write;

#[cfg(test)]
mod tests;

use crate::inspection::{read_tolerance, read_tolerance_or};
use crate::io::survey::Question;
use crate::io::{Check, Dimension, Document, Findings, Place, SourceText, Span, Table};
use crate::random::{Scope, Tolerance};
use crate::study::read;
use kept::Tables;
use serde_json::Value;

/// Everything that a study can hold, and what can stand in place of some of it.
const STUDIES: [&str; 2] = [include_str!("study.toml"), include_str!("others.toml")];

/// Everything that a tolerance can hold.
const TOLERANCES: &str = include_str!("tolerances.toml");

/// What parts two documents of a specimen.
const RULER: &str = "\n# ---\n";

/// Where the tables of a whole study are kept.
const STUDY: &str = "study";

/// Dialect: JSON Schema, draft 2020-12.
pub fn schema() -> Value {
    write::schema(&survey())
}

fn survey() -> Tables {
    let mut tables = Tables::default();
    for specimen in STUDIES.iter().flat_map(|text| text.split(RULER)) {
        ask(specimen, STUDY, &mut tables, &|root| _ = read::read(root));
    }
    for specimen in TOLERANCES.split(RULER) {
        for dimension in Dimension::ALL {
            ask(specimen, "", &mut tables, &|root| _ = read_tolerance(root, "value", dimension, Check::Any));
            ask(specimen, "", &mut tables, &|root| {
                read_tolerance_or(root, "value", dimension, Check::Any, 0.0);
            });
            ask(specimen, "", &mut tables, &|root| {
                Tolerance::read_in_scope(root, "value", dimension, Check::Any, 0.0, Scope::Unit);
            });
        }
    }
    tables
}

/// Reads a specimen as it is, and once without what each of its tables holds.
fn ask(specimen: &str, path: &str, tables: &mut Tables, read: &dyn Fn(&Table)) {
    let source = || SourceText { name: "".into(), text: specimen.to_owned() };
    let whole = Document::surveyed(source(), None);
    tables.take(path, whole.place(), &questions(&whole, read));
    for blank in spans(whole.place()) {
        let document = Document::surveyed(source(), Some(blank));
        tables.take(path, document.place(), &questions(&document, read));
    }
}

fn questions(document: &Document, read: &dyn Fn(&Table)) -> Vec<Question> {
    // A specimen may hold errors: it shows what can be asked for, and some of that excludes some other.
    let findings = Findings::default();
    read(&document.root(&findings));
    document.questions()
}

/// Places of all tables.
fn spans(place: Place) -> Vec<Span> {
    let within = place.keys().filter_map(|key| place.at(key)).chain(place.items()).flat_map(spans);
    place.is_table().then(|| place.span()).into_iter().chain(within).collect()
}
