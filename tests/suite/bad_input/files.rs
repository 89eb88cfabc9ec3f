//! Files that are not there, are not text, or cannot be written, and words on the command line that are wrong.

use crate::program::{Folder, SMALL};

/// Quick to run, whatever else is asked.
const RUN: [&str; 5] = ["run", "study.toml", "--quiet", "--trials", "8"];

fn with<'a>(more: &[&'a str]) -> Vec<&'a str> {
    RUN.iter().copied().chain(more.iter().copied()).collect()
}

fn says(report: &str, words: &[&str]) {
    assert!(words.iter().all(|words| report.contains(words)), "{words:?}\n{report}");
}

#[test]
fn studies_that_are_no_text() {
    let folder = Folder::with(SMALL);
    for command in [&["check", "none.toml"][..], &["run", "none.toml"], &["unit", "none.toml", "0"]] {
        says(&folder.refused(command), &["the file does not exist", "none.toml", "check its path"]);
    }
    says(&folder.refused(&["run", "."]), &["this is a folder", "name a file in it"]);
    let mut broken = SMALL.as_bytes()[..80].to_vec();
    broken.extend([b'\n', b'\n', 0xff, 0xfe]);
    let lines = broken.iter().filter(|byte| **byte == b'\n').count() + 1;
    let report = Folder::with(broken).refused(&["run", "study.toml"]);
    says(&report, &["not UTF-8", &format!("line {lines}, byte 82"), "save the file in the encoding UTF-8"]);
}

#[test]
fn studies_that_are_noise() {
    // A linear congruential generator's upper bytes: noise, the same every time.
    let mut state = 1u64;
    let mut byte = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 56) as u8
    };
    let noise: Vec<u8> = (0..10_000).map(|_| byte()).collect();
    says(&Folder::with(&noise).refused(&["check", "study.toml"]), &["not UTF-8", "line 1"]);
    // The same as text.
    let text: Vec<u8> = noise.iter().map(|byte| byte % 95 + 32).collect();
    says(&Folder::with(text).refused(&["check", "study.toml"]), &["study.toml:1:", "error"]);
    says(
        &Folder::with("").refused(&["check", "study.toml"]),
        &["missing key `title`", "missing key `array`"],
    );
    for long in ["x".repeat(10_000), format!("title = \"{}\"", "x".repeat(10_000)), "[".repeat(10_000)] {
        let report = Folder::with(long).refused(&["check", "study.toml"]);
        assert!(report.len() < 5_000, "{} bytes", report.len());
    }
}

#[test]
fn a_name_that_no_plan_has() {
    let folder = Folder::with(SMALL);
    let report = folder.refused(&with(&["--calibration", "clime"]));
    says(&report, &["there is no calibration plan `clime`", "did you mean `climb`?"]);
    let report = folder.refused(&["unit", "study.toml", "0", "--calibration", "zzz"]);
    says(&report, &["there is no calibration plan `zzz`", "possible: none, fit, climb"]);
}

#[test]
fn numbers_on_the_command_line() {
    let folder = Folder::with(SMALL);
    for (arguments, words) in [
        (&["run", "study.toml", "--trials", "0"][..], ["'0' for '--trials", "at least one unit"]),
        (&["run", "study.toml", "--trials", "-5"], ["'-5' for '--trials", "a whole number from 1"]),
        (&["run", "study.toml", "--trials", "1.5"], ["'1.5' for '--trials", "a whole number from 1"]),
        (&["run", "study.toml", "--seed", "-1"], ["'-1' for '--seed", "a whole number from 0 to"]),
        (&["run", "study.toml", "--seed", "x"], ["'x' for '--seed", "a whole number from 0 to"]),
        (&["run", "study.toml", "--threads", "9999"], ["'9999' for '--threads", "0..=1024"]),
        (
            &["run", "study.toml", "--require-yield", "2"],
            ["'2' for '--require-yield", "a share between 0 and 1"],
        ),
        (
            &["run", "study.toml", "--require-yield", "nan"],
            ["'nan' for '--require-yield", "a share between 0 and 1"],
        ),
        (&["unit", "study.toml", "-1"], ["'-1' for '<N>'", "a whole number from 0"]),
        (&["unit", "study.toml", "two"], ["'two' for '<N>'", "a whole number from 0"]),
        (&["unit", "study.toml", "99999999999999999999"], ["for '<N>'", "a whole number from 0"]),
        (&["unit", "study.toml"], ["<N>", "not provided"]),
        (&["walk", "study.toml"], ["walk", "unrecognized subcommand"]),
        (&["run", "study.toml", "--jsn", "x"], ["--jsn", "--json"]),
    ] {
        says(&folder.refused(arguments), &words);
    }
}

#[test]
fn outputs_that_cannot_be() {
    let folder = Folder::with(SMALL);
    for output in ["--json", "--csv"] {
        says(
            &folder.refused(&with(&[output, "no/out"])),
            &["cannot write to no/out", "the folder no does not exist"],
        );
        says(&folder.refused(&with(&[output, "."])), &["cannot write to .", "it is a folder"]);
        for study in ["study.toml", "./study.toml", "../study.toml"] {
            let study = study.replace("..", &format!("../{}", folder.path().file_name().unwrap().display()));
            let report = folder.refused(&with(&[output, &study]));
            says(&report, &[&format!("cannot write to {study}"), "it is an input of this very run"]);
        }
    }
    says(
        &folder.refused(&["unit", "study.toml", "0", "--json", "study.toml"]),
        &["it is an input of this very run"],
    );
    for both in ["-", "out"] {
        says(
            &folder.refused(&with(&["--json", both, "--csv", both])),
            &["the JSON and the CSV would both go there"],
        );
    }
    assert_eq!(folder.read("study.toml"), SMALL);
}

#[cfg(unix)]
#[test]
fn outputs_that_reach_the_study_by_a_link_and_a_disk_that_is_full() {
    let folder = Folder::with(SMALL);
    std::os::unix::fs::symlink("study.toml", folder.path().join("link")).expect("a link");
    says(&folder.refused(&with(&["--csv", "link"])), &["it is an input of this very run"]);
    assert_eq!(folder.read("study.toml"), SMALL);
    if !std::path::Path::new("/dev/full").exists() {
        return;
    }
    let before = folder.names();
    for output in ["--json", "--csv"] {
        let ended = folder.run(&with(&[output, "/dev/full"]));
        assert_eq!(ended.code, Some(3), "{}", ended.err);
        says(&ended.err, &["error: cannot write /dev/full"]);
    }
    // A file beside one that cannot be written is complete.
    let ended = folder.run(&with(&["--csv", "units.csv", "--json", "/dev/full"]));
    assert_eq!(ended.code, Some(3), "{}", ended.err);
    let added: Vec<_> = folder.names().into_iter().filter(|name| !before.contains(name)).collect();
    assert!(added.iter().all(|name| name.ends_with("units.csv")), "{added:?}");
}
