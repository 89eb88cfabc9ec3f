//! Limits that the same units miss, and places, as the program reports them.

use crate::program::{Folder, edited};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// Two beams, two frequencies, three temperatures, of which each limit that some units miss depends on its own; a unit in ten has a
/// dead channel.
const STUDY: &str = r#"
title = "Where it fails"
seed = 11
trials = 700
frequencies = ["10 GHz", "10.02 GHz"]
temperatures = ["-40 degC", "25 degC", "85 degC"]

[array]
layout = { kind = "linear", count = 8, spacing = "15 mm" }
dead_channel = { probability = 0.01, allowed = 0 }

[[beam]]
name = "ahead"
theta = "0 deg"

[[beam]]
name = "side"
theta = "30 deg"

[[block]]
name = "amplifier"
kind = "amplifier"
gain = { nominal = "20 dB", normal = { sd = "0.5 dB" } }
phase = { normal = { sd = "8 deg" } }
gain_temperature = { nominal = "0 dB/K", normal = { sd = "0.005 dB/K" } }

[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 4
bit_phase_error = { normal = { sd = "2 deg" } }

[[calibration]]
name = "none"

[[limit]]
figure = "array_gain_loss"
at_most = "0.25 dB"

[[limit]]
figure = "pointing_error"
at_most = "0.9 deg"
beam = "side"

[[limit]]
figure = "peak_side_lobe"
at_most = "-10.5 dB"
"#;

const LOSS: &str = "[[limit]]\nfigure = \"array_gain_loss\"\nat_most = \"0.25 dB\"\n";

const LOBES: &str = "[[limit]]\nfigure = \"peak_side_lobe\"\nat_most = \"-10.5 dB\"\n";

/// The same units, of which nothing depends on temperature.
fn at_any_temperature() -> String {
    edited(STUDY, &[("gain_temperature = { nominal = \"0 dB/K\", normal = { sd = \"0.005 dB/K\" } }\n", "")])
}

/// The same study, its limits in the other order.
fn turned(study: &str) -> String {
    edited(study, &[(LOSS, "<first>"), (LOBES, LOSS), ("<first>", LOBES)])
}

/// The calibration of a run's document, and the text.
fn ran(study: &str) -> (Value, String) {
    let folder = Folder::with(study);
    let text = folder.done(&["run", "study.toml", "--quiet"]);
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    (folder.json("run.json")["calibrations"][0].clone(), text)
}

fn list(of: &Value) -> &[Value] {
    of.as_array().expect("a list")
}

fn number(of: &Value) -> f64 {
    of.as_f64().expect("a number")
}

/// A line of the spec: column of the CSV and bound.
fn name_of(line: &Value) -> String {
    let (beam, unit) = (line["beam"].as_str().expect("a beam"), line["unit"].as_str().expect("a unit"));
    let figure = line["figure"].as_str().expect("a figure");
    let gigahertz = number(&line["frequency_hz"]) / 1e9;
    let celsius = line.get("temperature_c").map_or(String::new(), |of| format!("@{}C", number(of)));
    format!("{figure}[{unit}]@{beam}@{gigahertz}GHz{celsius}")
}

/// A unit of the CSV: whether it fails whatever it measures, and whether it misses each limit, by name.
struct Row {
    is_sound: bool,
    missed: BTreeSet<String>,
}

/// Verdicts of each unit, from its values in the CSV and the bounds of the document.
fn rows(study: &str, limits: &[Value]) -> Vec<Row> {
    let folder = Folder::with(study);
    folder.done(&["run", "study.toml", "--quiet", "--csv", "units.csv"]);
    let text = folder.read("units.csv");
    let mut lines = text.lines().map(|line| line.split(',').collect::<Vec<&str>>());
    let header = lines.next().expect("a header");
    let place = |name: &str| header.iter().position(|of| *of == name).unwrap_or_else(|| panic!("{name}"));
    let of_unit = |cells: Vec<&str>| {
        let misses = |limit: &&Value| {
            let value: f64 = cells[place(&name_of(limit))].parse().expect("a value");
            // Of the figures here the pointing alone is signed, and limited by its size.
            let value = if limit["figure"] == "pointing_error" { value.abs() } else { value };
            value > number(&limit["at_most"])
        };
        Row {
            is_sound: cells[place("failure")].is_empty(),
            missed: limits.iter().filter(misses).map(name_of).collect(),
        }
    };
    lines.map(of_unit).collect()
}

#[test]
fn misses_are_those_of_the_single_units() {
    for study in [STUDY.to_owned(), at_any_temperature()] {
        let (run, _) = ran(&study);
        let rows = rows(&study, list(&run["limits"]));
        assert_eq!(rows.len(), 700);
        // By the definition: limits that one set of units misses are a group.
        let mut groups = BTreeMap::<Vec<usize>, BTreeSet<String>>::new();
        for limit in list(&run["limits"]) {
            let name = name_of(limit);
            let missing = rows.iter().enumerate().filter(|(_, row)| row.missed.contains(&name));
            groups.entry(missing.map(|(unit, _)| unit).collect()).or_default().insert(name);
        }
        groups.remove(&Vec::new());
        let misses = list(&run["misses"]);
        assert_eq!(misses.len(), groups.len());
        let mut before = (u64::MAX, u64::MAX);
        for miss in misses {
            let names: BTreeSet<String> = list(&miss["limits"]).iter().map(name_of).collect();
            let (units, _) = groups.iter().find(|(_, of)| **of == names).expect("a group");
            let nothing_else = rows.iter().filter(|row| row.missed == names).count() as u64;
            let counts =
                [&miss["missed"], &miss["nothing_else"]].map(|of| of["units"].as_u64().expect("units"));
            assert_eq!(counts, [units.len() as u64, nothing_else], "{names:?}");
            assert!((counts[0], counts[1]) <= before);
            before = (counts[0], counts[1]);
            let [low, value, high] = ["low", "value", "high"].map(|key| number(&miss["missed"][key]));
            assert!(low < value && value < high && (value - units.len() as f64 / 700.0).abs() < 1e-12);
        }
    }
}

#[test]
fn a_figure_at_a_beam_is_missed_by_units_that_miss_it_anywhere() {
    for study in [STUDY.to_owned(), at_any_temperature()] {
        let (run, text) = ran(&study);
        let rows = rows(&study, list(&run["limits"]));
        // "array_gain_loss[dB]@ahead@10GHz@25C" is of the family "array_gain_loss[dB]@ahead".
        let family = |name: &String| name.split('@').take(2).collect::<Vec<_>>().join("@");
        let of_unit = |row: &Row| row.missed.iter().map(family).collect::<BTreeSet<String>>();
        let missed: Vec<BTreeSet<String>> = rows.iter().map(of_unit).collect();
        let all: BTreeSet<String> = missed.iter().flatten().cloned().collect();
        let families = list(&run["misses_by_beam"]);
        assert_eq!(
            (families.len(), all.len() > 3),
            (all.len(), true),
            "no two families have the same units here"
        );
        for of in families {
            let names: BTreeSet<String> = list(&of["limits"]).iter().map(name_of).collect();
            let name = family(names.first().expect("a limit"));
            let some = rows.iter().flat_map(|row| &row.missed).filter(|of| family(of) == name);
            assert_eq!(some.cloned().collect::<BTreeSet<String>>(), names);
            let counts = [&of["missed"], &of["nothing_else"]].map(|of| of["units"].as_u64().expect("units"));
            let missing = missed.iter().filter(|of| of.contains(&name)).count() as u64;
            let alone = missed.iter().filter(|of| of.len() == 1 && of.contains(&name)).count() as u64;
            assert_eq!(counts, [missing, alone], "{name}");
        }
        assert!(text.contains("What fails, by how many units miss a limit"), "{text}");
    }
}

#[test]
fn places_are_those_of_the_single_units() {
    let (run, _) = ran(STUDY);
    let limits = list(&run["limits"]);
    let rows = rows(STUDY, limits);
    assert!(rows.iter().filter(|row| !row.is_sound).count() > 20);
    let places = list(&run["places"]);
    // (2 + 1) beams by (2 + 1) frequencies by (3 + 1) temperatures, less that of all.
    assert_eq!(places.len(), 3 * 3 * 4 - 1);
    let keys = ["beam", "frequency_hz", "temperature_c"];
    let mut seen = BTreeSet::new();
    for place in places {
        let is_here =
            |limit: &&Value| keys.iter().all(|key| place.get(key).is_none_or(|of| *of == limit[*key]));
        let here: BTreeSet<String> = limits.iter().filter(is_here).map(name_of).collect();
        let passes = |row: &&Row| row.is_sound && row.missed.is_disjoint(&here);
        let passed = rows.iter().filter(passes).count() as u64;
        assert_eq!(place["yield"]["passed"].as_u64(), Some(passed), "{place}");
        seen.insert(keys.map(|key| place.get(key).map(Value::to_string)));
    }
    assert_eq!(seen.len(), places.len());
    // The yield of all is that of the run.
    let passed = rows.iter().filter(|row| row.is_sound && row.missed.is_empty()).count() as u64;
    assert_eq!(run["yield"]["passed"].as_u64(), Some(passed));
}

#[test]
fn the_order_of_the_file_changes_nothing_that_is_said() {
    let (run, text) = ran(STUDY);
    let (other, other_text) = ran(&turned(STUDY));
    for key in ["misses", "places", "yield"] {
        assert_eq!(run[key], other[key], "{key}");
    }
    let said = |text: &str| {
        let from = text.find("What fails").expect("what fails");
        text[from..text.find("How the figures spread").expect("the spreads")].to_owned()
    };
    assert_eq!(said(&text), said(&other_text));
    // A count by the order of the file is another thing.
    let first = |run: &Value| -> Vec<u64> {
        let mut all: Vec<(String, u64)> = list(&run["limits"])
            .iter()
            .map(|limit| (name_of(limit), limit["first_missed"].as_u64().expect("a count")))
            .collect();
        all.sort();
        all.into_iter().map(|(_, count)| count).collect()
    };
    assert_ne!(first(&run), first(&other));
}

#[test]
fn limits_that_no_unit_distinguishes_are_named_together() {
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (run, text) = ran(&at_any_temperature());
    for miss in list(&run["misses"]) {
        let at: BTreeSet<String> =
            list(&miss["limits"]).iter().map(|of| of["temperature_c"].to_string()).collect();
        assert_eq!((at.len(), list(&miss["limits"]).len() % 3), (3, 0), "{miss}");
    }
    let text = words(&text);
    assert!(text.contains("-40, 25 and 85 degC alike: "), "{text}");
    assert!(!text.contains("first, by the order"), "{text}");
    // One temperature is as good as another.
    let at = |kelvin: f64| {
        let place = list(&run["places"]).iter().find(|of| {
            of.get("beam").is_none() && of.get("frequency_hz").is_none() && of["temperature_c"] == kelvin
        });
        place.expect("a temperature")["yield"]["passed"].clone()
    };
    assert_eq!((at(-40.0), at(85.0)), (at(25.0), at(25.0)));
    // Where gains vary with temperature, units distinguish temperatures.
    let (run, text) = ran(STUDY);
    assert!(list(&run["misses"]).iter().any(|miss| list(&miss["limits"]).len() == 1));
    assert!(words(&text).contains("-40, 25 or 85 degC: "), "{text}");
    assert!(!words(&text).contains("-40, 25 and 85 degC alike: "), "{text}");
}
