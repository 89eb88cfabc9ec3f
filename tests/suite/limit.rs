//! The command that seeks the loosest value that meets a yield.

use crate::program::{Folder, SMALL, edited, nulls};
use serde_json::Value;

/// The small study with a jumper behind the plane of the bench that spoils the units.
fn cable() -> String {
    edited(SMALL, &[("at_most = \"0.4 dB\"", "at_most = \"0.08 dB\"")])
}

fn limit(folder: &Folder, more: &[&str]) -> Value {
    let always = ["limit", "study.toml", "--quiet", "--json", "limit.json", "--calibration", "fit"];
    folder.done(&[&always, more].concat());
    let document = folder.json("limit.json");
    assert_eq!(nulls(&document), [""; 0]);
    document
}

#[test]
fn a_cable_is_sought_in_every_form() {
    let folder = Folder::with(cable());
    let asked = ["--find", "jumper.length.half_width", "--yield", "0.9", "--trials", "2000"];
    let document = limit(&folder, &[&asked[..], &["--csv", "limit.csv"]].concat());
    assert_eq!((&document["format"], &document["answer"]), (&1.into(), &"limit".into()));
    let number = |value: &Value| value.as_f64().expect("a number");
    let of = &document["limit"];
    let (low, best, high) = (number(&of["low"]), number(&of["value"]), number(&of["high"]));
    assert!(low < best && best < high && of["confidence"] == 0.95 && of["larger_is_looser"] == true);
    assert_eq!(document["loosest_that_meets"]["value"], low);
    assert_eq!(document["loosest_that_meets"]["parameters"]["jumper.length.half_width"], format!("{low} mm"));
    // On a drawing: four digits.
    assert!(format!("{low:.3e}").parse() == Ok(low) && format!("{high:.3e}").parse() == Ok(high));
    let (built, halving) = (number(&document["units_built"]), number(&document["units_by_halving"]));
    assert!(built < 0.5 * halving, "{built} {halving}");

    let csv = folder.read("limit.csv");
    let rows: Vec<&str> = csv.lines().collect();
    assert_eq!(
        rows[0],
        "jumper.length.half_width[mm],units,passed,yield,yield_low,yield_high,confidence,verdict"
    );
    assert_eq!(rows.len() - 1, document["values"].as_array().expect("values").len());

    // Each value agrees with a run of the study with that value.
    let at = &document["values"][document["values"].as_array().expect("values").len() - 1];
    let set = format!("jumper.length.half_width={} mm", at["value"]);
    let trials = at["yield"]["trials"].to_string();
    folder.done(&[
        "run",
        "study.toml",
        "--quiet",
        "--json",
        "run.json",
        "--calibration",
        "fit",
        "--trials",
        &trials,
        "--set",
        &set,
    ]);
    let run = folder.json("run.json");
    assert_eq!(run["calibrations"][0]["yield"]["passed"], at["yield"]["passed"]);

    let text =
        folder.done(&[&["limit", "study.toml", "--quiet", "--calibration", "fit"], &asked[..]].concat());
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "The largest jumper.length.half_width for a yield of 90 % after \"fit\"".to_owned(),
        format!("{low} mm meets it and {high} mm misses it; the limit is between them"),
        "about 8000 would halve the interval".to_owned(),
        "on up to 2000 units a value".to_owned(),
    ] {
        assert!(words.contains(&said), "{said}\n{text}");
    }
    // What is shorter by a hundred finds the same; several by one factor stand in the same ratio.
    let scaled = limit(
        &folder,
        &[
            "--find",
            "jumper.length.half_width",
            "--find",
            "feed.length.sd",
            "--yield",
            "0.9",
            "--trials",
            "2000",
        ],
    );
    let amounts = &scaled["loosest_that_meets"]["parameters"];
    let amount = |key: &str| {
        let text = amounts[key].as_str().expect("a text");
        text.trim_end_matches(" mm").parse::<f64>().expect("a length")
    };
    let [half_width, sd] = ["jumper.length.half_width", "feed.length.sd"].map(amount);
    // Both stand at 0.2 mm; the bench sees the feed and takes it out, so that the jumper's limit stays.
    assert_eq!(half_width, sd);
    assert!((half_width / low - 1.0).abs() < 0.1, "{half_width} {low}");
}

#[test]
fn the_fewest_bits_are_whole() {
    // An array's phases rounded to b bits; the limit is one of pointing and of gain.
    let folder = Folder::with(edited(
        SMALL,
        &[("at_most = \"0.4 dB\"", "at_most = \"0.1 dB\""), ("sd = \"1 deg\" }", "sd = \"0.2 deg\" }")],
    ));
    let document = limit(&folder, &["--find", "shifter.bits", "--yield", "0.9", "--trials", "1000"]);
    let values = document["values"].as_array().expect("values");
    assert!(values.iter().all(|value| value["value"].as_f64().is_some_and(|bits| bits.fract() == 0.0)));
    let limit = &document["limit"];
    let (low, high) = (limit["low"].as_f64().expect("an end"), limit["high"].as_f64().expect("an end"));
    assert!(limit["larger_is_looser"] == false && limit["value"] == high && low >= 1.0, "{document}");
    let verdict = |bits: f64| values.iter().find(|of| of["value"] == bits).map(|of| of["verdict"].clone());
    assert_eq!((verdict(high), verdict(low)), (Some("meets".into()), Some("misses".into())));
}

