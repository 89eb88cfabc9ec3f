//! The command: its text, its documents, and its refusals.

use crate::program::{Folder, SMALL, edited, nulls};

#[test]
fn the_command_reports_gains_and_shares() {
    let folder = Folder::with(SMALL);
    let more = ["--trials", "1500", "--json", "budget.json", "--csv", "budget.csv", "--quiet"];
    let text = folder.done(&[&["budget", "study.toml", "--group", "bench=bench"], &more[..]].concat());
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let verdict = text.rsplit("\n\n").next().expect("a last paragraph");
    assert!(verdict.starts_with("Verdict on \"") && verdict.contains("1500 units"), "{text}");
    assert!(verdict.contains("Mend ") || verdict.contains("Cannot tell"), "{text}");

    let json = folder.json("budget.json");
    assert_eq!(nulls(&json), Vec::<String>::new());
    assert_eq!(
        (&json["format"], &json["trials"], &json["study"]),
        (&1.into(), &1500.into(), &"small".into())
    );
    let causes = json["causes"].as_array().expect("causes");
    let bench = causes.iter().find(|of| of["name"] == "bench").expect("the group");
    assert_eq!(bench["holds"].as_array().map(Vec::len), Some(5), "{bench}");
    let of = &json["calibrations"][1];
    assert_eq!(of["name"], "fit");
    // One figure that is limited at two beams and two frequencies, one at a beam and a frequency; every cause in each.
    assert_eq!(of["figures"].as_array().map(Vec::len), Some(5));
    for results in std::iter::once(&of["failures"]).chain(of["figures"].as_array().expect("figures")) {
        assert_eq!(results["causes"].as_array().map(Vec::len), Some(causes.len()));
        for share in results["causes"].as_array().expect("causes") {
            let is_it = |cause: &&serde_json::Value| cause["name"] == share["cause"];
            let cause = causes.iter().find(is_it).expect("a cause of the study");
            let has_share = share.get("in_all").is_some();
            assert!(!has_share || cause["drawn"] == true, "{share}");
        }
    }
    let figure = &of["figures"][0];
    assert!(figure["variance"].as_f64().expect("a variance") > 0.0 && figure["left_out"] == 0, "{figure}");
    for key in ["value", "low", "high", "confidence", "trials"] {
        assert!(figure["causes"][0]["in_all"][key].is_number(), "{key}");
    }
    // Both outputs say the same: three plans of a yield and five figures, and of failing a row for all causes at once and for those that
    // pay together.
    let csv = folder.read("budget.csv");
    let plans = json["calibrations"].as_array().expect("plans");
    let several = |of: &serde_json::Value| 1 + of["failures"]["together"].as_array().map_or(0, Vec::len);
    let several: usize = plans.iter().map(several).sum();
    assert_eq!(csv.lines().count(), 1 + 3 * 6 * causes.len() + several);
    let columns = csv.lines().next().expect("a header").split(',').count();
    assert!(csv.lines().all(|line| line.split(',').count() == columns), "{csv}");
    // One figure, one plan.
    let one = folder.done(&[
        "budget",
        "study.toml",
        "--figure",
        "null_depth",
        "--calibration",
        "fit",
        "--trials",
        "1024",
        "--quiet",
    ]);
    assert!(one.contains("null depth, beam ahead") && !one.contains("\nclimb"), "{one}");
}

#[test]
fn without_limits_the_budget_is_of_figures() {
    let from = SMALL.find("[[limit]]").expect("limits");
    let asks = ("trials = 130", "trials = 130\nfigures = [\"eirp_change\"]");
    let folder = Folder::with(edited(&SMALL[..from], &[asks]));
    let text = folder.done(&["budget", "study.toml", "--trials", "1024", "--calibration", "fit", "--quiet"]);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Mend driver.gain first: of the variance of EIRP change"), "{text}");
    assert!(!words.contains("yield"), "{text}");
}

