//! `compare`: the results of a plan are those of a run, and differences agree with the verdicts unit by unit.

mod cautions;

use crate::program::{Folder, SMALL, edited, nulls};
use serde_json::Value;

/// The small study with a limit that some units of each plan miss.
fn strict() -> String {
    edited(SMALL, &[("at_most = \"0.4 dB\"", "at_most = \"0.05 dB\"")])
}

/// Columns of a CSV by name, the first one left out.
fn columns(text: &str) -> Vec<(String, Vec<String>)> {
    let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
    let column = |number: usize| rows[1..].iter().map(|row| row[number].to_owned()).collect();
    (1..rows[0].len()).map(|number| (rows[0][number].to_owned(), column(number))).collect()
}

fn list(of: &Value) -> &Vec<Value> {
    of.as_array().expect("a list")
}

fn float(of: &Value) -> f64 {
    of.as_f64().expect("a number")
}

#[test]
fn a_plan_has_the_results_of_its_own_run() {
    let folder = Folder::with(strict());
    let text = folder.done(&["compare", "study.toml", "--quiet"]);
    folder.done(&[
        "compare",
        "study.toml",
        "--quiet",
        "--json",
        "c.json",
        "--csv",
        "c.csv",
        "--threads",
        "1",
    ]);
    folder.done(&["run", "study.toml", "--quiet", "--json", "r.json", "--csv", "r.csv"]);
    let (document, run) = (folder.json("c.json"), folder.json("r.json"));
    assert_eq!(nulls(&document), Vec::<String>::new());
    for key in ["format", "study", "study_hash", "seed", "trials"] {
        assert_eq!(document[key], run[key], "{key}");
    }
    // Every number of a plan, to the last digit.
    for (model, of) in list(&document["plans"]).iter().zip(list(&run["calibrations"])) {
        for (key, value) in of.as_object().expect("a plan") {
            assert_eq!(&model[key], value, "{key}");
        }
        assert_eq!(model["plan"], model["name"]);
    }
    // Every verdict.
    let verdicts = columns(&folder.read("c.csv"));
    let rows: Vec<String> = folder.read("r.csv").lines().skip(1).map(str::to_owned).collect();
    assert_eq!((verdicts.len(), rows.len()), (3, 3 * 130));
    for (number, (name, units)) in verdicts.iter().enumerate() {
        for (unit, verdict) in units.iter().enumerate() {
            let word = if verdict == "1" { "true" } else { "false" };
            assert!(rows[3 * unit + number].starts_with(&format!("{unit},{name},{word},")), "{name}, {unit}");
        }
    }
    // Saved and lost units by number, from the verdicts.
    let base = document["against"].as_str().expect("a name");
    let of = |name: &str| &verdicts.iter().find(|(of, _)| of == name).expect(name).1;
    assert_eq!(list(&document["differences"]).len(), 2);
    for difference in list(&document["differences"]) {
        let name = difference["plan"].as_str().expect("a name");
        let only = |one: &str, other: &str| -> Vec<usize> {
            (0..130).filter(|unit| of(one)[*unit] == "1" && of(other)[*unit] == "0").collect()
        };
        let units = |key: &str| -> Vec<usize> {
            let units = difference.get(key).map_or(&[][..], |units| list(units));
            units.iter().map(|unit| unit.as_u64().expect("a unit") as usize).collect()
        };
        assert_eq!((units("saved_units"), units("lost_units")), (only(name, base), only(base, name)));
        let yields = &difference["yield"];
        assert_eq!(yields["saved"].as_u64(), Some(only(name, base).len() as u64));
        let expected = (only(name, base).len() as f64 - only(base, name).len() as f64) / 130.0;
        assert!((float(&yields["difference"]["value"]) - expected).abs() < 1e-15);
    }
    // The text: narrow, the verdict at its end and the same as in the JSON.
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let verdict = document["verdict"].as_str().expect("a verdict");
    assert!(
        verdict.starts_with("Verdict on the same 130 units of seed 3, each interval at 95 % confidence: \"")
    );
    assert!(words(&text).ends_with(verdict), "{text}\n{verdict}");
}

