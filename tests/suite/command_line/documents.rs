//! The JSON and the CSV of a run, and of one of its units, agree.

use super::texts;
use crate::program::{Folder, SMALL, edited, nulls};
use serde_json::Value;
use std::collections::BTreeMap;

const TRIALS: usize = 130;
const PLANS: [&str; 3] = ["none", "fit", "climb"];
const LEADING: usize = 8;

fn keys(of: &Value) -> Vec<&str> {
    let mut keys: Vec<&str> = of.as_object().expect("an object").keys().map(String::as_str).collect();
    keys.sort_unstable();
    keys
}

/// Header and rows of a CSV without quoted cells.
fn table(csv: &str) -> (Vec<&str>, Vec<Vec<&str>>) {
    let mut lines =
        csv.strip_suffix('\n').expect("a last line end").split('\n').map(|line| line.split(',').collect());
    (lines.next().expect("a header"), lines.collect())
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// The small study run once, with both documents.
fn run() -> Folder {
    let folder = Folder::with(SMALL);
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json", "--csv", "units.csv"]);
    folder
}

#[test]
fn the_json_holds_what_scripts_rely_on() {
    let document = run().json("run.json");
    assert_eq!(nulls(&document), [""; 0]);
    let expected = [
        "calibrations",
        "confidence",
        "error_free_beams",
        "format",
        "program",
        "seconds",
        "seed",
        "study",
        "study_hash",
        "trials",
        "warnings",
    ];
    assert_eq!(keys(&document), expected);
    assert_eq!(document["format"], 1);
    assert_eq!(document["program"], concat!("beamyield ", env!("CARGO_PKG_VERSION")));
    assert_eq!((&document["study"], &document["seed"]), (&"small".into(), &3.into()));
    assert_eq!(document["trials"], TRIALS);
    assert_eq!(texts(&document["calibrations"], "name"), PLANS);
    for plan in document["calibrations"].as_array().expect("plans") {
        assert_eq!(keys(plan), ["bench_minutes", "figures", "limits", "name", "places", "yield"]);
        let estimate = ["confidence", "high", "low", "method", "passed", "trials", "value"];
        assert_eq!(keys(&plan["yield"]), estimate);
        let [low, value, high] = ["low", "value", "high"].map(|key| number(&plan["yield"][key]));
        assert!(0.0 <= low && low <= value && value <= high && high <= 1.0);
        assert_eq!(number(&plan["yield"]["passed"]), value * TRIALS as f64);
        assert_eq!(plan["yield"]["trials"], TRIALS);
        for limit in plan["limits"].as_array().expect("limits") {
            let expected =
                ["at_most", "beam", "figure", "first_missed", "frequency_hz", "only_missed", "unit", "yield"];
            assert_eq!(keys(limit), expected);
            assert_eq!(keys(&limit["yield"]), estimate);
        }
        for figure in plan["figures"].as_array().expect("figures") {
            let always =
                ["beam", "figure", "frequency_hz", "mean", "percentiles", "sd", "standard_error", "unit"];
            let may = ["percentile_intervals", "predicted_mean"];
            let found: Vec<&str> = keys(figure).into_iter().filter(|key| !may.contains(key)).collect();
            assert_eq!(found, always);
            let percentiles: BTreeMap<u32, f64> =
                serde_json::from_value(figure["percentiles"].clone()).expect("percentiles");
            assert_eq!(percentiles.keys().collect::<Vec<_>>(), [&1, &5, &50, &95, &99]);
            assert!(percentiles.values().collect::<Vec<_>>().is_sorted());
            assert!(["deg", "dB"].contains(&figure["unit"].as_str().expect("a unit")));
        }
    }
}

#[test]
fn figures_stand_in_the_order_of_beams_and_frequencies() {
    let document = run().json("run.json");
    let points = [("ahead", 9.8e9), ("ahead", 10e9), ("aside", 9.8e9), ("aside", 10e9)];
    for plan in document["calibrations"].as_array().expect("plans") {
        let figures = plan["figures"].as_array().expect("figures");
        let of_a_kind: Vec<_> = figures.chunk_by(|a, b| a["figure"] == b["figure"]).collect();
        assert_eq!(of_a_kind.len(), 11, "every figure, each in one run");
        for figures in of_a_kind {
            let found: Vec<_> = figures
                .iter()
                .map(|of| (of["beam"].as_str().expect("a beam"), number(&of["frequency_hz"])))
                .collect();
            // Only the first beam wants a null.
            let expected = if figures[0]["figure"] == "null_depth" { &points[..2] } else { &points[..] };
            assert_eq!(found, expected);
        }
        let limits: Vec<_> = plan["limits"].as_array().expect("limits").iter().collect();
        let found: Vec<_> = limits
            .iter()
            .map(|of| (of["beam"].as_str().expect("a beam"), number(&of["frequency_hz"])))
            .collect();
        assert_eq!(found, [&points[..], &points[1..2]].concat());
    }
}

#[test]
fn the_csv_agrees_with_the_json() {
    let folder = run();
    let csv = folder.read("units.csv");
    let (header, rows) = table(&csv);
    assert_eq!(rows.len(), TRIALS * PLANS.len());
    assert!(rows.iter().all(|row| row.len() == header.len()));
    for (number, row) in rows.iter().enumerate() {
        assert_eq!((row[0], row[1]), (&*(number / PLANS.len()).to_string(), PLANS[number % PLANS.len()]));
    }
    let document = folder.json("run.json");
    for (number_of_plan, plan) in document["calibrations"].as_array().expect("plans").iter().enumerate() {
        let rows: Vec<_> = rows.iter().skip(number_of_plan).step_by(PLANS.len()).collect();
        let passed = rows.iter().filter(|row| row[2] == "true").count();
        assert_eq!(plan["yield"]["passed"], passed);
        let mean = |column: usize| {
            let values = rows.iter().map(|row| row[column].parse::<f64>().expect("a number"));
            values.sum::<f64>() / TRIALS as f64
        };
        let minutes = number(&plan["bench_minutes"]["mean"]);
        assert!((minutes - mean(7)).abs() <= 1e-12 * minutes);
        let figures = plan["figures"].as_array().expect("figures");
        assert_eq!(figures.len(), header.len() - LEADING);
        for (column, figure) in (LEADING..).zip(figures) {
            let [name, unit, beam] = ["figure", "unit", "beam"].map(|key| figure[key].as_str().expect(key));
            let heading = format!("{name}[{unit}]@{beam}@{}GHz", number(&figure["frequency_hz"]) / 1e9);
            assert_eq!(header[column], heading);
            // Rounding alone: the sums run in other orders.
            let (of_json, of_csv) = (number(&figure["mean"]), mean(column));
            assert!(
                (of_json - of_csv).abs() <= 1e-11 * (1.0 + of_csv.abs()),
                "{heading}: {of_json} {of_csv}"
            );
        }
    }
}

#[test]
fn a_unit_is_its_row() {
    let folder = run();
    let csv = folder.read("units.csv");
    let (header, rows) = table(&csv);
    for trial in [0usize, 63, 64, 129] {
        folder.done(&["unit", "study.toml", &trial.to_string(), "--json", "unit.json"]);
        let unit = folder.json("unit.json");
        assert_eq!(nulls(&unit), [""; 0]);
        assert_eq!(unit["trial"], trial);
        for (number_of_plan, plan) in unit["calibrations"].as_array().expect("plans").iter().enumerate() {
            let row = &rows[trial * PLANS.len() + number_of_plan];
            assert_eq!(plan["name"], row[1]);
            assert_eq!(plan["passed"].to_string(), row[2]);
            let figures = plan["figures"].as_array().expect("figures");
            assert_eq!(figures.len(), header.len() - LEADING);
            for (figure, cell) in figures.iter().zip(&row[LEADING..]) {
                // Equal but for the reader of the JSON, which can miss the last bit.
                let (of_unit, of_run) = (number(&figure["value"]), cell.parse::<f64>().expect("a number"));
                assert!((of_unit - of_run).abs() <= f64::EPSILON * of_run.abs(), "{figure} {cell}");
            }
        }
    }
}

#[test]
fn one_plan_alone_gives_the_numbers_of_the_whole_run() {
    let folder = run();
    let all = folder.json("run.json");
    for (number, name) in PLANS.iter().enumerate() {
        folder.done(&["run", "study.toml", "--quiet", "--calibration", name, "--json", "one.json"]);
        let one = folder.json("one.json");
        assert_eq!(texts(&one["calibrations"], "name"), [*name]);
        assert_eq!(one["calibrations"][0], all["calibrations"][number]);
    }
}

#[test]
fn threads_change_nothing_but_the_time_and_the_seed_changes_all() {
    let folder = Folder::with(SMALL);
    let run = |more: &[&str]| {
        let arguments =
            ["run", "study.toml", "--quiet", "--trials", "1000", "--json", "run.json", "--csv", "units.csv"];
        folder.done(&[&arguments[..], more].concat());
        let mut document = folder.json("run.json");
        document["seconds"].take();
        (document, folder.read("units.csv"))
    };
    let one = run(&["--threads", "1"]);
    for threads in ["2", "7"] {
        assert!(run(&["--threads", threads]) == one, "{threads} threads");
    }
    let (document, csv) = run(&["--seed", "4"]);
    assert_eq!(document["seed"], 4);
    let (first, other) = (table(&one.1).1, table(&csv).1);
    let same = first.iter().zip(&other).filter(|(a, b)| a[LEADING..] == b[LEADING..]).count();
    assert_eq!((first.len(), same), (other.len(), 0));
}

#[test]
fn unrequested_results_are_absent() {
    let limits = SMALL.find("[[limit]]").expect("limits");
    let study = edited(&SMALL[..limits], &[("trials = 130", "trials = 130\nfigures = [\"null_depth\"]")]);
    let folder = Folder::with(study);
    folder.done(&["run", "study.toml", "--quiet", "--trials", "1", "--json", "run.json"]);
    let document = folder.json("run.json");
    assert_eq!(nulls(&document), [""; 0]);
    let plan = &document["calibrations"][0];
    // Without limits there is no yield; one unit has no spread.
    assert_eq!(keys(plan), ["bench_minutes", "figures", "limits", "name"]);
    assert_eq!(texts(&plan["figures"], "figure"), ["null_depth"; 2]);
    assert_eq!(keys(&plan["figures"][0]), ["beam", "figure", "frequency_hz", "mean", "percentiles", "unit"]);
}
