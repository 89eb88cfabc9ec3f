//! The schema as JSON.

use super::STUDY;
use super::kept::{Key, Kind, Kinds, Tables};
use crate::io::survey::Due;
use crate::io::{Check, Dimension, quantity};
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// A number, as a pattern.
const NUMBER: &str = r"\s*[+\-−]?(\d+\.?\d*|\.\d+)([eE][+\-]?\d+)?\s*";

/// The schema of a study whose tables are these.
pub(super) fn schema(tables: &Tables) -> Value {
    let mut writer = Writer { tables, due: BTreeSet::new() };
    let mut schema = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Study of beamyield",
        "description": "A phased array, its hardware with tolerances, its calibration bench and its spec, in TOML.",
    });
    let mut definitions: BTreeMap<String, Value> = BTreeMap::new();
    let study = writer.table(STUDY);
    // What is referred to may refer to more.
    while let Some(name) = writer.due.iter().find(|name| !definitions.contains_key(*name)).cloned() {
        let written = Dimension::ALL.into_iter().find(|of| of.name() == name).map(quantity_text);
        let written = written.unwrap_or_else(|| writer.table(&name));
        definitions.insert(name, written);
    }
    if let (Value::Object(schema), Value::Object(study)) = (&mut schema, study) {
        schema.extend(study);
        schema.insert("$defs".to_owned(), definitions.into_iter().collect());
    }
    schema
}

struct Writer<'t> {
    tables: &'t Tables,
    /// What is referred to.
    due: BTreeSet<String>,
}

impl Writer<'_> {
    /// The tables that may stand at a path.
    fn table(&mut self, path: &str) -> Value {
        let tables = self.tables;
        let Some(kinds) = tables.0.get(path) else { return json!({ "type": "object" }) };
        if let Some(only) = kinds.get("") {
            return self.kind(path, "", only, kinds);
        }
        let of = kinds.iter().map(|(word, kind)| self.kind(&format!("{path}#{word}"), word, kind, kinds));
        json!({ "oneOf": of.collect::<Vec<Value>>() })
    }

    fn kind(&mut self, path: &str, word: &str, kind: &Kind, kinds: &Kinds) -> Value {
        let mut table = Map::new();
        table.insert("type".to_owned(), json!("object"));
        table.extend(kind.about.as_ref().map(|about| ("description".to_owned(), json!(about))));
        if kind.is_named {
            let mut dues: Vec<&Due> = Vec::new();
            for due in kind.keys.values().flat_map(|key| &key.dues) {
                if !dues.contains(&due) {
                    dues.push(due);
                }
            }
            table.insert("additionalProperties".to_owned(), self.one_of(path, &dues));
            return Value::Object(table);
        }
        let mut properties = Map::new();
        let mut required: Vec<&str> = Vec::new();
        for (name, key) in &kind.keys {
            // What one kind does not say of a key, another does.
            let about = || kinds.values().find_map(|kind| kind.keys.get(name)?.about.as_deref());
            let about = key.about.as_deref().or_else(about);
            let mut property = match name.as_str() {
                "kind" => Map::from_iter([("const".to_owned(), json!(word))]),
                _ => self.key(&format!("{path}.{name}"), key),
            };
            if key.is_required && key.dues == [Due::Tables] {
                property.insert("minItems".to_owned(), json!(1));
            }
            let about = [about.map(str::to_owned), bounds(&key.dues)];
            let about: Vec<String> = about.into_iter().flatten().collect();
            if !about.is_empty() {
                property.insert("description".to_owned(), json!(about.join(". ")));
            }
            properties.insert(name.clone(), Value::Object(property));
            if key.is_required || name == "kind" {
                required.push(name);
            }
        }
        table.insert("properties".to_owned(), Value::Object(properties));
        if !required.is_empty() {
            table.insert("required".to_owned(), json!(required));
        }
        table.insert("additionalProperties".to_owned(), json!(false));
        Value::Object(table)
    }

    fn key(&mut self, path: &str, key: &Key) -> Map<String, Value> {
        let dues: Vec<&Due> = key.dues.iter().collect();
        match self.one_of(path, &dues) {
            Value::Object(map) => map,
            _ => Map::new(),
        }
    }

    fn one_of(&mut self, path: &str, dues: &[&Due]) -> Value {
        let mut ways: Vec<Value> = dues.iter().flat_map(|due| self.ways(path, due)).collect();
        if ways.len() == 1 { ways.remove(0) } else { json!({ "anyOf": ways }) }
    }

    fn ways(&mut self, path: &str, due: &Due) -> Vec<Value> {
        let way = match due {
            Due::Text => json!({ "type": "string" }),
            Due::Flag => json!({ "type": "boolean" }),
            Due::Count(range) => {
                let mut count = json!({ "type": "integer", "minimum": range.start() });
                if let (Value::Object(count), true) = (&mut count, *range.end() < i64::MAX as u64) {
                    count.insert("maximum".to_owned(), json!(range.end()));
                }
                count
            }
            Due::Quantity(Dimension::Ratio, check) => return vec![number(*check), self.refer("ratio")],
            Due::Quantity(dimension, _) => self.refer(dimension.name()),
            Due::Multiple(word) => json!({ "type": "string", "pattern": format!("^{NUMBER}{word}s?$") }),
            Due::Word(words) => json!({ "enum": words }),
            Due::List(of) if matches!(**of, Due::Shared(_)) => {
                json!({ "type": "array", "items": self.one_of(path, &[of]) })
            }
            Due::List(of) => json!({ "type": "array", "minItems": 1, "items": self.one_of(path, &[of]) }),
            Due::Table => self.table(path),
            Due::Tables => json!({ "type": "array", "items": self.table(path) }),
            Due::Shared(name) => self.refer(name),
            Due::Anything => json!({}),
        };
        vec![way]
    }

    fn refer(&mut self, name: &str) -> Value {
        self.due.insert(name.to_owned());
        json!({ "$ref": format!("#/$defs/{name}") })
    }
}