#[test]
fn threads_change_nothing() {
    let folder = Folder::with(strict());
    let compared = |threads: &str| {
        let files = ["--json", "c.json", "--csv", "c.csv"];
        folder.done(&[&["compare", "study.toml", "--quiet", "--threads", threads], &files[..]].concat());
        let mut document = folder.json("c.json");
        document["seconds"] = Value::from(0);
        (document, folder.read("c.csv"))
    };
    assert_eq!(compared("1"), compared("3"));
}

#[test]
fn a_design_against_itself_does_not_differ_by_one_unit() {
    let folder = Folder::with(strict());
    folder.put("copy.toml", strict());
    let arguments = ["compare", "study.toml", "--with", "copy.toml", "--calibration", "fit", "--quiet"];
    let text = folder.done(&arguments);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("every unit has the same verdict after both"), "{text}");
    folder.done(&[&arguments[..], &["--json", "c.json"]].concat());
    let document = folder.json("c.json");
    let difference = &document["differences"][0];
    assert_eq!((&document["against"], &difference["plan"]), (&Value::from("fit"), &Value::from("copy: fit")));
    let yields = &difference["yield"];
    assert_eq!((yields["saved"].as_u64(), yields["lost"].as_u64()), (Some(0), Some(0)));
    assert_eq!(float(&yields["difference"]["value"]), 0.0);
    // z^2/(n + z^2) with n = 130 (stats::paired).
    assert!((float(&yields["difference"]["high"]) - 3.8415 / 133.8415).abs() < 1e-5);
    assert!(yields.get("units_to_tell").is_none() && yields["told_apart"] == false);
    assert!(!list(&difference["means"]).is_empty());
    for mean in list(&difference["means"]) {
        for key in ["value", "low", "high"] {
            assert_eq!(float(&mean["difference"][key]), 0.0);
        }
        assert!(mean.get("narrowed_by").is_none());
    }
}

/// Another file with a value changed is the study with the value set, unit for unit; its own seed and trials do not count.
#[test]
fn another_design_is_built_of_the_same_units() {
    let folder = Folder::with(strict());
    let other = edited(
        &strict(),
        &[
            ("half_width = \"0.2 mm\"", "half_width = \"0.1 mm\""),
            ("seed = 3", "seed = 4"),
            ("= 130", "= 70"),
        ],
    );
    folder.put("tighter cables.toml", &other);
    let files = ["--quiet", "--json", "c.json", "--csv", "c.csv"];
    let mut compare = vec!["compare", "study.toml", "--with", "tighter cables.toml"];
    compare.extend(files);
    folder.done(&compare);
    let (document, together) = (folder.json("c.json"), columns(&folder.read("c.csv")));
    let text = folder.done(&compare[..4]);
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let set = ["compare", "study.toml", "--set", "jumper.length.triangular.half_width=0.1 mm"];
    folder.done(&[&set[..], &files[..]].concat());
    let (changed, alone) = (folder.json("c.json"), columns(&folder.read("c.csv")));
    folder.done(&[&["compare", "study.toml"], &files[..]].concat());
    let unchanged = columns(&folder.read("c.csv"));
    let names: Vec<&str> = together.iter().map(|(name, _)| name.as_str()).collect();
    let others = ["tighter cables: none", "tighter cables: fit", "tighter cables: climb"];
    assert_eq!(names, [&["none", "fit", "climb"], &others[..]].concat());
    for number in 0..3 {
        assert_eq!(together[number], unchanged[number]);
        assert_eq!(together[3 + number].1, alone[number].1);
        let (model, of) = (&document["plans"][3 + number], &changed["plans"][number]);
        assert_eq!(model["design"], 1);
        for key in ["yield", "limits", "figures"] {
            assert_eq!(model[key], of[key], "{key}");
        }
    }
    // The change is seen at all.
    assert_ne!(together[1].1, together[4].1);
}

