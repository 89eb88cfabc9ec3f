//! Sampling plans against published numbers.

use super::{NORMAL, counted, inspect, near, number, own_parts, parts};
use crate::program::Folder;

/// Parts of which the share `failing` reads outside of an acceptance, `z` standard deviations to either side, by an exact gauge.
fn sampled(z: f64, parts_gauged: u64, allowed: u64) -> String {
    let sample = format!("sample = {{ lot = 3000, parts = {parts_gauged}, allowed = {allowed} }}");
    parts(NORMAL, &format!("{{ accept = \"{z} mm\", {sample} }}"))
}

/// Two-sided normal quantiles of 1 % and 5 % (tables).
const ONE_PERCENT: f64 = 2.575_829;
const FIVE_PERCENT: f64 = 1.959_964;

/// A8.12: 80 gauged, 2 allowed. Source: ISO 2859-1, table 10-J (from memory; recomputed from the binomial distribution).
#[test]
fn the_operating_characteristic_of_a_plan() {
    let result = own_parts(&sampled(ONE_PERCENT, 80, 2));
    let of = &result["sampling"];
    for (mark, (probability, failing, last)) in of["quality_taken_with"]
        .as_array()
        .expect("marks")
        .iter()
        .zip([(0.95, 1.03, 0.005), (0.5, 3.33, 0.005), (0.1, 6.52, 0.005)])
    {
        near(&mark["chance"], probability, 0.0);
        near(&mark["failing"], failing / 100.0, last / 100.0);
    }
    near(&result["shares"]["rejected"], 0.01, 1e-6);
    near(&of["taken"], 0.953, 5e-4);
    near(
        &result["counted"]["built_in"]["value"],
        0.953,
        4.0 * (0.953_f64 * 0.047 / number(&result["counted"]["parts"])).sqrt(),
    );
    near(&result["turned_away_a_part"], 0.047 / 0.953, 6e-4);
    // Lots that are alike are taken or not by luck: the parts stay as they are.
    near(&result["accepted"]["sd"], 1.0, 1e-9);
    // The curve falls.
    let curve = of["curve"].as_array().expect("a curve");
    assert!(curve.windows(2).all(|two| number(&two[0][1]) >= number(&two[1][1])) && curve.len() > 20);
}

/// A8.13: the fewest parts of a sampling plan that allows none to fail and rejects bad lots with a probability of 0.9. Source: own derivation.
#[test]
fn the_fewest_parts_that_turn_bad_lots_away() {
    for (z, fewest) in [(ONE_PERCENT, 230), (FIVE_PERCENT, 45)] {
        let turned_away =
            |parts_gauged: u64| 1.0 - number(&own_parts(&sampled(z, parts_gauged, 0))["sampling"]["taken"]);
        assert!(turned_away(fewest) >= 0.9, "{fewest}");
        assert!(turned_away(fewest - 1) < 0.9, "{fewest}");
    }
}

/// A sample selects among lots that differ: accepted lots have smaller shifts, and their parts spread less.
#[test]
fn lots_that_differ() {
    let distribution =
        "normal = { sd = \"0.3 mm\" }, and = { normal = { sd = \"0.4 mm\" }, scope = \"lot\" }";
    let study = parts(distribution, "{ accept = \"1 mm\", gauge = { sd = \"0.05 mm\" }, sample = { lot = 600, parts = 50, allowed = 1 } }")
        .replace("trials = 200", "trials = 200\nlot = 100");
    let result = own_parts(&study);
    near(&result["delivered"]["sd"], 0.5, 1e-9);
    let (before, after) = (number(&result["delivered"]["sd"]), number(&result["accepted"]["sd"]));
    assert!(after < 0.9 * before && after > 0.3, "{after}");
    near(&result["counted"]["sd"], after, 0.03 * after);
    counted(&result["counted"]["built_in"], number(&result["sampling"]["taken"]));
    let escapes = number(&result["sampling"]["escapes"]);
    counted(&result["counted"]["built_in_escapes"], escapes);
    assert!(escapes < 0.5 * number(&result["shares"]["nonconforming"]));
    // A limit is sought between those that take hardly a lot and nearly all.
    // Many lots, for a narrow interval of the yield.
    let study = study.replace("\nlot = 100", "\nlot = 4")
        + "limit = [{ figure = \"pointing_error\", at_most = \"9.5 deg\" }]\n";
    let found = inspect(&Folder::with(&study), &["--find-limit", "--yield", "0.9", "--trials", "1000"]);
    assert!(
        found["settings"][0]["range"][0].as_f64().is_some_and(|from| from > 0.4),
        "{}",
        found["settings"][0]["range"]
    );
    assert!(
        number(&result["accepted"]["percentiles"]["95"]) < number(&result["delivered"]["percentiles"]["95"])
    );
    // Every part of two distributions cannot be inspected.
    let study = study.replace(", sample = { lot = 600, parts = 50, allowed = 1 }", "");
    let refused = Folder::with(study).refused(&["inspect", "study.toml", "--source", "lead.length"]);
    assert!(refused.contains("two distributions"), "{refused}");
}

/// The probability that of `n` parts no more than `c` fail, term by term.
fn taken(n: i32, c: i32, failing: f64) -> f64 {
    let choices = |k: i32| (0..k).map(|i| f64::from(n - i) / f64::from(i + 1)).product::<f64>();
    (0..=c).map(|k| choices(k) * failing.powi(k) * (1.0 - failing).powi(n - k)).sum()
}

/// A sampling plan in words.
#[test]
fn a_sampling_plan_is_reported() {
    let folder = Folder::with(sampled(ONE_PERCENT, 80, 2));
    let text = folder.done(&["inspect", "study.toml", "--source", "lead.length", "--quiet"]);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "80 parts gauged of a lot of 3000, which is taken when no more than 2 of them fail",
        "50 % 3.33 %",
        "95.3 % of the lots are taken",
    ] {
        assert!(words.contains(said), "{said}\n{text}");
    }
    assert!(words.contains("sample = { lot = 3000, parts = 80, allowed = 2 }"), "{text}");
    // Another limit is tried by the same plan: 4.55 % of the parts fail at two standard deviations (tables).
    let tried = inspect(&folder, &["--accept", "2 mm"])["settings"][0]["parts"].clone();
    near(&tried["shares"]["rejected"], 0.0455, 5e-5);
    near(&tried["sampling"]["taken"], taken(80, 2, 0.0455), 1e-3);
}
