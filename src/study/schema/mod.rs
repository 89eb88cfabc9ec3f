//! The JSON Schema of the study file, for editors and for whatever else writes studies: what the keys of a study declare, as JSON.

#[cfg(test)]
mod tests;

use crate::io::{Accepts, Check, Declared, Dimension, Keys, quantity, written};
use crate::study::keys::STUDY;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// A number, as a pattern.
const NUMBER: &str = r"\s*[+\-−]?(\d+\.?\d*|\.\d+)([eE][+\-]?\d+)?\s*";

/// Dialect: JSON Schema, draft 2020-12.
pub(crate) fn schema() -> Value {
    let mut writer = Writer::default();
    let mut schema = Map::from_iter([
        ("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema")),
        ("title".to_owned(), json!("Study of beamyield")),
    ]);
    schema.extend(writer.table(&STUDY, None, None));
    schema.insert("$defs".to_owned(), writer.definitions.into_iter().collect());
    Value::Object(schema)
}

/// Writes what is referred to as it comes upon it.
#[derive(Default)]
struct Writer {
    definitions: BTreeMap<String, Value>,
}

impl Writer {
    /// A table, or the tables of all its kinds. `of` is the quantity that it is about.
    fn tables(&mut self, keys: &'static Keys, of: Option<Dimension>) -> Value {
        if keys.kinds.is_empty() {
            return Value::Object(self.table(keys, None, of));
        }
        let kinds = keys.kinds.iter().map(|(word, kind)| {
            let mut table = self.table(keys, Some(kind), of);
            if let Some(kind) = table.get_mut("properties").and_then(|of| of.get_mut("kind")) {
                *kind = json!({ "const": word, "description": kind["description"] });
            }
            Value::Object(table)
        });
        json!({ "oneOf": kinds.collect::<Vec<Value>>() })
    }

    /// A table of a kind, which has the keys of all kinds and its own.
    fn table(
        &mut self,
        keys: &'static Keys,
        kind: Option<&'static Keys>,
        of: Option<Dimension>,
    ) -> Map<String, Value> {
        let mut all = keys.all();
        all.extend(kind.map_or(Vec::new(), Keys::all));
        let mut properties = Map::new();
        let mut required = Vec::new();
        for key in all {
            let name = key.key().name;
            properties.insert(name.to_owned(), self.property(key, of));
            if key.takes().is_required() {
                required.push(name);
            }
        }
        let mut table = Map::new();
        table.insert("type".to_owned(), json!("object"));
        table.insert("description".to_owned(), json!(kind.unwrap_or(keys).about));
        table.insert("properties".to_owned(), Value::Object(properties));
        if !required.is_empty() {
            table.insert("required".to_owned(), json!(required));
        }
        table.insert("additionalProperties".to_owned(), json!(false));
        table
    }

    fn property(&mut self, declared: &dyn Declared, of: Option<Dimension>) -> Value {
        let (key, accepts) = (declared.key(), declared.takes().accepts());
        let mut property = self.value(&accepts, of);
        let table = accepts.keys().filter(|_| key.about.is_empty());
        let about = [Some(table.map_or(key.about, |keys| keys.about).to_owned()), bounds(&accepts, of)];
        let about: Vec<String> = about.into_iter().flatten().collect();
        property["description"] = json!(about.join(". "));
        // What is about a quantity has examples of each dimension where that is defined.
        if of.is_none()
            && let Some(example) = example(&written(&accepts, key.example))
        {
            property["examples"] = json!([example]);
        }
        property
    }

