//! Limits that are sought: the widest that meets a yield, the cheapest.

use super::{NORMAL, inspect, number, units};
use crate::program::{Folder, nulls};
use serde_json::Value;

const GAUGE: &str = "{ gauge = { sd = \"0.1 mm\" }, time = \"30 s\" }";

/// Prices at which a limit between the tightest and the widest costs least, and another supplier.
const PRICES: &str = r#"
[cost]
currency = "EUR"
units_a_year = 100
channel = 20.0
unit = 100.0
bench_minute = 1.0
gauge_minute = 0.5
rejected_part = 20.0

[[offer]]
name = "half the spread"
change = { "lead.length.sd" = "0.5 mm", "cost.channel" = 60.0 }
"#;

fn priced() -> String {
    units(NORMAL, GAUGE) + PRICES
}

/// Results with an acceptance: the share turned away, units that pass, the cost of a good one.
fn at(folder: &Folder, accept: f64, more: &[&str]) -> (f64, u64, f64) {
    let accept = format!("{accept} mm");
    let result = inspect(folder, &[&["--accept", &accept], more].concat());
    let of = &result["settings"][0];
    let with = &of["units"]["with"];
    let passed = with["yield"]["passed"].as_u64().expect("a count");
    (number(&of["parts"]["shares"]["rejected"]), passed, number(&with["cost"]["value"]))
}

/// A unit of two leads passes by the difference of their lengths, and a tighter limit brings any two nearer to each other: own derivation,
/// the density at a quantile rises as the limit is tightened. So of the same units none is lost.
#[test]
fn a_tighter_limit_never_takes_more_nor_passes_fewer() {
    let folder = Folder::with(priced());
    let answers =
        [3.0, 2.0, 1.5, 1.2, 1.0, 0.8, 0.5].map(|accept| at(&folder, accept, &["--trials", "2000"]));
    for pair in answers.windows(2) {
        assert!(pair[1].0 > pair[0].0 && pair[1].1 >= pair[0].1, "{answers:?}");
    }
    assert!(answers[6].1 > answers[0].1 + 100, "the limits matter: {answers:?}");
    // The delivered parts that are drawn and counted are the same ones as well.
    let counted = [2.0, 1.0, 0.5].map(|accept| {
        let result = inspect(&folder, &["--accept", &format!("{accept} mm"), "--trials", "64"]);
        let of = &result["settings"][0]["parts"]["counted"];
        (number(&of["rejected"]["value"]), number(&of["nonconforming"]["value"]))
    });
    assert!(counted.windows(2).all(|pair| pair[1].0 > pair[0].0 && pair[1].1 > pair[0].1), "{counted:?}");
}

#[test]
fn the_widest_limit_is_that_of_the_search_for_a_parameter() {
    let folder = Folder::with(priced());
    let asked = ["--find-limit", "--yield", "0.9", "--trials", "2000"];
    let result = inspect(&folder, &[&asked[..], &["--csv", "inspect.csv"]].concat());
    assert_eq!((&result["question"], &result["unit"]), (&"widest".into(), &"mm".into()));
    let own = &result["settings"][0];
    let (from, to) = (number(&own["range"][0]), number(&own["range"][1]));
    let find = format!("lead.length.inspection.accept={from} mm..{to} mm");
    folder.done(&[
        "limit",
        "study.toml",
        "--quiet",
        "--json",
        "limit.json",
        "--trials",
        "2000",
        "--yield",
        "0.9",
        "--find",
        &find,
    ]);
    let limit = folder.json("limit.json");
    for key in ["value", "low", "high", "confidence"] {
        assert_eq!(own["limit"][key], limit["limit"][key], "{key}");
    }
    assert_eq!(own["tried"].as_array().map(Vec::len), limit["values"].as_array().map(Vec::len));
    // The reported size is rounded for a drawing, and hardly tighter.
    let (accept, low) = (number(&own["accept"]["to"]), number(&own["limit"]["low"]));
    assert!(
        accept <= low && accept > 0.99 * low && format!("{accept:.2e}").parse() == Ok(accept),
        "{accept} {low}"
    );
    let with = &own["units"]["with"]["yield"];
    assert!(number(&with["low"]) > 0.88 && number(&own["units"]["gain"]["low"]) > 0.0, "{with}");
    // Other gauges and suppliers, asked the same.
    let settings = result["settings"].as_array().expect("settings");
    let gauges: Vec<&str> = settings.iter().filter_map(|of| of["gauge"].as_str()).collect();
    assert_eq!(gauges, ["stated", "exact", "twice_as_bad", "stated"]);
    assert_eq!(settings[3]["supplier"], "half the spread");
    assert_eq!(settings[3]["answer"], "no_inspection", "{}", settings[3]);
    assert!(
        number(&settings[2]["parts"]["gauge"]["sd"]) == 0.2
            && number(&settings[1]["parts"]["gauge"]["sd"]) == 0.0
    );
    // The table has them all.
    let csv = folder.read("inspect.csv");
    let tried: usize = settings.iter().map(|of| of["tried"].as_array().map_or(0, Vec::len)).sum();
    assert_eq!(csv.lines().count(), 1 + tried + settings.len(), "each chosen one as well");
    assert!(csv.starts_with("supplier,gauge,accept_from[mm],accept_to[mm],is_chosen,turned_away,"), "{csv}");
    // The line that is offered gives the same units.
    let line = own["inspection"].as_str().expect("a line");
    assert!(line.starts_with("inspection = { accept = "), "{line}");
    let stated = Folder::with(units(NORMAL, line.trim_start_matches("inspection = ")) + PRICES);
    let again = inspect(&stated, &["--trials", "2000"]);
    assert_eq!(again["settings"][0]["units"]["with"], own["units"]["with"]);
    stated.done(&["run", "study.toml", "--quiet", "--trials", "2000", "--json", "run.json"]);
    assert_eq!(stated.json("run.json")["calibrations"][0]["yield"]["passed"], with["passed"]);
}

