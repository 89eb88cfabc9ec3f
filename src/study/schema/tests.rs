use super::*;
use crate::io::{Document, Findings, Key, SourceText};
use crate::study::read;
use std::collections::BTreeSet;

/// A table of a study, and the study around what is written of it.
struct Shown<'s> {
    keys: &'static Keys,
    kind: Option<&'static Keys>,
    word: &'static str,
    around: &'s dyn Fn(&str) -> String,
    of: Option<Dimension>,
}

impl Shown<'_> {
    fn all(&self) -> Vec<&'static dyn Declared> {
        self.kind.into_iter().chain([self.keys]).flat_map(Keys::all).collect()
    }

    /// The study with those keys of the table that `shows` says, each as its example, and with `value` at `key`.
    fn study(&self, key: &Key<()>, value: &str, shows: impl Fn(&dyn Declared) -> bool) -> String {
        let others = self.all().into_iter().filter(|of| of.key().name != key.name && shows(*of));
        let written = |of: &dyn Declared| match of.key().name {
            "kind" if self.kind.is_some() => format!("kind = \"{}\"", self.word),
            name => format!("{name} = {}", example_of(of, self.of)),
        };
        let mut written: Vec<String> = others.map(written).collect();
        written.push(format!("{} = {value}", key.name));
        (self.around)(&written.join(", "))
    }
}

/// The example of a key in a table about a quantity.
fn example_of(declared: &dyn Declared, of: Option<Dimension>) -> String {
    let accepts = declared.takes().accepts();
    match of {
        Some(of) if accepts.is_text() && !matches!(accepts, Accepts::Text | Accepts::Word(_)) => {
            format!("\"{}\"", of.difference().example())
        }
        _ => written(&accepts, declared.key().example),
    }
}

/// Whether the readers leave a key of a study unread.
fn has_unknown(text: &str, key: &str) -> bool {
    let document = Document::parse(SourceText { name: "".into(), text: text.to_owned() });
    let findings = Findings::default();
    _ = read::read(&document.root(&findings));
    let unknown = format!("unknown key `{key}`");
    findings.into_vec().iter().any(|of| of.message == unknown)
}

/// The tables that a value can be, each with what is written around it.
fn tables(
    accepts: &Accepts,
    of: Option<Dimension>,
) -> Vec<(&'static Keys, [&'static str; 2], Option<Dimension>)> {
    const ONE: [&str; 2] = ["{ ", " }"];
    const LIST: [&str; 2] = ["[{ ", " }]"];
    match accepts {
        Accepts::Table(keys) => vec![(keys, ONE, of)],
        Accepts::Tables(keys, _) => vec![(keys, LIST, of)],
        Accepts::Shared(_, keys) => vec![(keys, ONE, None)],
        Accepts::About(dimension, _, keys) => vec![(keys, ONE, Some(*dimension))],
        Accepts::AboutDifference(_, keys) => vec![(keys, ONE, of.map(Dimension::difference))],
        Accepts::AnyOf(ways) => ways.iter().flat_map(|way| tables(way, of)).collect(),
        Accepts::List(items) => tables(items, of).into_iter().map(|(keys, _, of)| (keys, LIST, of)).collect(),
        _ => Vec::new(),
    }
}

/// Looks at every key of a table and of the tables within it, each table once.
fn walk(shown: &Shown, seen: &mut BTreeSet<usize>, unread: &mut Vec<String>, count: &mut usize) {
    for declared in shown.all() {
        let (key, accepts) = (declared.key(), declared.takes().accepts());
        if key.name == "kind" && shown.kind.is_some() {
            continue;
        }
        *count += 1;
        let value = example_of(declared, shown.of);
        let alone = shown.study(&key, &value, |of| of.takes().is_required() || of.key().name == "kind");
        // Some keys are read beside others alone.
        if has_unknown(&alone, key.name) && has_unknown(&shown.study(&key, &value, |_| true), key.name) {
            unread.push(format!("{} in {}: {alone}", key.name, shown.keys.about));
        }
        for (keys, [open, close], of) in tables(&accepts, shown.of) {
            if !seen.insert(std::ptr::from_ref(keys) as usize) {
                continue;
            }
            let around = |inner: &str| {
                let needed = |of: &dyn Declared| of.takes().is_required() || of.key().name == "kind";
                shown.study(&key, &format!("{open}{inner}{close}"), needed)
            };
            let kinds = keys.kinds.iter().map(|(word, kind)| (*word, Some(*kind)));
            let all: Vec<_> = if keys.kinds.is_empty() { vec![("", None)] } else { kinds.collect() };
            for (word, kind) in all {
                walk(&Shown { keys, kind, word, around: &around, of }, seen, unread, count);
            }
        }
    }
}

