//! Every kind that a list registers has documentation with the fixed headings, and a study that uses it; and it is one file and one
//! line.

mod places;

use beamyield::array::{Layout, Taper};
use beamyield::bench::{Method, OverTheAir, Pairing};
use beamyield::chain::Block;
use beamyield::figure::Figure;
use beamyield::random::{Distribution, Scope};
use places::{Kind, Registry, sources};
use std::collections::{BTreeMap, BTreeSet};
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
    check("array/layout", Layout::KINDS, is_used, &["pub(crate) struct"]);
    check("array/taper", Taper::KINDS, is_used, &["pub(crate) struct"]);
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
    check("bench/align", OverTheAir::KINDS, is_used, &headings);
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

const fn registry(
    list: &'static str,
    kinds: &'static str,
    file: &'static str,
    folder: &'static str,
) -> Registry {
    Registry { list, file, folder, kinds, is_of_studies: true }
}

const REGISTRIES: [Registry; 10] = [
    registry("blocks", "Block", "chain/mod.rs", "chain"),
    registry("layouts", "Layout", "array/layout/mod.rs", "array/layout"),
    registry("tapers", "Taper", "array/taper/mod.rs", "array/taper"),
    registry("distributions", "Distribution", "random/distribution/mod.rs", "random/distribution"),
    registry("methods", "Method", "bench/method/mod.rs", "bench/method"),
    registry("pairings", "Pairing", "bench/align/pairing/mod.rs", "bench/align/pairing"),
    registry("alignments", "OverTheAir", "bench/align.rs", "bench/align"),
    registry("figures", "Figure", "figure/mod.rs", "figure"),
    Registry { is_of_studies: false, ..registry("commands", "Commands", "cli/mod.rs", "cli") },
    Registry {
        is_of_studies: false,
        ..registry("schedulers", "Scheduler", "report/jobs/mod.rs", "report/jobs")
    },
];

/// A file that names kinds of a list for good: the list, the file, the kinds, and why.
type Role = (&'static str, &'static str, &'static str, &'static str);

