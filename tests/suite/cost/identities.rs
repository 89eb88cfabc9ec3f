//! Identities of costs that hold for every study.

use super::{close, document, float, list, loose, model, priced, same, strict};
use serde_json::Value;

const LINES: [&str; 7] = ["parts", "turned_away", "gauge", "bench", "rework", "scrap", "set_up"];

#[test]
fn where_all_pass_a_good_unit_costs_its_parts_and_its_bench_time() {
    let found = document(&priced(&loose(), "scrap = { recovered = 100 }"), &[]);
    for of in list(&found["plans"]) {
        assert_eq!(float(&of["yield"]["value"]), 1.0);
        assert!(same(float(&of["cost"]["value"]), 400.0 + float(&of["minutes"]) * 2.5), "{of}");
        // The yield may be lower than 1, so the cost may be higher, and it cannot be lower but by what the mean time is off.
        assert!(float(&of["cost"]["high"]) > float(&of["cost"]["value"]));
    }
    let none = &model(&found, "none")["cost"];
    assert_eq!((float(&none["low"]), float(&none["value"])), (400.0, 400.0));
}

#[test]
fn units_that_are_never_mended_are_scrapped() {
    let scrapped = document(&priced(&strict(), "scrap = { recovered = 100 }"), &[]);
    let never = "scrap = { recovered = 100 }\nrework = { success = 0, time = \"5 min\", parts = 20 }";
    let never = document(&priced(&strict(), never), &[]);
    for key in ["plans", "steps", "averages", "cheapest"] {
        assert_eq!(scrapped[key], never[key], "{key}");
    }
    // With a high success units are reworked; rework that costs more than a new unit is not done.
    let often = "scrap = { recovered = 100 }\nrework = { success = 0.8, time = \"5 min\", parts = 20 }";
    let often = document(&priced(&strict(), often), &[]);
    let dear = "scrap = { recovered = 100 }\nrework = { success = 0.8, time = \"5 min\", parts = 2000 }";
    let dear = document(&priced(&strict(), dear), &[]);
    assert_eq!(scrapped["plans"], dear["plans"]);
    for (one, other) in list(&scrapped["plans"]).iter().zip(list(&often["plans"])) {
        assert!(float(&other["cost"]["value"]) < float(&one["cost"]["value"]));
        let kinds = (&one["split"]["failing_units"], &other["split"]["failing_units"]);
        assert_eq!(kinds, (&Value::from("scrapped"), &Value::from("reworked")));
    }
}

/// Twice is exact in binary, so that it holds to the last digits that are read.
#[test]
fn prices_that_double_double_every_cost() {
    let with = |factor: f64| {
        let prices = [40.0, 80.0, 2.5, 900.0, 50.0, 20.0].map(|price| price * factor);
        let [channel, unit, minute, set_up, recovered, parts] = prices;
        let study = format!(
            "{}\n[cost]\ncurrency = \"EUR\"\nunits_a_year = 300\nchannel = {channel}\nunit = {unit}\nbench_minute = {minute}\n\
             set_up = {set_up}\nscrap = {{ recovered = {recovered} }}\nrework = {{ success = 0.4, time = \"9 min\", parts = {parts} }}\n",
            strict()
        );
        document(&study, &[])
    };
    let (once, twice) = (with(1.0), with(2.0));
    let mut compared = 0;
    let mut double = |one: &Value, other: &Value| {
        for key in ["value", "low", "high"] {
            assert!(same(2.0 * float(&one[key]), float(&other[key])), "{key}: {one} and {other}");
            compared += 1;
        }
    };
    for (one, other) in list(&once["plans"]).iter().zip(list(&twice["plans"])) {
        double(&one["cost"], &other["cost"]);
        assert_eq!(one["yield"], other["yield"]);
        for line in LINES {
            assert!(same(2.0 * float(&one["split"][line]), float(&other["split"][line])), "{line}");
        }
    }
    for (one, other) in list(&once["steps"]).iter().zip(list(&twice["steps"])) {
        double(&one["saves"], &other["saves"]);
        assert_eq!((&one["pays"], &one["told"]), (&other["pays"], &other["told"]));
    }
    assert!(compared >= 15, "{compared}");
}

#[test]
fn the_lines_of_a_cost_add_up_to_it() {
    let more = "set_up = { fit = 700, climb = 100 }\nscrap = { recovered = 30 }\nrework = { success = 0.4, time = \"9 min\", parts = 5 }";
    let found = document(&priced(&strict(), more), &[]);
    for of in list(&found["plans"]) {
        let sum: f64 = LINES.iter().map(|line| float(&of["split"][line])).sum();
        assert!(close(sum, float(&of["cost"]["value"])), "{of}");
        assert!(float(&of["cost"]["low"]) < sum && sum < float(&of["cost"]["high"]));
    }
}

