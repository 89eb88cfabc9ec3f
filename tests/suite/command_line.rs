//! The interface for scripts and people: documents, tables, exit codes, streams.

mod documents;
mod endings;
mod generated;
mod printed;
mod streams;

use crate::program::Folder;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Names of a document's list, by one key.
fn texts<'a>(list: &'a Value, key: &str) -> Vec<&'a str> {
    let items = list.as_array().expect("a list");
    items.iter().map(|item| item[key].as_str().expect(key)).collect()
}

/// A folder with the studies that ship and the files that they name, and the studies' names.
fn studies() -> (Folder, Vec<String>) {
    let folder = Folder::with("");
    let ship = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies");
    let mut names = Vec::new();
    let mut below = vec![PathBuf::new()];
    while let Some(of) = below.pop() {
        std::fs::create_dir_all(folder.path().join(&of)).expect("a folder");
        for entry in std::fs::read_dir(ship.join(&of)).expect("the studies") {
            let entry = entry.expect("an entry");
            let name = of.join(entry.file_name());
            if entry.path().is_dir() {
                below.push(name);
                continue;
            }
            let name = name.display().to_string();
            folder.put(&name, std::fs::read(entry.path()).expect("a file"));
            names.extend(name.ends_with(".toml").then_some(name));
        }
    }
    assert!(names.len() >= 10, "{names:?}");
    (folder, names)
}

#[test]
fn help_of_every_command() {
    let folder = Folder::with("");
    for command in generated::commands(&folder) {
        let text = folder.done(&[&command, "--help"]);
        let reads_study = !["completions", "jobs", "man", "merge", "schema"].contains(&command.as_str());
        assert!(text.contains(&format!("Usage: beamyield {command}")), "{text}");
        assert_eq!(text.contains("The study file"), reads_study, "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }
    assert!(folder.done(&["--version"]).starts_with("beamyield "));
    // No command is an error that shows the usage.
    assert!(folder.refused(&[]).contains("Usage: beamyield"));
}

#[test]
fn studies_that_ship_are_right() {
    let (folder, studies) = studies();
    for study in &studies {
        let text = folder.done(&["check", study]);
        assert!(text.contains("Calibration plans"), "{text}");
        let text = folder.done(&["unit", study, "5"]);
        assert!(text.contains("Unit 5 of seed"), "{text}");
        let text = folder.done(&["run", study, "--trials", "64"]);
        assert!(text.contains("64 units built"), "{text}");
        let text = folder.done(&["sheet", study]);
        assert!(text.contains("Bench sheet: "), "{text}");
    }
}

#[test]
fn text_for_people_is_narrow_and_plain() {
    let (folder, studies) = studies();
    for study in &studies {
        let commands: [&[&str]; 6] = [
            &["check", study],
            &["run", study, "--trials", "16"],
            &["sheet", study],
            &["unit", study, "2"],
            &["compare", study, "--trials", "64", "--quiet"],
            &["sweep", study, "--trials", "64", "--quiet", "--vary", "confidence=0.9,0.99"],
        ];
        for command in commands {
            let ended = folder.run(command);
            assert_eq!(ended.code, Some(0), "{}", ended.err);
            // Neither output is a terminal here.
            assert!(!ended.out.contains('\u{1b}') && !ended.err.contains('\u{1b}'), "{command:?}");
            let wide = ended.out.lines().find(|line| line.chars().count() > 80);
            assert_eq!(wide, None, "{command:?}");
        }
    }
}