#[test]
fn where_no_limit_is_needed_or_none_suffices() {
    let folder = Folder::with(priced());
    let result = inspect(&folder, &["--find-limit", "--yield", "0.5", "--trials", "500"]);
    assert_eq!(result["settings"][0]["answer"], "no_inspection");
    assert!(
        result["settings"][0].get("parts").is_none() && result["settings"][0]["units"].get("with").is_none()
    );
    let verdict = result["verdict"].as_str().expect("a text");
    assert!(verdict.contains("No inspection is needed"), "{verdict}");
    // Behind drivers that are off by more, the leads alone cannot give the yield.
    let driver = "{ name = \"driver\", kind = \"amplifier\", gain = \"0 dB\", phase = { normal = { sd = \"40 deg\" } } },";
    let spoilt = priced().replace("{ name = \"shifter\"", &format!("{driver}\n    {{ name = \"shifter\""));
    let folder = Folder::with(spoilt);
    let ended = folder.run(&[
        "inspect",
        "study.toml",
        "--source",
        "lead.length",
        "--quiet",
        "--find-limit",
        "--yield",
        "0.99",
        "--trials",
        "1000",
    ]);
    assert_eq!(ended.code, Some(1), "{}", ended.err);
    assert!(ended.err.contains("no acceptance is shown to meet the yield of 0.99 required"), "{}", ended.err);
    assert!(ended.out.contains("None suffices"), "{}", ended.out);
}

#[test]
fn the_cheapest_limit_is_that_of_a_finer_row() {
    let folder = Folder::with(priced());
    let trials = ["--trials", "1000"];
    let result = inspect(&folder, &[&trials[..], &["--cheapest", "--report", "page.json"]].concat());
    let own = &result["settings"][0];
    assert_eq!(own["answer"], "limit");
    let least = number(&own["units"]["with"]["cost"]["value"]);
    let (low, high) = (number(&own["limit"]["low"]), number(&own["limit"]["high"]));
    let accept = number(&own["accept"]["to"]);
    assert!(low <= accept && accept <= high && number(&own["units"]["saving"]["low"]) > 0.0);
    // By brute force: 5 % apart over the whole range where there is something to win.
    let row: Vec<(f64, f64)> =
        (0..40).map(|i| 0.4 * 1.05_f64.powi(i)).map(|size| (size, at(&folder, size, &trials).2)).collect();
    let (best, cost) = row.iter().copied().reduce(|a, b| if b.1 < a.1 { b } else { a }).expect("a row");
    assert!(least <= cost * 1.003, "{least} at {accept}, {cost} at {best}");
    assert!(best > 0.85 * low && best < high / 0.85, "{best} is not in {low}..{high}");
    // The tried ones are dearer, and those marked otherwise surely.
    let tried = own["tried"].as_array().expect("limits");
    assert!(tried.iter().all(|of| number(&of["cost"]["value"]) >= least));
    assert!(tried.iter().any(|of| of["is_alike"] == false) && tried[0].get("value").is_none());
    let page: Value = folder.json("page.json");
    assert_eq!(nulls(&page), [""; 0]);
    // Where other limits cost alike, it is but the lowest cost that was found.
    let alike = tried.iter().filter(|of| of["is_alike"] == true).count();
    let said = if alike > 1 { "has the lowest cost found of" } else { "is the cheapest of" };
    assert!(page["recommendation"].as_str().is_some_and(|text| text.contains(said)), "{page}");
}