#[test]
fn senseless_arguments_are_refused() {
    let folder = Folder::with(SMALL);
    let refused = |more: &[&str], expected: &[&str]| {
        let said = folder.refused(&[&["budget", "study.toml", "--trials", "1024", "--quiet"], more].concat());
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(expected.iter().all(|text| said.contains(text)), "{more:?}: {said}");
    };
    refused(&["--group", "cables"], &["NAME=ITEM"]);
    refused(&["--group", "cables="], &["the group `cables` is empty"]);
    refused(&["--group", "=jumper"], &["no name"]);
    refused(&["--group", "cables=jumper,"], &["empty item"]);
    refused(&["--group", "cables=jumpr"], &["called `jumpr`", "did you mean `jumper`?"]);
    refused(&["--group", "cables=jumper.velocity_factor"], &["nothing that varies"]);
    refused(
        &["--group", "a=jumper", "--group", "b=feed,jumper.length"],
        &["`jumper.length` would be in two groups"],
    );
    refused(&["--group", "feed.length=jumper"], &["two groups would be called `feed.length`"]);
    refused(&["--figure", "pointing_eror"], &["did you mean `pointing_error`?"]);
    refused(&["--json", "same", "--csv", "same"], &["both"]);
    refused(&["--calibration", "fitt"], &["did you mean `fit`?"]);
    let said = folder.refused(&["budget", "study.toml", "--quiet"]);
    assert!(
        said.contains("130 units are too few") && said.contains("1024") && !said.contains("lots"),
        "{said}"
    );
    let lots = [("trials = 130", "trials = 1024\nlot = 50"), ("scope = \"chip\"", "scope = \"lot\"")];
    let said = Folder::with(edited(SMALL, &lots)).refused(&["budget", "study.toml", "--quiet"]);
    assert!(said.contains("at least 3200, 64 lots"), "{said}");
    let folder = Folder::with(edited(SMALL, &[("null_at = \"40 deg\"\n", "")]));
    let said = folder.refused(&["budget", "study.toml", "--trials", "1024", "--figure", "null_depth"]);
    assert!(said.contains("`null_depth` exists at no beam"), "{said}");
    let still = "title = \"still\"\nseed = 5\ntrials = 4096\nfrequencies = [\"28 GHz\"]\nfigures = [\"pointing_error\"]\n\
        array = { layout = { kind = \"linear\", count = 16, spacing = \"0.5 wavelength\" } }\n\
        beam = [{ name = \"ahead\", theta = \"0 deg\" }]\ncalibration = [{ name = \"it\" }]\n\
        block = [{ name = \"amplifier\", kind = \"amplifier\", gain = \"0 dB\", phase = \"0 deg\" }, \
        { name = \"shifter\", kind = \"phase_shifter\", bits = 12 }]\n";
    let said = Folder::with(still).refused(&["budget", "study.toml"]);
    assert!(said.contains("nothing in the study varies"), "{said}");
}

#[test]
fn where_nothing_fails_nobody_is_blamed() {
    let easy = [("at_most = \"0.4 dB\"", "at_most = \"40 dB\""), ("\"0.1 beamwidth\"", "\"10 beamwidth\"")];
    let folder = Folder::with(edited(SMALL, &easy));
    let arguments =
        ["budget", "study.toml", "--trials", "1024", "--calibration", "fit", "--quiet", "--json", "o.json"];
    let text = folder.done(&arguments);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("Cannot tell what owns the failures: too few of the 2048 units of both samples fail."),
        "{text}"
    );
    assert!(
        words.contains("No cause is shown to gain any yield with 1024 units, nor are all of them at once."),
        "{text}"
    );
    assert!(!words.contains("NaN") && !words.contains("Mend "), "{text}");
    let json = folder.json("o.json");
    assert_eq!(nulls(&json), Vec::<String>::new());
    let failures = &json["calibrations"][0]["failures"];
    assert!(failures.get("variance").is_none() && failures.get("alone").is_none(), "{failures}");
    assert!(failures["causes"][0].get("in_all").is_none(), "{failures}");
}
