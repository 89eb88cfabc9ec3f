//! Faults in the end of a launch, and in its outputs.

use super::launch::Ended;
use serde_json::Value;
use std::path::Path;

/// Everything that is wrong with how a launch ended, whatever it was asked; `asked` is all text that it was given.
pub fn faults_of(ended: &Ended, asked: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let err = String::from_utf8_lossy(&ended.err);
    if ended.is_hung {
        return vec![format!("it did not end in {:.0} s", ended.took.as_secs_f64())];
    }
    match ended.code {
        None => faults.push("a signal ended it".to_owned()),
        Some(0..=3) => {}
        Some(code) => faults.push(format!("exit code {code}")),
    }
    for word in ["panicked", "has a fault", "memory allocation", "overflowed its stack"] {
        if err.contains(word) {
            faults.push(format!("it says \"{word}\""));
        }
    }
    let error = err.lines().find_map(|line| line.strip_prefix("error: "));
    match (ended.code, error) {
        (Some(2 | 3), None) => faults.push("an exit code without an error".to_owned()),
        (Some(1..=3), Some(said)) if said.trim().is_empty() => {
            faults.push("an error that says nothing".to_owned())
        }
        (Some(0), Some(said)) => faults.push(format!("an error with exit code 0: {said}")),
        _ => {}
    }
    let is_form = |line: &str| ["error: ", "warning: "].iter().any(|form| line.starts_with(form));
    // Commands that only count warnings do so before they report errors.
    let counts_warnings = |line: &&str| {
        let rest = line.trim_start_matches(|of: char| of.is_ascii_digit());
        rest != *line && (rest.starts_with(" warning; ") || rest.starts_with(" warnings; "))
    };
    let first = err.lines().find(|line| !counts_warnings(line)).unwrap_or("");
    if ended.code.is_some_and(|code| code >= 2) && !is_form(first) {
        faults.push(format!("its first message has no known form: {first}"));
    }
    match std::str::from_utf8(&ended.out) {
        Err(_) => faults.push("standard output is not UTF-8".to_owned()),
        Ok(out) => faults.extend(no_numbers(out, asked).map(|word| format!("standard output says {word}"))),
    }
    faults
}

/// Faults of an existing output, by the ending of its name.
pub fn faults_of_file(path: &Path, asked: &str) -> Vec<String> {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) => return vec![format!("{name} cannot be read: {error}")],
    };
    faults_of_document(&name, &bytes, asked)
}

/// The same of a document's bytes.
pub fn faults_of_document(name: &str, bytes: &[u8], asked: &str) -> Vec<String> {
    let ending = name.rsplit('.').next().unwrap_or("");
    let text = || std::str::from_utf8(bytes).map_err(|_| format!("{name} is not UTF-8"));
    let found = match ending {
        "json" => text().and_then(|text| whole_json(name, text)),
        "csv" => text().and_then(|text| whole_csv(name, text)),
        "html" => text().and_then(|text| {
            if text.trim_end().ends_with("</html>") { Ok(()) } else { Err(format!("{name} breaks off")) }
        }),
        "parquet" => {
            let is_whole = bytes.len() > 8 && bytes.starts_with(b"PAR1") && bytes.ends_with(b"PAR1");
            if is_whole { Ok(()) } else { Err(format!("{name} breaks off")) }
        }
        _ => text()
            .and_then(|text| if text.ends_with('\n') { Ok(()) } else { Err(format!("{name} breaks off")) }),
    };
    let mut faults: Vec<String> = found.err().into_iter().collect();
    if ending != "parquet"
        && ending != "html"
        && let Ok(text) = text()
    {
        faults.extend(no_numbers(text, asked).map(|word| format!("{name} says {word}")));
    }
    faults
}

/// A document that parses, ends its last line, and holds no null: absent values are absent keys.
fn whole_json(name: &str, text: &str) -> Result<(), String> {
    let document: Value =
        serde_json::from_str(text).map_err(|error| format!("{name} does not parse: {error}"))?;
    if holds_null(&document) { Err(format!("{name} holds a null")) } else { Ok(()) }
}

fn holds_null(of: &Value) -> bool {
    match of {
        Value::Null => true,
        Value::Array(items) => items.iter().any(holds_null),
        Value::Object(entries) => entries.values().any(holds_null),
        _ => false,
    }
}

/// Rows that all have the header's cells, the last with its end.
fn whole_csv(name: &str, text: &str) -> Result<(), String> {
    if !text.ends_with('\n') {
        return Err(format!("{name} breaks off"));
    }
    // The reader refuses rows of other lengths.
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    match rows.records().find_map(Result::err) {
        Some(error) => Err(format!("{name}: {error}")),
        None => Ok(()),
    }
}

/// Words in place of a number; words of the command are names.
fn no_numbers<'t>(text: &'t str, asked: &'t str) -> impl Iterator<Item = &'t str> {
    fn words(text: &str) -> impl Iterator<Item = &str> {
        text.split(|c: char| !c.is_alphanumeric())
    }
    let is_none = |word: &&str| ["nan", "inf", "infinity"].iter().any(|none| word.eq_ignore_ascii_case(none));
    let is_named = words(asked).any(|word| is_none(&word));
    words(text).filter(move |word| !is_named && is_none(word)).take(1)
}