/// What is declared is what the readers ask for.
#[test]
fn every_declared_key_is_read() {
    let lines = |inner: &str| {
        // At the top a key stands on a line of its own; commas within brackets stay.
        let (mut depth, mut text) = (0i32, String::new());
        for c in inner.chars() {
            depth += i32::from("[{".contains(c)) - i32::from("]}".contains(c));
            text.push(if c == ',' && depth == 0 { '\n' } else { c });
        }
        text
    };
    let shown = Shown { keys: &STUDY, kind: None, word: "", around: &lines, of: None };
    let (mut unread, mut count) = (Vec::new(), 0);
    walk(&shown, &mut BTreeSet::new(), &mut unread, &mut count);
    assert!(unread.is_empty(), "{}", unread.join("\n\n"));
    assert!(count > 200, "{count}");
    assert!(has_unknown("seeds = 1", "seeds"));
}

/// Every key says what it means, and its example is TOML.
#[test]
fn every_key_has_a_meaning_and_an_example() {
    fn walk(value: &Value, path: &str, lacking: &mut Vec<String>) {
        if let Some(properties) = value["properties"].as_object() {
            for (name, property) in properties {
                let about = property["description"].as_str().unwrap_or_default();
                let is_about_a_quantity = path.contains("$defs") || name == "kind";
                if about.is_empty() || property["examples"].is_null() && !is_about_a_quantity {
                    lacking.push(format!("{path}/{name}"));
                }
            }
        }
        match value {
            Value::Object(map) => {
                map.iter().for_each(|(key, of)| walk(of, &format!("{path}/{key}"), lacking))
            }
            Value::Array(list) => list.iter().for_each(|of| walk(of, path, lacking)),
            _ => {}
        }
    }
    let mut lacking = Vec::new();
    walk(&schema(), "", &mut lacking);
    assert!(lacking.is_empty(), "{lacking:?}");
}

/// Bounds that depend on other values are the widest.
#[test]
fn required_keys_and_bounds_are_those_of_the_readers() {
    let schema = schema();
    let required = |of: &Value| -> Vec<String> {
        let keys = of["required"].as_array().into_iter().flatten();
        let mut keys: Vec<String> = keys.map(|key| key.as_str().unwrap_or_default().to_owned()).collect();
        keys.sort();
        keys
    };
    assert_eq!(
        required(&schema),
        ["array", "beam", "block", "calibration", "frequencies", "seed", "title", "trials"]
    );
    let study = &schema["properties"];
    assert_eq!(required(&study["array"]), ["layout"]);
    assert_eq!(required(&study["beam"]["items"]), ["name", "theta"]);
    assert_eq!(required(&study["limit"]["items"]), ["figure"]);
    assert_eq!(required(&study["calibration"]["items"]), ["name"]);
    let align = &study["calibration"]["items"]["properties"]["align"];
    assert_eq!(required(align), ["method"]);
    assert_eq!(align["properties"]["reference"]["maximum"], 4095);
    assert_eq!(align["properties"]["codes"]["maximum"], 4096);
    assert_eq!(required(&study["cost"]), ["bench_minute", "channel", "currency", "units_a_year"]);
    let cables = study["block"]["items"]["oneOf"].as_array().expect("kinds").iter();
    let cable = cables.clone().find(|kind| kind["properties"]["kind"]["const"] == "cable").expect("a cable");
    assert_eq!(required(cable), ["kind", "length", "name", "velocity_factor"]);
    assert_eq!(required(&schema["$defs"]["length.tolerance"]), ["nominal"]);
    assert_eq!(required(&schema["$defs"]["length.normal"]), ["sd"]);
    assert!(required(&schema["$defs"]["level.deviation"]).is_empty());
}
