//! The JSON Schema of the study file, held against studies by a general validator.

use crate::program::{Folder, SMALL, edited};
use jsonschema::Validator;
use serde_json::Value;
use std::path::{Path, PathBuf};

fn validator() -> Validator {
    let text = Folder::with("").done(&["schema"]);
    let schema: Value = serde_json::from_str(&text).expect("a document");
    assert!(jsonschema::meta::is_valid(&schema), "a schema of its dialect");
    jsonschema::draft202012::new(&schema).expect("a schema")
}

/// What the validator says of a study.
fn errors(validator: &Validator, study: &str) -> Vec<String> {
    let study: toml::Value = toml::from_str(study).expect("TOML");
    let study = serde_json::to_value(study).expect("JSON");
    validator.iter_errors(&study).map(|error| format!("{}: {error}", error.instance_path())).collect()
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
    let (root, validator) = (Path::new(env!("CARGO_MANIFEST_DIR")), validator());
    let all = [studies(&root.join("studies")), studies(&root.join("tests/data"))].concat();
    assert!(all.len() >= 16, "{all:?}");
    for path in all {
        let found = errors(&validator, &std::fs::read_to_string(&path).expect("a study"));
        assert!(found.is_empty(), "{}: {found:?}", path.display());
    }
}

/// What the program refuses for its form, the schema refuses as well.
#[test]
fn what_is_no_study_does_not_fit() {
    let validator = validator();
    assert!(errors(&validator, SMALL).is_empty());
    let kind = "kind = \"cable\"\n";
    for (from, to) in [
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
    ] {
        let study = edited(SMALL, &[(from, to)]);
        assert!(!errors(&validator, &study).is_empty(), "{from} -> {to}");
        Folder::with(study).refused(&["check", "study.toml"]);
    }
}

/// A value is written in many ways; all that the program reads fit.
#[test]
fn ways_to_write_a_value_fit() {
    let validator = validator();
    for theta in ["0 deg", " 0deg", "-0.0 rad", "\u{2212}0 mrad", "0e-3 \u{b0}", ".0 deg", "+0. deg"] {
        let study = edited(SMALL, &[("theta = \"0 deg\"", &format!("theta = \"{theta}\""))]);
        assert_eq!(errors(&validator, &study), [""; 0], "{theta}");
        Folder::with(study).done(&["check", "study.toml"]);
    }
}