/// The formula by hand, with an arithmetic of its own, from the yield and the minutes that the program reports.
#[test]
fn costs_are_those_of_a_sheet_of_paper() {
    let more = "set_up = { fit = 720 }\nscrap = { recovered = 30 }";
    let rework = "rework = { success = 0.4, time = \"9 min\", parts = 5 }";
    let scrapped = document(&priced(&strict(), more), &[]);
    let reworked = document(&priced(&strict(), &format!("{more}\n{rework}")), &[]);
    for name in ["none", "fit", "climb"] {
        let once = if name == "fit" { 720.0 / 300.0 } else { 0.0 };
        let of = model(&scrapped, name);
        let (y, minutes) = (float(&of["yield"]["value"]), float(&of["minutes"]));
        assert!(0.0 < y && y < 1.0, "{name}: {y}");
        let built = 8.0 * 40.0 + 80.0 + minutes * 2.5;
        // Of a thousand units built, those that pass pay for all, less what scrap brings.
        let paper = (1000.0 * built - 1000.0 * (1.0 - y) * 30.0) / (1000.0 * y) + once;
        assert!(close(float(&of["cost"]["value"]), paper), "{name}: {of}, {paper}");
        // An attempt at each that fails: 9 minutes at 2.5 and parts for 5; four in ten end well.
        let failing = 1000.0 * (1.0 - y);
        let good = 1000.0 * y + 0.4 * failing;
        let paper = (1000.0 * built + failing * (9.0 * 2.5 + 5.0) - 0.6 * failing * 30.0) / good + once;
        let of = model(&reworked, name);
        assert!(close(float(&of["cost"]["value"]), paper), "{name}: {of}, {paper}");
        let bench = (1000.0 * minutes + failing * 9.0) / good;
        assert!(close(float(&of["bench"]["minutes_a_good_unit"]), bench), "{name}");
        // Eight hours a day.
        assert!(close(float(&of["bench"]["good_units_a_day"]["value"]), 480.0 / bench), "{name}");
    }
}

#[test]
fn parts_that_an_inspection_turns_away_are_paid_for() {
    let inspected = strict().replace(
        "normal = { sd = \"0.2 mm\" } }",
        "normal = { sd = \"0.2 mm\" }, inspection = { accept = \"0.2 mm\", time = \"90 s\" } }",
    );
    let found =
        document(&priced(&inspected, "gauge_minute = 0.8\nrejected_part = { \"feed.length\" = 7 }"), &[]);
    let of = model(&found, "none");
    // Eight traces; without a gauge's error those within one standard deviation are taken, 0.682689 of them (any table of the normal
    // distribution), so 8 (1/0.682689 - 1) = 3.71834 are turned away and 8/0.682689 = 11.71834 gauged.
    let away = float(&of["parts_turned_away"]["feed.length"]);
    assert!((away - 3.718_34).abs() < 1e-4, "{away}");
    assert!((float(&of["gauge_minutes"]) - 1.5 * 11.718_34).abs() < 2e-4);
    assert!(close(float(&of["split"]["turned_away"]), 7.0 * away));
    assert!(close(float(&of["split"]["gauge"]), 0.8 * float(&of["gauge_minutes"])));
    // One price for all says the same.
    let all = document(&priced(&inspected, "gauge_minute = 0.8\nrejected_part = 7"), &[]);
    assert_eq!(found["plans"], all["plans"]);
}

#[test]
fn a_price_with_a_range_stands_for_its_value() {
    let ranged = priced(&strict(), "")
        .replace("bench_minute = 2.5", "bench_minute = { value = 2.5, from = 1, to = 4 }");
    let plain = document(&priced(&strict(), ""), &[]);
    let with = document(&ranged, &[]);
    assert_eq!(plain["plans"], with["plans"]);
    // A number given for one call takes the place of value and range.
    let set = document(&ranged, &["--set", "cost.bench_minute=9"]);
    let dear = document(&priced(&strict(), "").replace("bench_minute = 2.5", "bench_minute = 9"), &[]);
    assert_eq!((&set["plans"], &set["tornado"]), (&dear["plans"], &dear["tornado"]));
    let value = document(&ranged, &["--set", "cost.bench_minute.value=3"]);
    assert!(list(&value["tornado"]).iter().any(|of| of["input"] == "cost.bench_minute"));
}