#[test]
fn plans_of_files_with_one_name_get_distinct_names() {
    let folder = Folder::with(strict());
    for sub in ["a", "b"] {
        std::fs::create_dir(folder.path().join(sub)).expect("a folder");
    }
    folder.put("a/x.toml", strict());
    folder.put("b/x.toml", strict());
    let with = ["--with", "a/x.toml", "--with", "b/x.toml", "--calibration", "fit"];
    folder.done(
        &[&["compare", "study.toml", "--quiet", "--json", "c.json", "--against", "x: fit"], &with[..]]
            .concat(),
    );
    let document = folder.json("c.json");
    let names: Vec<&Value> = list(&document["plans"]).iter().map(|model| &model["plan"]).collect();
    assert_eq!(names, ["fit", "x: fit", "x 2: fit"]);
    let files: Vec<&Value> = list(&document["designs"]).iter().map(|of| &of["file"]).collect();
    assert_eq!(files, ["study.toml", "a/x.toml", "b/x.toml"]);
    let others: Vec<&Value> = list(&document["differences"]).iter().map(|of| &of["plan"]).collect();
    assert_eq!((&document["against"], others), (&Value::from("x: fit"), vec![names[0], names[2]]));
}

#[test]
fn without_limits_means_are_compared_unit_by_unit() {
    let study = &SMALL[..SMALL.find("[[limit]]").expect("limits")];
    let folder = Folder::with(study);
    let text = folder.done(&["compare", "study.toml", "--quiet"]);
    assert!(text.contains("Yield: none") && text.contains("without limits there is no yield"), "{text}");
    folder.done(&["compare", "study.toml", "--quiet", "--json", "c.json"]);
    folder.done(&["run", "study.toml", "--quiet", "--csv", "r.csv"]);
    let document = folder.json("c.json");
    assert_eq!(nulls(&document), Vec::<String>::new());
    assert_eq!(document["against"], "none");
    assert!(list(&document["steps"]).is_empty());
    let rows: Vec<Vec<String>> =
        folder.read("r.csv").lines().map(|line| line.split(',').map(str::to_owned).collect()).collect();
    let fit = &document["differences"][0];
    assert!(fit["plan"] == "fit" && fit.get("yield").is_none() && fit.get("saved_units").is_none());
    let means = list(&fit["means"]);
    // Every figure at two beams and two frequencies, and every column of the run.
    assert_eq!(means.len(), rows[0].len() - 8);
    for mean in means {
        let ghz = float(&mean["frequency_hz"]) / 1e9;
        let [figure, unit, beam] = ["figure", "unit", "beam"].map(|key| mean[key].as_str().expect("a word"));
        let heading = format!("{figure}[{unit}]@{beam}@{ghz}GHz");
        let column = rows[0].iter().position(|of| *of == heading).expect("a column of that name");
        let value = |row: usize| rows[row][column].parse::<f64>().expect("a number");
        // Rows of none, fit and climb in turn.
        let differences: Vec<f64> = (0..130).map(|unit| value(3 * unit + 2) - value(3 * unit + 1)).collect();
        let average = differences.iter().sum::<f64>() / 130.0;
        let square: f64 = differences.iter().map(|of| (of - average) * (of - average)).sum();
        // Student's t of 129 degrees of freedom within 95 %: 1.9785 (tables: 1.980 at 120, 1.976 at 150).
        let half = 1.9785 * (square / 129.0 / 130.0).sqrt();
        let found = &mean["difference"];
        assert!((float(&found["value"]) - average).abs() < 1e-9 + 1e-9 * average.abs(), "{heading}");
        assert!((float(&found["high"]) - average - half).abs() < 1e-3 * half, "{heading}: {half}");
    }
}

