//! Studies that ship, with characters changed at random: reading never faults, and what is accepted compiles.

use beamyield::io::{SourceText, render};
use beamyield::{model, study};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

const STUDIES: [&str; 3] = [
    include_str!("../../studies/quay-link-16.toml"),
    include_str!("../data/everything.toml"),
    include_str!("../data/small.toml"),
];

/// Characters that mean something to TOML or to a quantity, and a few that do not.
const CHARACTERS: &[char] = &[
    '0', '9', '-', '.', 'e', '"', '\'', '[', ']', '{', '}', '=', ',', '#', '\n', ' ', '_', 'a', 'z', 'µ',
    '\u{0}', '\\',
];

#[derive(Clone, Debug)]
enum Change {
    Put(char),
    Insert(char),
    Delete,
    /// A digit becomes another one where it stands, so that the text is most likely still a study.
    Digit(u8),
}

fn change() -> impl Strategy<Value = Change> {
    let character = || proptest::sample::select(CHARACTERS);
    prop_oneof![
        1 => character().prop_map(Change::Put),
        1 => character().prop_map(Change::Insert),
        1 => Just(Change::Delete),
        6 => (b'0'..=b'9').prop_map(Change::Digit),
    ]
}

fn mutated(study: &str, changes: &[(usize, Change)]) -> String {
    let mut text: Vec<char> = study.chars().collect();
    for (at, change) in changes {
        let at = at % text.len();
        match change {
            Change::Put(character) => text[at] = *character,
            Change::Insert(character) => text.insert(at, *character),
            Change::Delete => {
                text.remove(at);
            }
            Change::Digit(digit) => {
                if let Some(found) = (at..text.len()).find(|at| text[*at].is_ascii_digit()) {
                    text[found] = char::from(*digit);
                }
            }
        }
    }
    text.into_iter().collect()
}

/// Reads a text; if it is a study, compiles it and counts it.
fn read(text: &str) -> bool {
    let source = SourceText { name: "study.toml".into(), text: text.into() };
    match study::parse(&source) {
        Ok(study) => {
            let model = model::compile(&study, text);
            assert_eq!(model.points.len(), study.beams.len() * study.frequencies.len());
            true
        }
        Err(findings) => {
            assert!(!findings.is_empty());
            assert!(render(&source, &findings, false).contains("error"));
            false
        }
    }
}

/// 256 cases from a fixed seed, and no file of past failures.
fn config() -> Config {
    Config { cases: 256, failure_persistence: None, rng_seed: RngSeed::Fixed(2026), ..Config::default() }
}

#[test]
fn changed_characters_never_fault() {
    let accepted = std::cell::Cell::new(0);
    let mut runner = proptest::test_runner::TestRunner::new(config());
    let changes = proptest::collection::vec((any::<usize>(), change()), 1..4);
    runner
        .run(&(0..STUDIES.len(), changes), |(study, changes)| {
            let is_study = read(&mutated(STUDIES[study], &changes));
            accepted.set(accepted.get() + u32::from(is_study));
            Ok(())
        })
        .unwrap_or_else(|failed| panic!("{failed}"));
    // Both ways are taken often, or the test tests nothing.
    assert!((30..226).contains(&accepted.get()), "{} of 256 accepted", accepted.get());
}

#[test]
fn a_text_cut_anywhere_never_faults() {
    let study = STUDIES[2];
    let cuts = (0..study.len()).step_by(7).filter(|at| study.is_char_boundary(*at));
    let read: Vec<bool> = cuts.map(|at| read(&study[..at])).collect();
    assert!(read.contains(&true) && read.contains(&false));
}
