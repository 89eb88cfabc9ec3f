//! Every kind that a list registers has documentation with the fixed headings, and a study that uses it.

use beamyield::array::{Layout, Taper};
use beamyield::bench::{Method, OVER_THE_AIR, Pairing};
use beamyield::chain::Block;
use beamyield::figure::Figure;
use beamyield::random::{Distribution, Scope};
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}

fn read(path: PathBuf) -> String {
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The studies that ship, and those that hold every feature for the tests.
fn studies() -> String {
    ["studies", "tests/data"].iter().map(|folder| studies_in(&root().join(folder))).collect()
}

fn studies_in(folder: &Path) -> String {
    let entries = fs::read_dir(folder).expect("a folder of studies");
    let texts = entries.map(|entry| entry.expect("an entry").path()).map(|path| match path.extension() {
        _ if path.is_dir() => studies_in(&path),
        Some(ending) if ending == "toml" => read(path),
        _ => String::new(),
    });
    texts.collect()
}

fn check(folder: &str, kinds: &[&str], is_used: impl Fn(&str, &str) -> bool, headings: &[&str]) {
    let studies = studies();
    for kind in kinds {
        let text = read(root().join(format!("src/{folder}/{kind}.rs")));
        assert!(text.starts_with("//! "), "{kind}.rs opens with what it is");
        for heading in headings {
            assert!(text.contains(heading), "{kind}.rs states its `{heading}`");
        }
        assert!(is_used(&studies, kind), "a study uses `{kind}`");
    }
}

#[test]
fn blocks() {
    let is_used = |studies: &str, kind: &str| studies.contains(&format!("kind = \"{kind}\""));
    check("chain", Block::KINDS, is_used, &["Formula:", "Source:", "dB"]);
}

#[test]
fn layouts_and_tapers() {
    let is_used = |studies: &str, kind: &str| studies.contains(&format!("kind = \"{kind}\""));
    check("array/layout", Layout::KINDS, is_used, &["pub struct"]);
    check("array/taper", Taper::KINDS, is_used, &["pub struct"]);
}

#[test]
fn methods() {
    let kinds: Vec<&str> = Method::KINDS.iter().map(|(kind, _)| *kind).collect();
    let is_used = |studies: &str, kind: &str| studies.contains(&format!("method = \"{kind}\""));
    check("bench/method", &kinds, is_used, &["Ties", "Noise:", "Source:"]);
}

#[test]
fn ways_over_the_air_and_pairings() {
    let is_used = |studies: &str, kind: &str| studies.contains(&format!("method = \"{kind}\""));
    let headings = ["Ties", "Noise:", "Plateaus:", "Source:"];
    check("bench/align", &OVER_THE_AIR, is_used, &headings);
    let studies = studies();
    for (pairing, _) in Pairing::KINDS {
        assert!(studies.contains(&format!("pairing = \"{pairing}\"")), "a study uses `{pairing}`");
    }
}

#[test]
fn figures() {
    let kinds: Vec<&str> = Figure::ALL.iter().map(|figure| figure.name()).collect();
    // A study that names no figures reports them all.
    let is_used = |studies: &str, kind: &str| studies.contains(kind) || studies.contains("null_at");
    check("figure", &kinds, is_used, &["Unit: "]);
    for figure in Figure::ALL {
        assert_eq!(Figure::from_name(figure.name()), Some(*figure));
    }
}

#[test]
fn shapes_and_scopes() {
    let kinds: Vec<&str> = Distribution::keys().collect();
    let is_used = |studies: &str, kind: &str| studies.contains(&format!("{kind} = {{"));
    check("random/distribution", &kinds, is_used, &["Source:"]);
    let studies = studies();
    for (scope, _) in Scope::KINDS.iter().filter(|(word, _)| *word != "channel") {
        assert!(studies.contains(&format!("scope = \"{scope}\"")), "a study uses scope `{scope}`");
    }
}

/// No source file has grown past one idea.
#[test]
fn files_stay_short() {
    let mut folders = vec![root().join("src")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let lines = read(path.clone()).lines().count();
                assert!(lines <= 450, "{} has {lines} lines", path.display());
            }
        }
    }
}
