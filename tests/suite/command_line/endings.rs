//! Exit codes of runs that end, and of one that is stopped.

use crate::program::{Folder, SMALL, edited};

#[test]
fn a_required_yield_decides_between_0_and_1() {
    let folder = Folder::with(SMALL);
    let run = |study: &str, more: &[&str]| {
        folder.put("study.toml", study);
        let ended = folder.run(&[&["run", "study.toml", "--quiet", "--json", "run.json"], more].concat());
        (ended.code, ended.err)
    };
    // Every unit passes; with 130 of 130 the lower end of the 95 % interval is 0.025^(1/130) = 0.972.
    let (code, err) = run(SMALL, &["--require-yield", "0.97"]);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    let (code, err) = run(SMALL, &["--require-yield", "97.5 %"]);
    assert_eq!(code, Some(1), "{err}");
    assert!(
        err.contains("below the 0.975 required: \"fit\" (0.972") && err.contains("\"climb\" (0.972"),
        "{err}"
    );
    // A missed demand is a result: the document exists.
    assert_eq!(folder.json("run.json")["trials"], 130);

    // The demand does not apply to a plan that leaves units as built.
    let strict = edited(SMALL, &[("at_most = \"0.4 dB\"", "at_most = \"0.0001 dB\"")]);
    let (code, err) = run(&strict, &["--require-yield", "0.5", "--calibration", "fit"]);
    assert_eq!(code, Some(1), "{err}");
    let (code, err) = run(&strict, &["--require-yield", "0.5", "--calibration", "none"]);
    assert_eq!(code, Some(2), "{err}");
    assert!(err.contains("no plan calibrates"), "{err}");
    let (code, err) = run(&SMALL[..SMALL.find("[[limit]]").expect("limits")], &["--require-yield", "0.5"]);
    assert_eq!(code, Some(2), "{err}");
    assert!(err.contains("a study without limits") && err.contains("add a `[[limit]]`"), "{err}");
}

#[test]
fn a_run_until_the_yield_is_known_ends_by_itself() {
    let until = "trials = { yield_half_width = 0.05, at_most = 100000 }";
    let folder = Folder::with(edited(SMALL, &[("trials = 130", until)]));
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    let document = folder.json("run.json");
    assert!(document["trials"].as_u64().expect("a count") < 100_000 && document.get("partial").is_none());
    for plan in document["calibrations"].as_array().expect("plans") {
        let end = |key: &str| plan["yield"][key].as_f64().expect("an end");
        assert!(end("high") - end("low") <= 0.1);
    }
}

/// Stops a run that would take hours by the signal of Ctrl-C, once it is under way.
#[cfg(unix)]
#[test]
fn a_stopped_run_keeps_what_it_has() {
    let folder = Folder::with(SMALL);
    let arguments =
        ["run", "study.toml", "--trials", "1000000000", "--json", "run.json", "--csv", "units.csv"];
    let ended = folder.stopped(&arguments, |done| !done.is_empty());

    let document = folder.json("run.json");
    let trials = document["trials"].as_u64().expect("a count");
    assert_eq!(document["partial"], true);
    assert!(trials > 0);
    let message = format!("stopped after {trials} of 1000000000 trials");
    assert!(ended.err.contains(&message), "{message}\n{}", ended.err);
    assert!(ended.out.contains("artial") || ended.out.contains("topped"), "{}", ended.out);
    let csv = folder.read("units.csv");
    assert!(csv.ends_with('\n'));
    let cells = csv.lines().next().expect("a header").split(',').count();
    let rows: Vec<&str> = csv.lines().skip(1).collect();
    assert_eq!(rows.len() as u64, 3 * trials);
    assert!(rows.iter().all(|row| row.split(',').count() == cells));
    let mut names: Vec<String> =
        folder.names().iter().map(|path| path.file_name().expect("a name").display().to_string()).collect();
    names.sort();
    assert_eq!(names, ["run.json", "study.toml", "units.csv"]);
}