#[test]
fn a_range_without_a_limit_has_an_exit_of_its_own() {
    let folder = Folder::with(cable());
    let asked = |range: &str, more: &[&str]| {
        let find = format!("jumper.length.half_width={range}");
        let always =
            ["limit", "study.toml", "--quiet", "--calibration", "fit", "--yield", "0.9", "--find", &find];
        let ended = folder.run(&[&always, more].concat());
        (ended.code, ended.out.split_whitespace().collect::<Vec<_>>().join(" "), ended.err)
    };
    let more = ["--trials", "1000"];
    let (code, out, err) = asked("4..9 mm", &more);
    assert_eq!(code, Some(1), "{err}");
    assert!(out.contains("No value tried meets it, 0 % of 64 units pass at 4 mm"), "{out}");
    assert!(err.contains("no value is shown to meet the yield of 0.9 required"), "{err}");
    let (code, out, _) = asked("0.001..0.01 mm", &more);
    assert_eq!(code, Some(0));
    assert!(
        out.contains("Every value tried meets it") && out.contains("The limit is beyond the range"),
        "{out}"
    );
    // 100 units cannot separate two values near the limit.
    let document =
        limit(&folder, &["--find", "jumper.length.half_width", "--yield", "0.9", "--trials", "2000"]);
    let best = document["limit"]["value"].as_f64().expect("an estimate");
    let (code, out, err) = asked(&format!("{best}..{} mm", 1.001 * best), &["--trials", "100"]);
    assert_eq!(code, Some(1), "{err}");
    assert!(out.contains("Cannot tell with 100 units") && out.contains("would."), "{out}");
}

#[test]
fn invalid_questions_are_refused() {
    let folder = Folder::with(cable());
    let refused =
        |arguments: &[&str]| folder.refused(&[&["limit", "study.toml", "--quiet"], arguments].concat());
    let jumper = ["--find", "jumper.length.half_width", "--yield", "0.9"];
    let fit = ["--calibration", "fit"];
    for (arguments, said) in [
        (&["--find", "jumper.length.half_width"][..], vec!["--yield"]),
        (&["--yield", "0.9"], vec!["--find"]),
        (&["--find", "jumper.length.half_width", "--yield", "1"], vec!["between 0 and 1"]),
        (&["--find", "jumper.length.half_width", "--yield", "95"], vec!["between 0 and 1"]),
        (&["--find", "shifter.bits=9..3", "--yield", "0.9"], vec!["runs backwards", "3..9"]),
        (&["--find", "shifter.bits=5", "--yield", "0.9"], vec!["no range", "FROM..TO"]),
        (&["--find", "jumper.length=1 mm..2 deg", "--yield", "0.9"], vec!["two units"]),
        (&jumper, vec!["one calibration plan", "fit, climb"]),
    ] {
        let message = refused(arguments);
        assert!(said.iter().all(|said| message.contains(said)), "{arguments:?} {message}");
    }
    let with_fit = |arguments: &[&str]| refused(&[&fit[..], &["--yield", "0.9"], arguments].concat());
    for (arguments, said) in [
        (&["--find", "jumper.lenth.half_width"][..], vec!["did you mean `length`?"]),
        (&["--find", "shifter.bits=2.5..6"], vec!["as changed by shifter.bits=2.5"]),
        (&["--find", "jumper.length.half_width=1 deg..2 deg"], vec!["as changed by", "is expected here"]),
        (&["--find", "fit.align.method"], vec!["no value above 0", "FROM..TO"]),
        (&["--find", "jumper.length.half_width", "--confidence", "0.4"], vec!["between 0.5 and 0.9999"]),
        (
            &["--find", "jumper.length.half_width", "--trials", "20"],
            vec!["20 units a value cannot", "--trials"],
        ),
        (&["--find", "jumper.length.half_width", "--factor", "0..2"], vec!["above 0"]),
        (&["--find", "feed.length.sd", "--find", "feed.length.sd"], vec!["appears twice"]),
        (&["--find", "feed.length.sd", "--find", "shifter.bits"], vec!["whole number", "alone"]),
        (&["--find", "feed.length.sd=1..2 mm", "--find", "jumper.length.half_width"], vec!["--factor"]),
        (&["--find", "jumper.length.half_width", "--json", "a", "--csv", "a"], vec!["both go there"]),
        (&["--find", "jumper.length.half_width", "--csv", "study.toml"], vec!["study.toml"]),
    ] {
        let message = with_fit(arguments);
        assert!(said.iter().all(|said| message.contains(said)), "{arguments:?} {message}");
    }
    let without = &SMALL[..SMALL.find("[[limit]]").expect("limits")];
    let folder = Folder::with(without);
    let message = folder.refused(&[&["limit", "study.toml", "--quiet"], &fit[..], &jumper[..]].concat());
    assert!(message.contains("a study without limits"), "{message}");
}

/// Stops a search that would take hours by the signal of Ctrl-C, once it is under way.
#[cfg(unix)]
#[test]
fn a_stopped_search_reports_its_partial_result() {
    let folder = Folder::with(cable());
    let arguments = [
        "limit",
        "study.toml",
        "--trials",
        "30000000",
        "--json",
        "limit.json",
        "--calibration",
        "fit",
        "--yield",
        "0.9",
        "--find",
        "jumper.length.half_width",
    ];
    // The units done go back to the first ones when another value is tried.
    let ended = folder.stopped(&arguments, |done| done.windows(2).any(|of| of[1] <= of[0]));
    assert!(
        ended.out.starts_with("PARTIAL: stopped after") && ended.err.contains("partial"),
        "{}",
        ended.out
    );
    let document = folder.json("limit.json");
    assert_eq!(document["partial"], true);
    assert!(document["values"].as_array().is_some_and(|values| !values.is_empty()));
}
