//! Values that a study cannot have: sweeps and searches leave them out, say so with the reason, and go on with the others. A
//! value that is written wrongly ends the command before it begins.

use crate::program::{Folder, SMALL, edited, nulls};
use serde_json::Value;

/// A fit through 8 codes takes 3 bits at least, so that 2 bits are refused.
const REASON: &str = "`codes` is 8, but must be from 3 to 4";

fn values(points: &Value, parameter: &str) -> Vec<String> {
    let points = points.as_array().expect("a list");
    points.iter().map(|of| of["values"][parameter].as_str().expect("a value").to_owned()).collect()
}

#[test]
fn a_sweep_goes_on_without_refused_values() {
    let folder = Folder::with(SMALL);
    let sweep = |bits: &str, name: &str| {
        let vary = format!("shifter.bits={bits}");
        let json = format!("{name}.json");
        let text = folder.done(&["sweep", "study.toml", "--quiet", "--vary", &vary, "--json", &json]);
        (text, folder.json(&json))
    };
    let (text, with) = sweep("2..5", "with");
    let (sound, without) = sweep("3..5", "without");
    assert_eq!(values(&with["refused"], "shifter.bits"), ["2"]);
    assert_eq!(with["refused"][0]["reason"], REASON);
    assert_eq!(nulls(&with), Vec::<String>::new());
    // The other points are those of a sweep without it, bit for bit.
    for key in ["points", "steps", "knees"] {
        assert_eq!(with[key], without[key], "{key}");
    }
    assert!(without.get("refused").is_none() && !sound.contains("efused"), "{sound}");
    let words: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains(&format!("Refused: shifter.bits 2: {REASON}.")), "{text}");
    assert!(words.contains("2 refused - -"), "{text}");
    assert!(words.contains("The study refuses 1 of 4 points, which are left out."), "{text}");
    let csv = folder.done(&["sweep", "study.toml", "--quiet", "--vary", "shifter.bits=2,3", "--csv", "-"]);
    assert!(csv.lines().skip(1).all(|row| row.starts_with("3,")), "{csv}");
    let pages = ["sweep", "study.toml", "--quiet", "--vary", "shifter.bits=2,3", "--report", "page.html"];
    folder.done(&pages);
    assert!(folder.read("page.html").contains("Refused values"));
}

/// Whether codes fit through bits decides each of nine pairs: 8 and 16 codes do not fit through 4 states, 16 not through 8.
#[test]
fn of_two_parameters_the_pairs_that_fit_remain() {
    let folder = Folder::with(SMALL);
    let vary = ["--vary", "shifter.bits=2,3,4", "--vary", "fit.align.codes=4,8,16"];
    let sweep = ["sweep", "study.toml", "--quiet", "--json", "sweep.json", "--calibration", "fit"];
    let text = folder.done(&[&sweep, &vary[..]].concat());
    let document = folder.json("sweep.json");
    let pairs = |key: &str| -> Vec<(String, String)> {
        let of = &document[key];
        values(of, "shifter.bits").into_iter().zip(values(of, "fit.align.codes")).collect()
    };
    let own = |all: &[(&str, &str)]| -> Vec<(String, String)> {
        all.iter().map(|(bits, codes)| ((*bits).to_owned(), (*codes).to_owned())).collect()
    };
    assert_eq!(pairs("refused"), own(&[("2", "8"), ("2", "16"), ("3", "16")]));
    assert_eq!(
        pairs("points"),
        own(&[("2", "4"), ("3", "4"), ("3", "8"), ("4", "4"), ("4", "8"), ("4", "16")])
    );
    // Steps lead from a pair that is there to one that is there: two and one upward, one and two along.
    assert_eq!(document["steps"].as_array().map(Vec::len), Some(3 + 3));
    let rows: Vec<&str> = text.lines().filter(|line| line.contains(" refused")).collect();
    assert!(rows.iter().any(|row| row.matches("refused").count() == 2), "{text}");
    for (point, (bits, codes)) in document["points"].as_array().expect("points").iter().zip(pairs("points")) {
        let [bits, codes] = [format!("shifter.bits={bits}"), format!("fit.align.codes={codes}")];
        let run =
            ["run", "study.toml", "--quiet", "--calibration", "fit", "--json", "run.json", "--set", &codes];
        let run = [&run[..], &["--set", &bits]].concat();
        // One change after the other: the study with both is sound.
        folder.done(&run);
        assert_eq!(point["calibrations"], folder.json("run.json")["calibrations"]);
    }
}

#[test]
fn where_all_are_refused_all_errors_are_shown() {
    let folder = Folder::with(SMALL);
    let message = folder.refused(&["sweep", "study.toml", "--vary", "shifter.bits=1,2", "--json", "a.json"]);
    for said in [REASON, "as changed by shifter.bits=1", "as changed by shifter.bits=2"] {
        assert!(message.contains(said), "{said}\n{message}");
    }
    let message = folder.refused(&["sweep", "study.toml", "--vary", "shifter.bits=0,13"]);
    assert!(message.contains("`bits` is 0") && message.contains("`bits` is 13"), "{message}");
    let many = folder.refused(&["sweep", "study.toml", "--vary", "shifter.bits=13..40"]);
    assert!(many.contains("and 20 more values"), "{many}");
}