const ROLES: &[Role] = &[
    (
        "blocks",
        "chain/lineup.rs",
        "amplifier phase_shifter attenuator",
        "the blocks that a chain has a part for",
    ),
    ("blocks", "chain/compression.rs", "amplifier", "only amplifiers compress"),
    ("blocks", "engine/pair.rs", "phase_shifter", "the block that a pair's sweep steps"),
    ("blocks", "engine/pair/shifters.rs", "phase_shifter", "the block that a pair's sweep steps"),
    ("blocks", "engine/simulated_bench/standing.rs", "phase_shifter", "the block that a pair's sweep steps"),
    ("blocks", "engine/steer.rs", "phase_shifter", "the block that steers"),
    ("blocks", "engine/channels.rs", "attenuator", "the block that levels"),
    ("blocks", "engine/propagate.rs", "attenuator", "the block that levels"),
    ("blocks", "array/taper/mod.rs", "divider", "a word of `set_by`"),
    ("blocks", "bench/characterise.rs", "attenuator", "a key of `characterise`"),
    ("blocks", "chain/mod.rs", "amplifier phase_shifter attenuator", "the roles that blocks answer for"),
    ("blocks", "chain/mod.rs", "cable", "the example of a key"),
    ("blocks", "study/keys.rs", "attenuator", "the example of a key"),
    ("blocks", "chain/attenuator.rs", "phase_shifter", "both have at most as many bits"),
    ("blocks", "chain/vector_sum.rs", "phase_shifter", "a part of a phase shifter"),
    ("layouts", "array/layout/mod.rs", "linear", "the example of a key"),
    ("tapers", "array/taper/mod.rs", "taylor", "the example of a key"),
    ("tapers", "array/taper/mod.rs", "uniform", "the taper where none is stated"),
    ("methods", "bench/align.rs", "fit", "the example of a key"),
    ("pairings", "bench/align.rs", "star", "the example of a key"),
    ("figures", "study/limit.rs", "pointing_error", "the example of a key"),
    ("distributions", "random/mod.rs", "normal uniform sampled screened", "those that other folders make"),
    ("distributions", "random/distribution/mod.rs", "normal", "the sum of two normal ones is normal"),
    ("distributions", "random/distribution/mod.rs", "bernoulli", "an event with a probability"),
    ("distributions", "random/distribution/log_normal.rs", "normal", "what is normal in dB"),
    ("distributions", "random/distribution/truncated_normal.rs", "normal", "the distribution before the cut"),
    ("distributions", "random/distribution/plus_or_minus.rs", "normal", "the example of a key"),
    ("distributions", "random/distribution/uniform.rs", "normal", "`math::normal`, of the error of a gauge"),
    ("distributions", "random/distribution/arcsine.rs", "uniform", "the same half width"),
    ("distributions", "random/distribution/triangular.rs", "uniform", "the same half width"),
    ("distributions", "chain/connector.rs", "uniform", "a phase that is not stated is any"),
    ("distributions", "inspection/inspected.rs", "normal", "lots without a spread of parts"),
    (
        "distributions",
        "inspection/inspected.rs",
        "screened sampled",
        "what an inspection makes of parts and of lots",
    ),
    ("distributions", "inspection/conformity.rs", "sampled", "what an inspection makes of lots"),
    ("distributions", "inspection/moments.rs", "sampled", "what an inspection makes of lots"),
    ("distributions", "random/inspected.rs", "sampled", "what an inspection makes of lots"),
    ("layouts", "report/page/axis.rs", "linear", "the scale of an axis"),
    (
        "commands",
        "cli/jobs.rs",
        "run sweep merge",
        "commands that can be split, and the one that reports shards",
    ),
    ("commands", "cli/run.rs", "merge", "the command that reports the shards of a run"),
    ("commands", "cli/sweep.rs", "merge", "the command that reports the shards of a sweep"),
    ("tapers", "array/layout/positions.rs", "csv", "the key of a file"),
    ("tapers", "cli/jobs.rs", "csv", "the option of an output"),
    ("tapers", "chain/state_table/read.rs", "csv", "the key of a file"),
    ("tapers", "random/distribution/empirical.rs", "csv", "the key of a file"),
];

/// A kind is a file and a line in its list: no other file names it, but those listed above.
#[test]
fn a_kind_is_one_file_and_one_line() {
    let roles = ROLES.iter().map(|(list, file, kinds, _)| (*list, *file, *kinds));
    let mut allowed: BTreeSet<(&str, String, String)> = BTreeSet::new();
    for (list, file, kinds) in roles {
        allowed.extend(kinds.split(' ').map(|kind| (list, kind.to_owned(), file.to_owned())));
    }
    let sources = sources();
    let all: Vec<(Registry, Kind)> =
        REGISTRIES.iter().flat_map(|of| of.list().into_iter().map(move |kind| (*of, kind))).collect();
    let mut names: BTreeMap<&str, usize> = BTreeMap::new();
    for name in all.iter().flat_map(|(_, kind)| [&kind.module, &kind.named]) {
        *names.entry(name).or_default() += 1;
    }
    let mut found = BTreeSet::new();
    for (of, kind) in &all {
        let is_shared = names[kind.module.as_str()] > 1 || names[kind.named.as_str()] > 1;
        let places = of.places(kind, is_shared, &sources);
        found.extend(places.into_iter().map(|file| (of.list, kind.module.clone(), file)));
    }
    let too_many: Vec<_> = found.difference(&allowed).collect();
    assert!(too_many.is_empty(), "say this beside the kind: {too_many:#?}");
    let gone: Vec<_> = allowed.difference(&found).collect();
    assert!(gone.is_empty(), "take these out of the lists above: {gone:#?}");
}
