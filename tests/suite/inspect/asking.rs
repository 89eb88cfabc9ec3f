//! The questions that `inspect` answers, those that it refuses, and its answers.

use super::{NORMAL, inspect, number, parts, units};
use crate::program::{Folder, nulls};

#[test]
fn an_inspection_in_every_form() {
    let folder = Folder::with(units(
        NORMAL,
        "{ accept = \"1.5 mm\", gauge = { bias = \"0.05 mm\", sd = \"0.1 mm\" } }",
    ));
    let asked = ["inspect", "study.toml", "--source", "lead.length", "--quiet"];
    let text = folder.done(&[&asked[..], &["--report", "page.txt"]].concat());
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "accepted reads within +/-1.5 mm",
        "sd 0.1 mm, bias 0.05 mm",
        "2 parts a unit",
        "(consumer's risk)",
        "as delivered",
        "gauge twice as bad",
        "exact gauge",
        "accept = \"1.5 mm\" gauge = { bias = \"0.05 mm\", sd = \"0.1 mm\" }",
        "Verdict on an inspection of lead.length that accepts readings within +/-1.5 mm.",
    ] {
        assert!(words.contains(said), "{said}\n{text}");
    }
    let page = folder.read("page.txt");
    assert!(page.lines().count() <= 60 && page.lines().all(|line| line.chars().count() <= 80), "{page}");
    for said in
        ["Question", "Recommendation", "Assumptions", "What would change the answer", "--source lead.length"]
    {
        assert!(page.split_whitespace().collect::<Vec<_>>().join(" ").contains(said), "{said}\n{page}");
    }
    let document = inspect(&folder, &[]);
    assert_eq!(nulls(&document), [""; 0]);
    assert_eq!((&document["format"], &document["question"]), (&1.into(), &"stated".into()));
    // The yield is that of a run, and that without inspection that of the study without it.
    let of = &document["settings"][0]["units"];
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    assert_eq!(folder.json("run.json")["calibrations"][0]["yield"]["passed"], of["with"]["yield"]["passed"]);
    let bare = Folder::with(units(NORMAL, "{ time = \"0 s\" }"));
    bare.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    assert_eq!(bare.json("run.json")["calibrations"][0]["yield"]["passed"], of["without"]["yield"]["passed"]);
}

/// Threads and the order of work change no number.
#[test]
fn threads_change_nothing() {
    let folder = Folder::with(units(NORMAL, "{ accept = \"1.5 mm\", gauge = { sd = \"0.1 mm\" } }"));
    let of = |threads: &str| inspect(&folder, &["--threads", threads])["settings"].clone();
    assert_eq!(of("1"), of("2"));
}

#[test]
fn an_acceptance_and_a_gauge_can_be_tried() {
    // A study that states no inspection at all.
    let folder =
        Folder::with(units(NORMAL, "{ time = \"0 s\" }").replace(", inspection = { time = \"0 s\" }", ""));
    let own = inspect(&folder, &["--accept", "1.5 mm"])["settings"].clone();
    assert_eq!(own.as_array().map(Vec::len), Some(1), "an exact gauge has no other beside it");
    let tried = inspect(&folder, &["--accept", "1.5 mm", "--gauge-sd", "0.3 mm"]);
    let parts = &tried["settings"][0]["parts"];
    // Row A8.15 of the check values: own derivation, a double integral.
    assert!((number(&parts["shares"]["rejected"]) - 0.1508).abs() < 6e-5);
    assert_eq!(tried["settings"].as_array().map(Vec::len), Some(3));
    let range = inspect(&folder, &["--accept", "-1..2 mm"])["settings"][0]["accept"].clone();
    assert_eq!((number(&range["from"]), number(&range["to"])), (-1.0, 2.0));
    // A study that states its own takes another as well.
    let folder = Folder::with(parts_with_table());
    let own = inspect(&folder, &["--accept", "1.5 mm", "--gauge-sd", "0.3 mm"]);
    assert_eq!(number(&own["settings"][0]["accept"]["to"]), 1.5);
}

/// An acceptance as a table.
fn parts_with_table() -> String {
    parts(NORMAL, "{ accept = { from = \"-2 mm\", to = \"2 mm\" }, gauge = { sd = \"0.2 mm\" } }")
}