    fn value(&mut self, accepts: &Accepts, of: Option<Dimension>) -> Value {
        match accepts {
            Accepts::Text => json!({ "type": "string" }),
            Accepts::Flag => json!({ "type": "boolean" }),
            Accepts::Count(range) => {
                let mut count = json!({ "type": "integer", "minimum": range.start() });
                if *range.end() < i64::MAX as u64 {
                    count["maximum"] = json!(range.end());
                }
                count
            }
            Accepts::Quantity(..) | Accepts::AnyOf(_) | Accepts::Own | Accepts::Difference(_) => {
                let mut ways = self.ways(accepts, of);
                if ways.len() == 1 { ways.remove(0) } else { json!({ "anyOf": ways }) }
            }
            Accepts::Multiple(word) => json!({ "type": "string", "pattern": format!("^{NUMBER}{word}s?$") }),
            Accepts::Word(words) => json!({ "enum": words }),
            Accepts::List(items) => match items.as_ref() {
                Accepts::Shared(..) => json!({ "type": "array", "items": self.value(items, of) }),
                _ => json!({ "type": "array", "minItems": 1, "items": self.value(items, of) }),
            },
            Accepts::Table(keys) => self.tables(keys, of),
            Accepts::Tables(keys, least) => {
                let mut list = json!({ "type": "array", "items": self.tables(keys, of) });
                if *least > 0 {
                    list["minItems"] = json!(least);
                }
                list
            }
            Accepts::Named(each) => json!({ "type": "object", "additionalProperties": self.value(each, of) }),
            Accepts::Shared(name, keys) => self.refer((*name).to_owned(), |writer| writer.tables(keys, None)),
            Accepts::About(dimension, name, keys) => self.about(*dimension, name, keys),
            Accepts::AboutDifference(name, keys) => match of {
                Some(of) => self.about(of.difference(), name, keys),
                None => json!({}),
            },
            Accepts::Anything => json!({}),
        }
    }

    /// The ways to write a value.
    fn ways(&mut self, accepts: &Accepts, of: Option<Dimension>) -> Vec<Value> {
        match (accepts, of) {
            (Accepts::Quantity(dimension, check), _) => self.quantity(*dimension, *check),
            (Accepts::Own, Some(of)) => self.quantity(of, Check::Any),
            (Accepts::Difference(check), Some(of)) => self.quantity(of.difference(), *check),
            (Accepts::AnyOf(ways), _) => ways.iter().flat_map(|way| self.ways(way, of)).collect(),
            _ => vec![self.value(accepts, of)],
        }
    }

    fn quantity(&mut self, dimension: Dimension, check: Check) -> Vec<Value> {
        let text = self.refer(dimension.name().to_owned(), |_| quantity_text(dimension));
        if dimension == Dimension::Ratio { vec![number(check), text] } else { vec![text] }
    }

    fn about(&mut self, dimension: Dimension, name: &str, keys: &'static Keys) -> Value {
        self.refer(format!("{}.{name}", dimension.name()), |writer| writer.tables(keys, Some(dimension)))
    }

    fn refer(&mut self, name: String, define: impl FnOnce(&mut Writer) -> Value) -> Value {
        let reference = json!({ "$ref": format!("#/$defs/{name}") });
        if !self.definitions.contains_key(&name) {
            // A definition may refer to itself.
            self.definitions.insert(name.clone(), Value::Null);
            let definition = define(self);
            self.definitions.insert(name, definition);
        }
        reference
    }
}

/// A value in TOML as JSON.
fn example(written: &str) -> Option<Value> {
    let mut table: toml::Table = toml::from_str(&format!("value = {written}")).ok()?;
    serde_json::to_value(table.remove("value")?).ok()
}

/// A bare number.
fn number(check: Check) -> Value {
    match check {
        Check::Any => json!({ "type": "number" }),
        Check::Positive => json!({ "type": "number", "exclusiveMinimum": 0 }),
        Check::NonNegative => json!({ "type": "number", "minimum": 0 }),
        Check::Within(low, high) => json!({ "type": "number", "minimum": low, "maximum": high }),
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
fn bounds(accepts: &Accepts, of: Option<Dimension>) -> Option<String> {
    let mut checks = Vec::new();
    collect_checks(accepts, of, &mut checks);
    let [(dimension, check)] = checks[..] else { return None };
    let write = |si: f64| quantity::format(si, dimension);
    match check {
        _ if dimension == Dimension::Ratio => None,
        Check::Any => None,
        Check::Positive => Some("Above zero".to_owned()),
        Check::NonNegative => Some("Not negative".to_owned()),
        Check::Within(low, high) => Some(format!("From {} to {}", write(low), write(high))),
    }
}

/// The quantities that may stand there, each with what it must hold.
fn collect_checks(accepts: &Accepts, of: Option<Dimension>, checks: &mut Vec<(Dimension, Check)>) {
    match accepts {
        Accepts::Quantity(dimension, check) => checks.push((*dimension, *check)),
        Accepts::Difference(check) => checks.extend(of.map(|of| (of.difference(), *check))),
        Accepts::List(items) => collect_checks(items, of, checks),
        Accepts::AnyOf(ways) => ways.iter().for_each(|way| collect_checks(way, of, checks)),
        _ => {}
    }
}
