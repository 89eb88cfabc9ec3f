//! The stream of each output, and readers that go away.

use crate::program::{Folder, SMALL, ended};
use serde_json::Value;
use std::io::{BufRead, BufReader};
use std::process::Stdio;

#[test]
fn a_quiet_run_says_nothing_beside_its_results() {
    let folder = Folder::with(SMALL);
    let ended = folder.run(&["run", "study.toml", "--quiet"]);
    assert_eq!((ended.code, ended.err.as_str()), (Some(0), ""));
    assert!(ended.out.contains("130 units built from seed 3"), "{}", ended.out);
}

#[test]
fn warnings_are_counted_on_standard_error() {
    let (folder, _) = super::studies();
    // Peak and climb hide steps of the shifter, and the study knows it.
    let line = "line-64.toml";
    let ended = folder.run(&["run", line, "--trials", "8"]);
    assert_eq!(ended.code, Some(0));
    assert!(ended.err.contains("2 warnings; `beamyield check"), "{}", ended.err);
    let check = folder.run(&["check", line]);
    assert!(
        check.err.contains("warning: ") && check.err.ends_with(&format!("2 warnings in {line}\n")),
        "{}",
        check.err
    );
    assert_eq!(folder.run(&["run", line, "--trials", "8", "--quiet"]).err, "");
    // So are those of a unit.
    assert!(folder.run(&["unit", line, "3"]).err.contains("2 warnings; `beamyield check"));
    assert_eq!(folder.run(&["unit", line, "3", "--quiet"]).err, "");
}

#[test]
fn standard_output_takes_one_document_and_nothing_else() {
    let folder = Folder::with(SMALL);
    let json: Value =
        serde_json::from_str(&folder.done(&["run", "study.toml", "--json", "-"])).expect("JSON alone");
    assert_eq!(json["trials"], 130);
    let csv = folder.done(&["run", "study.toml", "--csv", "-"]);
    assert!(csv.starts_with("trial,calibration,passed,") && csv.lines().count() == 1 + 3 * 130);
    let unit: Value =
        serde_json::from_str(&folder.done(&["unit", "study.toml", "7", "--json", "-"])).expect("JSON alone");
    assert_eq!(unit["trial"], 7);
    assert_eq!(folder.names().len(), 1, "nothing is written beside");
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let folder = Folder::with(SMALL);
    for arguments in [
        &["unit", "study.toml", "3", "--json", "-"][..],
        &["check", "study.toml"],
        &["run", "study.toml", "--quiet"],
    ] {
        let mut command = folder.command(arguments);
        let mut child =
            command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("the program starts");
        let mut first = String::new();
        let mut reader = BufReader::with_capacity(64, child.stdout.take().expect("its output"));
        reader.read_line(&mut first).expect("a line");
        assert!(!first.is_empty());
        drop(reader);
        let ended = ended(child.wait_with_output().expect("its end"));
        assert_eq!((ended.code, ended.err.as_str()), (Some(0), ""), "{arguments:?}");
    }
}