/// Designs of other lengths, limits and frequencies are compared in what they have in common.
#[test]
fn unlike_designs_are_compared_where_they_meet() {
    let folder = Folder::with(strict());
    let other = edited(
        &strict(),
        &[
            ("count = 8", "count = 10"),
            ("\"9.8 GHz\", \"10 GHz\"", "\"10 GHz\", \"10.3 GHz\""),
            (
                "figure = \"pointing_error\"\nat_most = \"0.1 beamwidth\"",
                "figure = \"peak_side_lobe\"\nat_most = \"-14 dB\"",
            ),
        ],
    );
    folder.put("longer.toml", other);
    folder.done(&["compare", "study.toml", "--with", "longer.toml", "--quiet", "--json", "c.json"]);
    let document = folder.json("c.json");
    assert_eq!(nulls(&document), Vec::<String>::new());
    let points = |difference: &Value| -> Vec<String> {
        let point = |mean: &Value| format!("{} {} {}", mean["figure"], mean["beam"], mean["frequency_hz"]);
        list(&difference["means"]).iter().map(point).collect()
    };
    let is_other =
        |difference: &&Value| difference["plan"].as_str().is_some_and(|name| name.starts_with("longer"));
    let base_is_first = !document["against"].as_str().expect("a name").starts_with("longer");
    for difference in list(&document["differences"]) {
        let points = points(difference);
        let crosses = is_other(&difference) == base_is_first;
        // Limited: the loss at two beams and two frequencies, the pointing of the one and the side lobe of the other at one operating point.
        // Across designs only 10 GHz is left, at which both compute all figures.
        assert_eq!(points.len(), if crosses { 4 } else { 6 }, "{points:?}");
        assert!(!crosses || points.iter().all(|point| point.ends_with(" 10000000000.0")), "{points:?}");
        assert!(difference["yield"]["difference"]["value"].is_number());
    }
}

#[test]
fn steps_of_bench_time_report_what_they_buy() {
    let text = include_str!("../../studies/bench-minutes.toml").replace("trials = 4000", "trials = 1500");
    let folder = Folder::with(text);
    let said = folder.done(&["compare", "study.toml", "--quiet"]);
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("from quick to arms exchanged: 19 min more buy nothing that 1500 units show:"),
        "{said}"
    );
    assert!(words.contains("from quick to thorough: 23.9 min more buy "), "{said}");
    assert!(words.contains("\"arms exchanged\" takes 19 min more than \"quick\" and buys nothing"), "{said}");
    folder.done(&["compare", "study.toml", "--quiet", "--json", "c.json", "--against", "quick"]);
    let document = folder.json("c.json");
    let steps: Vec<(&Value, &Value, bool)> = list(&document["steps"])
        .iter()
        .map(|step| (&step["from"], &step["to"], step["buys"].as_bool().expect("yes or no")))
        .collect();
    let expected = [
        ("none", "level only", true),
        ("level only", "climb", true),
        ("climb", "quick", true),
        ("quick", "arms exchanged", false),
        ("quick", "thorough", true),
    ];
    for ((from, to, buys), (first, second, pays)) in steps.iter().zip(expected) {
        assert_eq!((from.as_str(), to.as_str(), *buys), (Some(first), Some(second), pays));
    }
    assert_eq!(steps.len(), expected.len());
    let verdict = document["verdict"].as_str().expect("a verdict");
    assert!(
        verdict.contains("\"thorough\" has the highest yield") && verdict.contains("It beats \"quick\" by"),
        "{verdict}"
    );
    // A difference that is not significant names the units that it would take, more than there are.
    let exchanged = &list(&document["differences"])[3];
    assert_eq!(exchanged["plan"], "arms exchanged");
    let units = &exchanged["yield"]["units_to_tell"];
    assert!(exchanged["yield"]["told_apart"] == false && units.as_u64().is_none_or(|units| units > 1500));
}