#[test]
fn invalid_questions_are_refused() {
    let folder = Folder::with(units(NORMAL, "{ gauge = { sd = \"0.1 mm\" } }"));
    let refused =
        |arguments: &[&str]| folder.refused(&[&["inspect", "study.toml", "--quiet"], arguments].concat());
    let lead = ["--source", "lead.length"];
    for (arguments, said) in [
        (
            &["--source", "lead.lenght", "--accept", "1 mm"][..],
            vec!["no source `lead.lenght`", "did you mean `lead.length`?"],
        ),
        (&["--source", "shifter.bits", "--accept", "1 mm"], vec!["no source `shifter.bits`", "lead.length"]),
        (&["--accept", "1 mm"], vec!["--source"]),
        (&lead, vec!["nothing is turned away", "--accept", "--find-limit --yield", "--cheapest"]),
        (&["--source", "lead.length", "--accept", "1 mm", "--cheapest"], vec!["cannot be used with"]),
        (
            &["--source", "lead.length", "--accept", "1 mm", "--find-limit", "--yield", "0.9"],
            vec!["cannot be used with"],
        ),
        (
            &["--source", "lead.length", "--find-limit", "--cheapest", "--yield", "0.9"],
            vec!["cannot be used with"],
        ),
        (&["--source", "lead.length", "--find-limit"], vec!["--yield"]),
        (&["--source", "lead.length", "--accept", "1 mm", "--yield", "0.9"], vec!["--find-limit"]),
        (&["--source", "lead.length", "--find-limit", "--yield", "2"], vec!["between 0 and 1"]),
        (
            &["--source", "lead.length", "--find-limit", "--yield", "0.9", "--trials", "9"],
            vec!["9 units a value cannot"],
        ),
        (&["--source", "lead.length", "--cheapest"], vec!["without prices", "[cost]"]),
        (
            &["--source", "lead.length", "--accept", "1 deg"],
            vec!["as changed by lead.length.inspection.accept"],
        ),
        (&["--source", "lead.length", "--accept", "wide"], vec!["no acceptance", "'0.4 mm'"]),
        (&["--source", "lead.length", "--accept", "2..1 mm"], vec!["runs backwards"]),
        (&["--source", "lead.length", "--accept", "-1 mm"], vec!["as changed by"]),
        (&["--source", "lead.length", "--accept", "1 mm", "--gauge-sd", "-1 mm"], vec!["as changed by"]),
        (&["--source", "lead.length", "--accept", "1 mm", "--gauge-sd", "1 deg"], vec!["as changed by"]),
        (
            &["--source", "lead.length", "--accept", "1 mm", "--json", "a", "--csv", "a"],
            vec!["both go there"],
        ),
        (&["--source", "lead.length", "--accept", "1 mm", "--report", "page.pdf"], vec![".txt or .json"]),
        (&["--source", "lead.length", "--accept", "1 mm", "--csv", "study.toml"], vec!["study.toml"]),
        (&["--source", "lead.length", "--accept", "0.0000001 mm"], vec!["hardly a part in a million"]),
    ] {
        let message = refused(arguments);
        assert!(said.iter().all(|said| message.contains(said)), "{arguments:?} {message}");
    }
    // Sources that cannot be inspected.
    let folder = Folder::with(parts(NORMAL, "{ gauge = { sd = \"0.1 mm\" } }"));
    let limit = folder.refused(&[
        "inspect",
        "study.toml",
        "--source",
        "lead.length",
        "--find-limit",
        "--yield",
        "0.9",
    ]);
    assert!(limit.contains("a study without limits"), "{limit}");
    let still = parts(NORMAL, "{ }").replace(", normal = { sd = \"1 mm\" }, inspection = { }", "");
    let message = Folder::with(still).refused(&[
        "inspect",
        "study.toml",
        "--source",
        "lead.length",
        "--accept",
        "1 mm",
    ]);
    assert!(message.contains("nothing in the study varies"), "{message}");
    // A tolerance and a guard band leave no acceptance to try.
    let both = parts(NORMAL, "{ tolerance = \"2 mm\", guard = \"0.2 mm\", gauge = { sd = \"0.1 mm\" } }");
    let message =
        Folder::with(both).refused(&["inspect", "study.toml", "--source", "lead.length", "--accept", "1 mm"]);
    assert!(message.contains("as changed by"), "{message}");
}

#[test]
fn one_calibration_plan_is_asked() {
    let study = units(NORMAL, "{ accept = \"1 mm\" }").replace(
        "calibration = [{ name = \"as built\" }]",
        "calibration = [{ name = \"fit\", align = { method = \"fit\" } }, { name = \"peak\", align = { method = \"peak\" } }]",
    );
    let folder = Folder::with(study);
    let message = folder.refused(&["inspect", "study.toml", "--source", "lead.length"]);
    assert!(message.contains("one calibration plan") && message.contains("fit, peak"), "{message}");
    assert_eq!(inspect(&folder, &["--calibration", "peak"])["calibration"], "peak");
}

/// Stops a search that would take hours by the signal of Ctrl-C, once it is under way.
#[cfg(unix)]
#[test]
fn a_stopped_search_reports_its_partial_result() {
    let folder = Folder::with(units(NORMAL, "{ gauge = { sd = \"0.1 mm\" } }"));
    let asked = [
        "inspect",
        "study.toml",
        "--source",
        "lead.length",
        "--trials",
        "300000000",
        "--json",
        "inspect.json",
    ];
    // The units done go back to the first ones when another width is tried.
    let another = |done: &[u64]| done.windows(2).any(|of| of[1] <= of[0]);
    let ended = folder.stopped(&[&asked[..], &["--find-limit", "--yield", "0.9"]].concat(), another);
    assert!(ended.out.starts_with("PARTIAL: stopped") && ended.err.contains("partial"), "{}", ended.out);
    let document = folder.json("inspect.json");
    assert_eq!(document["partial"], true);
    assert!(document["settings"][0]["tried"].as_array().is_some_and(|tried| !tried.is_empty()));
    assert_eq!(nulls(&document), [""; 0]);
    // As stated: the units that were built.
    let ended = folder.stopped(&[&asked[..], &["--accept", "1.5 mm"]].concat(), |done| !done.is_empty());
    assert!(ended.out.starts_with("PARTIAL: stopped"), "{}", ended.out);
    assert_eq!(folder.json("inspect.json")["settings"][0]["units"]["without"]["partial"], true);
}