/// A bare number.
fn number(check: Check) -> Value {
    match check {
        Check::Any => json!({ "type": "number" }),
        Check::Positive => json!({ "type": "number", "exclusiveMinimum": 0 }),
        Check::NonNegative => json!({ "type": "number", "minimum": 0 }),
        Check::Within(low, high) => json!({ "type": "number", "minimum": low, "maximum": high }),
        Check::Above(low) => json!({ "type": "number", "exclusiveMinimum": low }),
    }
}

/// A number with a unit, as a text.
fn quantity_text(dimension: Dimension) -> Value {
    // Blanks may stand within a unit, and it may be left out of a ratio.
    let escaped = |unit: &str| unit.replace(' ', "").replace('/', r"\s*/\s*").replace("100ft", r"100\s*ft");
    let units: Vec<String> = dimension.units().map(escaped).collect();
    let may_lack = if dimension == Dimension::Ratio { "?" } else { "" };
    let noun = dimension.noun();
    let (first, rest) = noun.split_at(1);
    let names: Vec<&str> = dimension.units().filter(|unit| unit.is_ascii()).collect();
    json!({
        "type": "string",
        "pattern": format!("^{NUMBER}({}){may_lack}\\s*$", units.join("|")),
        "examples": [dimension.example()],
        "description": format!("{}{rest} with its unit: {}", first.to_uppercase(), names.join(", ")),
    })
}

/// What bounds a quantity that is written as a text, in words: no schema can compare one.
fn bounds(dues: &[Due]) -> Option<String> {
    let quantities = dues.iter().filter_map(|due| match if let Due::List(of) = due { of } else { due } {
        Due::Quantity(dimension, check) => Some((*dimension, *check)),
        _ => None,
    });
    let quantities: Vec<(Dimension, Check)> = quantities.collect();
    let [(dimension, check)] = quantities[..] else { return None };
    let write = |si: f64| quantity::format(si, dimension);
    match check {
        _ if dimension == Dimension::Ratio => None,
        Check::Any => None,
        Check::Positive => Some("Above zero".to_owned()),
        Check::NonNegative => Some("Not negative".to_owned()),
        Check::Within(low, high) => Some(format!("From {} to {}", write(low), write(high))),
        Check::Above(low) => Some(format!("Above {}", write(low))),
    }
}
