//! What scripts and people rely on: documents, tables, exit codes, streams.

mod documents;
mod endings;
mod streams;

use crate::program::Folder;
use serde_json::Value;

/// Names of a document's list, by one key.
fn texts<'a>(list: &'a Value, key: &str) -> Vec<&'a str> {
    let items = list.as_array().expect("a list");
    items.iter().map(|item| item[key].as_str().expect(key)).collect()
}

/// A folder in which the studies that ship are to be found by name.
fn studies() -> (Folder, [String; 3]) {
    let of = |name| format!("{}/studies/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    (Folder::with(""), ["quay-link-16", "tile-8x8", "line-64"].map(of))
}

#[test]
fn help_of_every_command() {
    let folder = Folder::with("");
    let all = folder.done(&["--help"]);
    for command in ["check", "run", "unit"] {
        assert!(all.contains(&format!("\n  {command} ")), "{all}");
        let text = folder.done(&[command, "--help"]);
        assert!(
            text.contains(&format!("Usage: beamyield {command}")) && text.contains("The study file"),
            "{text}"
        );
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }
    assert!(folder.done(&["--version"]).starts_with("beamyield "));
    // Nothing asked is an error that shows what can be asked.
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
    }
}

#[test]
fn text_for_people_is_narrow_and_plain() {
    let (folder, studies) = studies();
    for path in &studies {
        // By a short name: a command to be copied is shown on one line, however long the path in it.
        let study = "study.toml";
        folder.put(study, std::fs::read(path).expect("a study"));
        let commands: [&[&str]; 3] =
            [&["check", study], &["run", study, "--trials", "16"], &["unit", study, "2"]];
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