#[test]
fn designs_that_cannot_be_compared_are_refused() {
    let folder = Folder::with(strict());
    folder.put("other.toml", edited(&strict(), &[("name = \"fit\"", "name = \"thorough\"")]));
    folder.put("broken.toml", edited(&strict(), &[("bits = 5", "bits = \"five\"")]));
    folder.put("unlimited.toml", &SMALL[..SMALL.find("[[limit]]").expect("limits")]);
    let place = {
        let text = folder.read("broken.toml");
        text.lines().position(|line| line == "bits = \"five\"").expect("the line") + 1
    };
    let broken = format!("--> broken.toml:{place}:");
    let cases: &[(&[&str], &[&str])] = &[
        (&["study.toml", "--against", "fitt"], &["no plan `fitt` to compare against", "`fit`", "study.toml"]),
        (
            &["study.toml", "--with", "other.toml", "--against", "thorough"],
            &["`thorough`", "other: thorough"],
        ),
        (&["study.toml", "--with", "missing.toml"], &["missing.toml", "the file does not exist"]),
        (&["study.toml", "--with", "broken.toml"], &[&broken, "bits"]),
        (&["study.toml", "--calibration", "fit"], &["one calibration plan alone", "--with OTHER.toml"]),
        (
            &["study.toml", "--with", "other.toml", "--calibration", "fit"],
            &["other.toml", "there is no calibration plan `fit`"],
        ),
        (&["unlimited.toml", "--csv", "c.csv"], &["without limits no unit passes", "leave `--csv` out"]),
        (
            &["study.toml", "--with", "other.toml", "--csv", "other.toml"],
            &["cannot write to other.toml", "input of this very run"],
        ),
        (&["study.toml", "--json", "x", "--csv", "x"], &["cannot write to x", "would both go there"]),
        (&["study.toml", "--with"], &["--with"]),
        (&["study.toml", "--trials", "0"], &["at least one unit"]),
    ];
    for (arguments, says) in cases {
        let report = folder.refused(&[&["compare"], *arguments].concat());
        for words in *says {
            assert!(report.contains(words), "{arguments:?} does not say {words:?}:\n{report}");
        }
    }
}

/// One unit has a verdict and no spread.
#[test]
fn one_unit_is_compared_as_far_as_it_goes() {
    let folder = Folder::with(strict());
    let text = folder.done(&["compare", "study.toml", "--trials", "1", "--quiet"]);
    assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
    folder.done(&["compare", "study.toml", "--trials", "1", "--quiet", "--json", "c.json"]);
    let document = folder.json("c.json");
    assert_eq!(nulls(&document), Vec::<String>::new());
    assert!(list(&document["differences"][0]["means"]).is_empty());
}

/// Stops a comparison that would take hours by the signal of Ctrl-C, once it is under way.
#[cfg(unix)]
#[test]
fn a_stopped_comparison_keeps_what_it_has() {
    let folder = Folder::with(strict());
    let arguments = ["compare", "study.toml", "--trials", "1000000000", "--json", "c.json", "--csv", "c.csv"];
    let ended = folder.stopped(&arguments, |done| !done.is_empty());
    let document = folder.json("c.json");
    let trials = document["trials"].as_u64().expect("a count");
    assert!(document["partial"] == true && trials > 0);
    assert!(ended.err.contains(&format!("stopped after {trials} of 1000000000 trials")), "{}", ended.err);
    assert!(ended.out.starts_with(&format!("PARTIAL: stopped after {trials} of")), "{}", ended.out);
    assert_eq!(folder.read("c.csv").lines().count() as u64, trials + 1);
    let yields = &document["differences"][0]["yield"];
    let count = ["both_pass", "saved", "lost", "both_fail"].map(|key| yields[key].as_u64().expect("a count"));
    assert_eq!(count.iter().sum::<u64>(), trials);
}