#[test]
fn a_syntax_error_is_no_value_to_leave_out() {
    let folder = Folder::with(SMALL);
    for (vary, said) in [
        ("shifter.bits=4,4.5", "must be a whole number"),
        ("shifter.bits=4,four", "a text where a whole number is expected"),
        ("shifter.bitz=4,5", "did you mean `bits`?"),
        ("shifter.colour=4,5", "unknown key `colour`"),
        ("feed.length.sd=0.1 mm,0.2 deg", "is expected"),
        ("feed.length.sd=0.1 mm,0.2", "is expected"),
        ("fit.align.method=fit,fitt", "unknown"),
    ] {
        let message = folder.refused(&["sweep", "study.toml", "--vary", vary]);
        assert!(message.contains(said), "{vary}: {message}");
    }
    // The method is understood, and the study has a key that it does not take: that value is refused, the other is not.
    let methods =
        ["sweep", "study.toml", "--quiet", "--vary", "fit.align.method=fit,peak", "--json", "a.json"];
    folder.done(&methods);
    let document = folder.json("a.json");
    assert_eq!(values(&document["refused"], "fit.align.method"), ["peak"]);
    assert!(document["refused"][0]["reason"].as_str().is_some_and(|of| of.contains("unknown key `codes`")));
}

/// A search for bits, as JSON and as text.
fn search(folder: &Folder, find: &str, share: &str) -> (Option<i32>, Value, String) {
    let find = ["--find", find, "--yield", share, "--calibration", "fit", "--trials", "400"];
    let ended =
        folder.run(&[&["limit", "study.toml", "--quiet", "--json", "limit.json"], &find[..]].concat());
    let words: String = ended.out.split_whitespace().collect::<Vec<_>>().join(" ");
    (ended.code, folder.json("limit.json"), words)
}

#[test]
fn a_search_counts_no_refused_value() {
    let folder = Folder::with(SMALL);
    let (code, with, text) = search(&folder, "shifter.bits=1..8", "0.5");
    let (other, without, sound) = search(&folder, "shifter.bits=3..8", "0.5");
    assert_eq!(code, other);
    for key in ["values", "answer", "range", "limit", "loosest_that_meets", "tightest_that_misses"] {
        assert_eq!(with[key], without[key], "{key}");
    }
    assert_eq!(with["range"], serde_json::json!([3.0, 8.0]));
    assert_eq!(with["refused"][0]["value"], 1.0);
    assert!(without.get("refused").is_none() && !sound.contains("efuse"), "{sound}");
    assert!(text.contains("The study refuses 1: counted neither as meeting it nor as missing it."), "{text}");
    // From above as well; a shifter has 12 bits at most.
    let (_, above, text) = search(&folder, "shifter.bits=4..99", "0.5");
    assert_eq!((&above["range"][1], &above["refused"][0]["value"]), (&12.0.into(), &99.0.into()));
    assert!(text.contains("Refused: 99: `bits` is 99, but must be from 1 to 12."), "{text}");
    // A size that is negative is understood, and no spread: what is left begins at next to nothing.
    let (_, size, _) = search(&folder, "jumper.length.half_width=-1 mm..2 mm", "0.5");
    assert_eq!(size["refused"][0]["value"], -1.0);
    let from = size["range"][0].as_f64().expect("a number");
    assert!((0.0..0.01).contains(&from), "{from}");
}

#[test]
fn a_search_says_when_no_value_remains_beside_one() {
    let folder = Folder::with(SMALL);
    let (code, one, text) = search(&folder, "shifter.bits=1..3", "0.01");
    assert_eq!((code, &one["answer"]), (Some(0), &"all_meet".into()), "{text}");
    assert!(text.contains("the study accepts only 3"), "{text}");
    assert_eq!(one["values"].as_array().map(Vec::len), Some(1));
    // 3 bits lose 0.24 dB on the mean, so that no unit keeps to 0.05 dB.
    let strict = Folder::with(edited(SMALL, &[("at_most = \"0.4 dB\"", "at_most = \"0.05 dB\"")]));
    let (code, none, text) = search(&strict, "shifter.bits=1..3", "0.5");
    assert_eq!((code, &none["answer"]), (Some(1), &"none_meets".into()), "{text}");
    assert!(text.contains("the study accepts only 3, which misses it"), "{text}");
    let find = ["--find", "shifter.bits=1..2", "--yield", "0.5", "--calibration", "fit"];
    let message = folder.refused(&[&["limit", "study.toml", "--quiet"], &find[..]].concat());
    assert!(message.contains(REASON), "{message}");
}

/// A guard band to the outside of the acceptance, 0.3 mm wide, leaves no tolerance where less than that is accepted.
#[test]
fn an_inspection_is_sought_where_the_study_can_have_it() {
    let inspection =
        "inspection = { guard = \"-0.3 mm\", accept = \"0.5 mm\", gauge = { sd = \"0.02 mm\" } }";
    let distribution = "triangular = { half_width = \"0.2 mm\" }";
    let wide = format!("normal = {{ sd = \"0.4 mm\" }}, {inspection}");
    let study = edited(SMALL, &[(&format!("\"60 mm\", {distribution}"), &format!("\"60 mm\", {wide}"))]);
    let folder = Folder::with(study);
    let find = ["--find-limit", "--yield", "0.02", "--calibration", "fit", "--trials", "300"];
    let inspect = ["inspect", "study.toml", "--source", "jumper.length", "--quiet", "--json", "a.json"];
    let ended = folder.run(&[&inspect[..], &find[..]].concat());
    assert!(matches!(ended.code, Some(0 | 1)), "{}", ended.err);
    let setting = &folder.json("a.json")["settings"][0];
    let refused = setting["refused"].as_array().expect("what is refused");
    assert!(refused.iter().all(|of| of["value"].as_f64().is_some_and(|size| size <= 0.3)), "{refused:?}");
    let tried = setting["tried"].as_array().expect("what was tried");
    assert!(!tried.is_empty() && tried.iter().all(|of| of["value"].as_f64().is_some_and(|size| size > 0.3)));
    let words: String = ended.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("the guard band leaves no tolerance."), "{}", ended.out);
}
