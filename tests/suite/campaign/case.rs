//! One case: a changed study, a command, and the faults of the result.

use super::changes::{Change, PRICES, change, changes};
use super::commands::{Asked, Line, asked, command};
use super::judge::{faults_of, faults_of_document, faults_of_file};
use super::launch::{Ended, launch};
use super::studies::Origin;
use proptest::prelude::*;
use proptest::sample::Index;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::path::Path;

/// The random choices of a case; its number selects the command.
#[derive(Clone, Debug)]
struct Drawn {
    origin: Index,
    study: Vec<Change>,
    companion: Option<(Index, Change)>,
    is_companion_gone: bool,
    asked: Asked,
}

fn drawn() -> impl Strategy<Value = Drawn> {
    let companion = proptest::option::weighted(0.3, (any::<Index>(), change()));
    let parts = (any::<Index>(), changes(), companion, proptest::bool::weighted(0.02), asked());
    parts.prop_map(|(origin, study, companion, is_companion_gone, asked)| Drawn {
        origin,
        study,
        companion,
        is_companion_gone,
        asked,
    })
}

/// A case as it is put before the program.
pub struct Case {
    pub command: &'static str,
    pub line: Line,
    pub files: Vec<(String, Vec<u8>)>,
}

impl Case {
    /// Case `number` of a seed: the same each time.
    pub fn new(origins: &[Origin], seed: u64, number: u64) -> Case {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        key[8..16].copy_from_slice(&number.to_le_bytes());
        let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &key);
        let mut runner = TestRunner::new_with_rng(Config::default(), rng);
        let drawn = drawn().new_tree(&mut runner).expect("nothing is rejected").current();
        let command = command(number);
        // Small studies are chosen more often, and exclusively for commands that build many units.
        let weight = |origin: &Origin| match origin.load {
            0..=30 => 6,
            _ if command == "budget" => 0,
            31..=60 => 6,
            61..=120 => 2,
            _ => 1,
        };
        let mut place = drawn.origin.index(origins.iter().map(weight).sum());
        let chosen = origins.iter().take_while(|origin| {
            let is_past = place >= weight(origin);
            place -= if is_past { weight(origin) } else { 0 };
            is_past
        });
        let origin = &origins[chosen.count()];
        let mut files = origin.files.clone();
        // Costs need studies with prices.
        let has_prices = files[0].1.windows(6).any(|bytes| bytes == b"[cost]");
        let prices = (command == "cost" && !has_prices).then_some(&Change::Add { behind: "", text: PRICES });
        for change in prices.into_iter().chain(&drawn.study) {
            files[0].1 = change.made(&files[0].1);
        }
        if files.len() > 1
            && let Some((at, change)) = &drawn.companion
        {
            let number = 1 + at.index(files.len() - 1);
            files[number].1 = change.made(&files[number].1);
            if drawn.is_companion_gone {
                files.remove(number);
            }
        }
        Case { command, line: drawn.asked.line(command, origin), files }
    }

    /// All text that the program is given.
    fn asked(&self) -> String {
        let files = self.files.iter().map(|(_, bytes)| String::from_utf8_lossy(bytes).into_owned());
        files.chain(self.line.arguments.iter().cloned()).collect::<Vec<_>>().join("\n")
    }

    /// Puts the files into a folder.
    #[allow(clippy::disallowed_methods, reason = "inputs of a test")]
    pub fn put(&self, folder: &Path) {
        for (name, bytes) in &self.files {
            let path = folder.join(name);
            std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
            std::fs::write(path, bytes).expect("a file");
        }
    }

    /// Launches the program in a folder with the case; returns its end and all faults.
    pub fn launch(&self, folder: &Path, said: &Path) -> (Ended, Vec<String>) {
        let ended = launch(folder, said, &self.line.arguments);
        let asked = self.asked();
        let mut faults = faults_of(&ended, &asked);
        let mut outputs = Vec::new();
        for name in names(folder) {
            if self.line.outputs.contains(&name) {
                outputs.push(name);
            } else if let Some((_, bytes)) = self.files.iter().find(|(file, _)| *file == name) {
                if std::fs::read(folder.join(&name)).ok().as_ref() != Some(bytes) {
                    faults.push(format!("{name}, which it was given, is not as it was"));
                }
            } else {
                faults.push(format!("{name} is left behind"));
            }
        }
        for name in &outputs {
            faults.extend(faults_of_file(&folder.join(name), &asked));
        }
        match ended.code {
            Some(2) if !outputs.is_empty() => faults.push(format!("bad input, and yet there is {outputs:?}")),
            Some(2) if !ended.out.is_empty() => {
                faults.push("bad input, and yet there is standard output".into())
            }
            Some(0 | 1) => {
                let lacking = self.line.outputs.iter().filter(|name| !outputs.contains(name));
                faults.extend(lacking.map(|name| format!("{name} is not there")));
                faults.extend(
                    self.line.stdout.iter().flat_map(|name| faults_of_document(name, &ended.out, &asked)),
                );
            }
            _ => {}
        }
        (ended, faults)
    }

    /// The case in words, to reproduce it.
    pub fn words(&self) -> String {
        let quoted =
            self.line.arguments.iter().map(|argument| format!("'{}'", argument.replace('\'', "'\\''")));
        format!("beamyield {}", quoted.collect::<Vec<_>>().join(" "))
    }
}

/// Names of all files in a folder and below it.
pub fn names(folder: &Path) -> Vec<String> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder).expect("the folder") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        if path.is_dir() {
            names.extend(self::names(&path).into_iter().map(|below| format!("{name}/{below}")));
        } else {
            names.push(name);
        }
    }
    names.sort();
    names
}
