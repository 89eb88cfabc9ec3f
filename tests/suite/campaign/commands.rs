//! The command of a case, and the outputs that it must write.

use super::studies::{Origin, STUDY};
use proptest::prelude::*;
use proptest::sample::{Index, select, subsequence};

/// The weights of the commands: slow ones are rare.
pub fn command(number: u64) -> &'static str {
    const TURNS: [&str; 20] = [
        "check", "run", "unit", "sheet", "compare", "run", "sweep", "limit", "inspect", "cost", "check",
        "run", "unit", "sheet", "compare", "sweep", "limit", "inspect", "cost", "budget",
    ];
    TURNS[(number % TURNS.len() as u64) as usize]
}

/// Choices that a command line is made of; not every command has a use for each.
#[derive(Clone, Debug)]
pub struct Asked {
    outputs: Vec<&'static str>,
    to_stdout: Option<Index>,
    trials: &'static str,
    unit: &'static str,
    threads: Option<&'static str>,
    seed: Option<&'static str>,
    /// A calibration plan, and whether its name is unknown.
    model: Option<(Index, bool)>,
    sets: Vec<(Index, &'static str)>,
    address: Index,
    distribution: Index,
    numbers: &'static str,
    share: &'static str,
    flags: Vec<&'static str>,
    silly: Option<&'static str>,
}

/// Replacements of a value, `?`.
const BECOME: [&str; 9] = ["0", "1", "4", "-1", "1e9", "\"0.1 dB\"", "nan", "x", ""];

/// One of the sensible words, or now and then a silly one.
fn words(sensible: &[&'static str], silly: &[&'static str]) -> impl Strategy<Value = &'static str> + use<> {
    prop_oneof![12 => select(sensible.to_vec()), 1 => select(silly.to_vec())]
}

pub fn asked() -> impl Strategy<Value = Asked> {
    let outputs = subsequence(vec!["--json", "--csv", "--report", "--trials-out"], 0..=4);
    let trials = words(&["64", "64", "64", "16", "130"], &["1", "0", "-5", "1e3", "64.5"]);
    let unit = words(&["0", "63", "17"], &["18446744073709551615", "-1", "x"]);
    let threads = proptest::option::weighted(0.4, words(&["0", "1", "2", "3"], &["-1", "two", "100000"]));
    let seed = proptest::option::weighted(0.2, words(&["0", "7", "18446744073709551615"], &["-1", "0.5"]));
    let values = prop_oneof![3 => Just("?"), 1 => select(BECOME.to_vec())];
    let sets = proptest::collection::vec((any::<Index>(), values), 0..2);
    let numbers = words(&[""], &["4..2", "..", "?..?", "?", "?, ?", "0.5..2 in 3", "1e308", "a, b", "3..5"]);
    let share = words(&["0.9", "0.5", "0.1", "95 %"], &["0", "1", "1.5", "-1", "nan"]);
    let flags = vec![
        "--quiet",
        "--confidence",
        "--factor",
        "--cheapest",
        "--find-limit",
        "--gauge-sd",
        "--figure",
        "--group",
    ];
    let silly = vec![
        "--nonsense",
        "--set",
        "=",
        "--json",
        "another.toml",
        "--trials=",
        "\u{202e}",
        "--csv=/nowhere/x.csv",
    ];
    let model = (any::<Index>(), proptest::bool::weighted(0.05));
    (
        (outputs, proptest::option::weighted(0.1, any::<Index>()), trials, unit, threads, seed),
        (proptest::option::weighted(0.4, model), sets, any::<Index>(), any::<Index>(), numbers, share),
        (subsequence(flags, 0..=3), proptest::option::weighted(0.03, select(silly))),
    )
        .prop_map(|(a, b, c)| Asked {
            outputs: a.0,
            to_stdout: a.1,
            trials: a.2,
            unit: a.3,
            threads: a.4,
            seed: a.5,
            model: b.0,
            sets: b.1,
            address: b.2,
            distribution: b.3,
            numbers: b.4,
            share: b.5,
            flags: c.0,
            silly: c.1,
        })
}

/// A command line, and the outputs that it asks for.
pub struct Line {
    pub arguments: Vec<String>,
    /// Names of the files.
    pub outputs: Vec<String>,
    /// Format of standard output, if not a text: a name of that ending.
    pub stdout: Option<&'static str>,
}

