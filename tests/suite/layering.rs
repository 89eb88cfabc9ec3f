//! The data flow one way: a file imports only from folders of lower rank, or from its own.

use std::fs;
use std::path::{Path, PathBuf};

const RANKS: &[(&str, u32)] = &[
    ("error", 0),
    ("io", 0),
    ("math", 0),
    ("random", 1),
    ("stats", 1),
    ("array", 2),
    ("inspection", 2),
    ("chain", 3),
    ("bench", 4),
    ("figure", 4),
    ("study", 5),
    ("model", 6),
    ("design", 7),
    ("engine", 7),
    ("decide", 8),
    ("library", 9),
    ("report", 9),
    ("cli", 10),
];

fn rank(folder: &str) -> Option<u32> {
    RANKS.iter().find(|(name, _)| *name == folder).map(|(_, rank)| *rank)
}

/// The sources in a folder and below it.
pub(crate) fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder of the sources") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            into.push(path);
        }
    }
}

/// Folders that a text imports by `crate::`, its unit tests left out: they may import upward.
fn imports(text: &str) -> Vec<String> {
    let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
    let mut found = Vec::new();
    for line in code.lines().filter(|line| !line.trim_start().starts_with("//")) {
        for rest in line.split("crate::").skip(1) {
            let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            found.push(name);
        }
    }
    found
}

/// Imports that go up, or across to a folder of the same rank.
fn upward(folder: &str, text: &str) -> Vec<String> {
    let own = rank(folder).unwrap_or_else(|| panic!("folder `{folder}` has no rank: give it one"));
    let goes_up = |of: &String| of != folder && rank(of).is_none_or(|rank| rank >= own);
    // The lowest rank knows nothing of the other folders; it may use the error type.
    imports(text).into_iter().filter(goes_up).filter(|of| !(own == 0 && of == "error")).collect()
}

#[test]
fn imports_point_down() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    assert!(files.len() > 50, "the sources are found");
    let mut wrong = Vec::new();
    for file in &files {
        let inside = file.strip_prefix(&root).expect("inside src");
        let folder =
            inside.components().next().expect("a first part").as_os_str().to_string_lossy().into_owned();
        let folder = folder.trim_end_matches(".rs").to_string();
        let is_test = inside.components().any(|part| part.as_os_str().to_string_lossy().contains("tests"));
        if matches!(folder.as_str(), "main" | "lib") || is_test {
            continue;
        }
        for of in upward(&folder, &fs::read_to_string(file).expect("a source")) {
            wrong.push(format!("{} imports `{of}`", inside.display()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Negative control: the check sees an upward import, one to a folder without rank, and one across.
#[test]
fn the_check_can_fail() {
    assert_eq!(upward("chain", "use crate::model::Model;"), ["model"]);
    assert_eq!(upward("chain", "use crate::nowhere::Thing;"), ["nowhere"]);
    assert_eq!(upward("bench", "fn f() { crate::figure::take() }"), ["figure"]);
    assert_eq!(upward("random", "use crate::inspection::conformity;"), ["inspection"]);
    assert!(upward("chain", "use crate::math::slice;\n// crate::model is above").is_empty());
}
