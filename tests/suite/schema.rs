//! The JSON Schema of the study file, held against studies by a validator of another language.

use crate::program::{Folder, SMALL, edited};
use crate::tools::python;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Prints what the validator says of each study, a list for each.
const VALIDATE: &str = r#"
import json, sys
from jsonschema import Draft202012Validator as Dialect

schema = json.load(open("schema.json"))
Dialect.check_schema(schema)
studies = json.load(open("studies.json"))
errors = [[f"{error.json_path}: {error.message}" for error in Dialect(schema).iter_errors(study)] for study in studies]
json.dump(errors, sys.stdout)
"#;

fn validator() -> Option<Command> {
    python("jsonschema", "jsonschema==4.26.*")
}

/// What the validator says of each study; `None` where there is no validator.
fn errors(studies: &[String]) -> Option<Vec<Vec<String>>> {
    let mut python = validator()?;
    let folder = Folder::with("");
    folder.put("schema.json", folder.done(&["schema"]));
    let values =
        studies.iter().map(|study| toml::from_str(study).expect("TOML")).collect::<Vec<toml::Value>>();
    folder.put("studies.json", serde_json::to_string(&values).expect("JSON"));
    let ended = python.args(["-c", VALIDATE]).current_dir(folder.path()).output().expect("python starts");
    assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
    let errors: Vec<Vec<String>> = serde_json::from_slice(&ended.stdout).expect("a document");
    assert_eq!(errors.len(), studies.len());
    Some(errors)
}

fn studies(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").path());
    let found = entries.flat_map(|path| match path.extension() {
        _ if path.is_dir() => studies(&path),
        Some(ending) if ending == "toml" => vec![path],
        _ => Vec::new(),
    });
    found.collect()
}

#[test]
fn every_study_fits_the_schema() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let paths = [studies(&root.join("studies")), studies(&root.join("tests/data"))].concat();
    assert!(paths.len() >= 16, "{paths:?}");
    let texts: Vec<String> =
        paths.iter().map(|path| std::fs::read_to_string(path).expect("a study")).collect();
    for (path, found) in paths.iter().zip(errors(&texts).unwrap_or_default()) {
        assert!(found.is_empty(), "{}: {found:?}", path.display());
    }
}

/// Holds the first example of every key against what the schema says of that key, and prints how many there are and the errors.
const VALIDATE_EXAMPLES: &str = r#"
import json, sys
from jsonschema import Draft202012Validator as Dialect

schema = json.load(open("schema.json"))
count, errors = 0, []

def walk(value):
    global count
    if isinstance(value, dict):
        if "examples" in value:
            example = value["examples"][0]
            count += 1
            found = Dialect({**value, "$defs": schema["$defs"]}).iter_errors(example)
            errors.extend(f"{example}: {error.message}" for error in found)
        for of in value.values():
            walk(of)
    elif isinstance(value, list):
        for of in value:
            walk(of)

walk(schema["properties"])
json.dump([count, errors], sys.stdout)
"#;

/// The example of every key is a value that the key takes.
#[test]
fn every_example_fits() {
    let Some(mut python) = validator() else { return };
    let folder = Folder::with("");
    folder.put("schema.json", folder.done(&["schema"]));
    let ended =
        python.args(["-c", VALIDATE_EXAMPLES]).current_dir(folder.path()).output().expect("python starts");
    assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
    let (examples, errors): (usize, Vec<String>) = serde_json::from_slice(&ended.stdout).expect("a document");
    assert_eq!(errors, [""; 0]);
    assert!(examples > 150, "{examples}");
}

/// What the program refuses for its form, the schema refuses as well.
#[test]
fn what_is_no_study_does_not_fit() {
    let kind = "kind = \"cable\"\n";
    let edits = [
        ("seed = ", "seeds = "),
        ("theta = \"0 deg\"", "theta = 0"),
        ("theta = \"0 deg\"", "theta = \"0 mm\""),
        ("[[beam]]", "[[beams]]"),
        (kind, "kind = \"rope\"\n"),
        (kind, ""),
        ("sd = \"", "half_width = \""),
        ("normal = {", "gaussian = {"),
        ("bits = 5", "bits = 13"),
        ("bits = 5", "bits = 4.5"),
        ("method = \"fit\"", "method = \"guess\""),
        ("at_most = ", "most = "),
    ];
    let studies = edits.map(|edit| edited(SMALL, &[edit]));
    for study in &studies {
        Folder::with(study).refused(&["check", "study.toml"]);
    }
    for (edit, found) in edits.iter().zip(errors(&studies).unwrap_or_default()) {
        assert!(!found.is_empty(), "{edit:?}");
    }
}

/// A value is written in many ways; all that the program reads fit.
#[test]
fn ways_to_write_a_value_fit() {
    let written = ["0 deg", " 0deg", "-0.0 rad", "\u{2212}0 mrad", "0e-3 \u{b0}", ".0 deg", "+0. deg"];
    let studies =
        written.map(|theta| edited(SMALL, &[("theta = \"0 deg\"", &format!("theta = \"{theta}\""))]));
    for study in &studies {
        Folder::with(study).done(&["check", "study.toml"]);
    }
    for (theta, found) in written.iter().zip(errors(&studies).unwrap_or_default()) {
        assert_eq!(found, [""; 0], "{theta}");
    }
}