impl Asked {
    /// The command line for a study.
    pub fn line(&self, command: &str, origin: &Origin) -> Line {
        let mut line =
            Line { arguments: vec![command.to_owned(), STUDY.to_owned()], outputs: Vec::new(), stdout: None };
        let mut put = |words: &[&str]| line.arguments.extend(words.iter().map(|word| (*word).to_owned()));
        let is_simulated = !["check", "unit", "sheet"].contains(&command);
        if command == "unit" {
            put(&[self.unit]);
        }
        for (at, by) in &self.sets {
            if let Some((address, value)) = of(&origin.values, at) {
                put(&["--set", &format!("{address}={}", by.replace('?', value.trim_matches('"')))]);
            }
        }
        // A budget of all plans is slow, an inspection takes one plan, and a comparison more than one.
        let usual = (self.distribution, false);
        let model = match command {
            "budget" | "inspect" => Some(self.model.as_ref().unwrap_or(&usual)),
            "compare" if self.share != "0.5" => None,
            _ => self.model.as_ref(),
        };
        if let Some((at, is_unknown)) = model.filter(|_| command != "check") {
            put(&[
                "--calibration",
                of(&origin.plans, at).filter(|_| !is_unknown).map_or("no such plan", |model| model),
            ]);
        }
        if is_simulated {
            // A budget takes no fewer units.
            put(&[
                "--trials",
                if command == "budget" && self.trials.parse().is_ok_and(|trials: u32| trials >= 16) {
                    "1024"
                } else {
                    self.trials
                },
            ]);
            self.threads.iter().for_each(|threads| put(&["--threads", threads]));
        }
        if let Some(seed) = self.seed.filter(|_| is_simulated || command == "unit") {
            put(&["--seed", seed]);
        }
        let amounts: Vec<&(String, String)> = origin
            .values
            .iter()
            .filter(|(_, value)| scaled(value.trim_matches('"'), 1.0).is_some())
            .collect();
        let (address, value) =
            of(&amounts, &self.address).map_or(("none", "1"), |(address, value)| (address, value));
        let value = value.trim_matches('"');
        let times = |factor| scaled(value, factor).unwrap_or_default();
        let numbers =
            |usual: String| if self.numbers.is_empty() { usual } else { self.numbers.replace('?', value) };
        match command {
            "sweep" => {
                put(&["--vary", &format!("{address}={}", numbers(format!("{value}, {}", times(2.0))))])
            }
            "limit" if self.share == "0.5" => put(&["--find", address, "--yield", self.share]),
            "limit" => {
                let range = numbers(format!("{}..{}", times(0.5), times(2.0)));
                put(&["--find", &format!("{address}={range}"), "--yield", self.share]);
            }
            "inspect" => {
                let (distribution, spread) = of(&origin.distributions, &self.distribution)
                    .map_or(("none", "1"), |(distribution, spread)| (distribution, spread));
                let spread = spread.trim_matches('"');
                put(&["--source", distribution]);
                match ["--find-limit", "--cheapest"].iter().any(|flag| self.flags.contains(flag)) {
                    true if self.numbers.is_empty() => {}
                    _ => put(&["--accept", &numbers(spread.to_owned())]),
                }
                if self.flags.contains(&"--gauge-sd") {
                    put(&["--gauge-sd", spread]);
                }
            }
            "run" if self.share != "0.9" => put(&["--require-yield", self.share]),
            "compare" => {
                if let Some(model) = of(&origin.plans, &self.address) {
                    put(&["--against", model]);
                }
                if self.share == "0.5" {
                    put(&["--with", STUDY]);
                }
            }
            _ => {}
        }
        for flag in &self.flags {
            match (*flag, command) {
                ("--quiet", _) if is_simulated => put(&["--quiet"]),
                ("--confidence", "limit") => put(&["--confidence", self.share]),
                ("--factor", "limit") => put(&["--factor", "0.5..2"]),
                ("--cheapest", "inspect") => put(&["--cheapest"]),
                ("--find-limit", "inspect") => put(&["--find-limit", "--yield", self.share]),
                ("--figure", "budget") => put(&["--figure", "array_gain_loss"]),
                ("--group", "budget") => put(&["--group", &format!("some={address}")]),
                _ => {}
            }
        }
        self.add_outputs(command, &mut line);
        if let Some(silly) = self.silly {
            line.arguments.push(silly.to_owned());
        }
        line
    }

    fn add_outputs(&self, command: &str, line: &mut Line) {
        let has: &[&'static str] = match command {
            "check" | "unit" => &["--json"],
            "sheet" => &["--csv"],
            "run" => &["--json", "--csv", "--report", "--trials-out"],
            _ => &["--json", "--csv", "--report"],
        };
        let outputs: Vec<&'static str> = self.outputs.iter().filter(|of| has.contains(of)).copied().collect();
        let stdout = self.to_stdout.as_ref().and_then(|at| of(&outputs, at));
        let stdout = stdout.filter(|of| ["--json", "--csv"].contains(of)).copied();
        for output in outputs {
            let name = match output {
                "--json" => "out.json",
                "--csv" => "out.csv",
                // It writes no page.
                "--report" if command == "inspect" => "out.txt",
                "--report" => "out.html",
                _ => "out.parquet",
            };
            let is_stdout = stdout == Some(output);
            line.arguments.extend([output.to_owned(), if is_stdout { "-" } else { name }.to_owned()]);
            if is_stdout {
                line.stdout = Some(name);
            } else {
                line.outputs.push(name.to_owned());
            }
        }
    }
}

fn of<'a, T>(list: &'a [T], at: &Index) -> Option<&'a T> {
    if list.is_empty() { None } else { Some(at.get(list)) }
}

/// An amount times a factor, its unit as it is; whole numbers stay whole. `None` for a text that is no amount.
fn scaled(amount: &str, factor: f64) -> Option<String> {
    let digits = amount.find(|c: char| !(c.is_ascii_digit() || ".-+".contains(c))).unwrap_or(amount.len());
    let (number, unit) = amount.split_at(digits);
    let is_whole = number.parse::<i64>().is_ok() && unit.is_empty();
    let number = number.parse::<f64>().ok()? * factor;
    Some(format!("{}{unit}", if is_whole { number.ceil() } else { number }))
}