/// Rejected parts that cost a fortune: no inspection is the cheapest.
#[test]
fn no_inspection_may_be_the_cheapest() {
    let folder = Folder::with(priced().replace("rejected_part = 20.0", "rejected_part = 100000.0"));
    let result = inspect(&folder, &["--cheapest", "--trials", "500"]);
    let own = &result["settings"][0];
    assert_eq!((&own["answer"], own["units"].get("with")), (&"no_inspection".into(), None));
    let verdict = result["verdict"].as_str().expect("a text");
    let sized = own["tried"].as_array().expect("limits").iter().filter(|of| of.get("value").is_some());
    let is_alone = sized.filter(|of| of["is_alike"] == true).count() == 0;
    let said =
        if is_alone { "No inspection is the cheapest" } else { "No inspection has the lowest cost found" };
    assert!(verdict.contains(said), "{verdict}");
}

/// To one side, and about a middle: the form that the study states stays.
#[test]
fn limits_to_one_side() {
    for (tolerance, from, to) in [
        ("{ to = \"2 mm\" }", None, Some(true)),
        ("{ from = \"-2 mm\" }", Some(true), None),
        ("{ from = \"-1 mm\", to = \"2 mm\" }", Some(true), Some(true)),
    ] {
        let distribution = "normal = { sd = \"1 mm\" }";
        let study =
            units(distribution, &format!("{{ accept = {tolerance}, gauge = {{ sd = \"0.1 mm\" }} }}"))
                .replace("at_most = \"9.5 deg\"", "at_most = \"6 deg\"");
        let result = inspect(&Folder::with(study + PRICES), &["--cheapest", "--trials", "300"]);
        let own = &result["settings"][0];
        if own["answer"] == "no_inspection" {
            continue;
        }
        assert_eq!(
            (own["accept"].get("from").is_some(), own["accept"].get("to").is_some()),
            (from.is_some(), to.is_some())
        );
        if let (Some(_), Some(_)) = (from, to) {
            let middle = number(&own["accept"]["from"]) + number(&own["accept"]["to"]);
            assert!((middle - 1.0).abs() < 1e-9, "{own}");
        }
    }
}

/// The study that ships: the jumpers' inspection pays, and a supplier of tighter ones is dearer.
#[test]
fn the_jumpers_of_the_harvester() {
    let folder = Folder::with(include_str!("../../../studies/cable-limit.toml"));
    let asked =
        ["inspect", "study.toml", "--source", "jumper.length", "--quiet", "--trials", "3000", "--json", "-"];
    let answers = folder.done(&[&asked[..], &["--find-limit", "--yield", "0.95"]].concat());
    let document: Value = serde_json::from_str(&answers).expect("a document");
    assert_eq!(nulls(&document), [""; 0]);
    let own = &document["settings"][0];
    let (low, high) = (number(&own["limit"]["low"]), number(&own["limit"]["high"]));
    // 10000 units have it between 0.46 and 0.51 mm.
    assert!(0.35 < low && low < 0.51 && 0.46 < high && high < 0.65, "{low} {high}");
    assert!(number(&own["parts"]["shares"]["rejected"]) < 0.2);
    assert!(number(&own["units"]["with"]["yield"]["value"]) > 0.95);
    assert!(number(&own["units"]["saving"]["low"]) > 0.0, "{}", own["units"]);
    let other = &document["settings"][3];
    assert_eq!((&other["supplier"], &other["answer"]), (&"cut to 0.15 mm".into(), &"no_inspection".into()));
    assert!(
        number(&other["units"]["without"]["cost"]["low"]) > number(&own["units"]["with"]["cost"]["value"])
    );
    let verdict = document["verdict"].as_str().expect("a text");
    for said in [
        "the widest acceptance of jumper.length",
        "With a gauge twice as bad the limit",
        "\"cut to 0.15 mm\": no inspection",
    ] {
        assert!(verdict.contains(said), "{said}: {verdict}");
    }
    // Every form fits on a page.
    for more in [&["--cheapest"][..], &["--find-limit", "--yield", "0.9"], &["--accept", "-0.2..0.45 mm"]] {
        let asked = [
            "inspect",
            "study.toml",
            "--source",
            "jumper.length",
            "--quiet",
            "--trials",
            "300",
            "--report",
            "page.txt",
        ];
        for text in [folder.done(&[&asked[..], more].concat()), folder.read("page.txt")] {
            let wide = text.lines().find(|line| line.chars().count() > 80);
            assert_eq!(wide, None, "{more:?}");
        }
        assert!(folder.read("page.txt").lines().count() <= 60, "{more:?}");
    }
}
