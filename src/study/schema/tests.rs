use super::*;
use crate::array::{Layout, Taper};
use crate::chain::Block;
use crate::random::Distribution;

/// Every key that a reader asks for, even only whether it is there, stands in a specimen that shows what it takes and says what it means.
#[test]
fn every_key_is_known() {
    let tables = survey();
    let mut unknown = Vec::new();
    for (path, kinds) in tables.0.iter().filter(|(path, _)| !path.is_empty()) {
        for (word, kind) in kinds.iter().filter(|(_, kind)| !kind.is_named) {
            for (name, key) in &kind.keys {
                let is_said =
                    kinds.values().any(|kind| kind.keys.get(name).is_some_and(|key| key.about.is_some()));
                // The distributions say what they are themselves.
                let is_law = Distribution::keys().any(|key| key == name);
                if key.dues.is_empty() || !is_said && !is_law {
                    unknown.push(format!("{path}#{word}.{name}: {key:?}"));
                }
            }
        }
    }
    assert!(unknown.is_empty(), "{}", unknown.join("\n"));
}

#[test]
fn every_kind_has_a_specimen() {
    let tables = survey();
    for (path, kinds) in [
        ("study.block", Block::KINDS),
        ("study.array.layout", Layout::KINDS),
        ("study.array.taper", Taper::KINDS),
    ] {
        let shown: Vec<&str> = tables.0[path].keys().map(String::as_str).collect();
        let mut kinds = kinds.to_vec();
        kinds.sort_unstable();
        assert_eq!(shown, kinds, "{path}");
    }
    for distribution in Distribution::keys() {
        assert!(tables.0.contains_key(&format!("angle.{distribution}")), "{distribution}");
    }
}

/// What the readers miss is required, what they can do without is not, bounds that hang on other values are the widest.
#[test]
fn what_is_due_is_what_readers_miss() {
    let schema = schema();
    let required = |of: &Value| -> Vec<String> {
        let keys = of["required"].as_array().into_iter().flatten();
        keys.map(|key| key.as_str().unwrap_or_default().to_owned()).collect()
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
