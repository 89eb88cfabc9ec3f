//! Arguments that several commands share.

use crate::cli::console::say;
use crate::cli::interrupt;
use crate::cli::open::open;
use crate::cli::outputs::Wanted;
use crate::design::Design;
use crate::engine::{CHUNK, Control, MOST_THREADS, threads};
use crate::error::Result;
pub(super) use crate::io::shell_word;
use crate::io::{Dimension, quantity, stop};
use crate::study::{Change, MOST_TRIALS, Parameter, Trials};
use clap::Args;
use std::path::{Path, PathBuf};

/// A study, and changes to its values for this call.
#[derive(Debug, Args)]
pub(super) struct StudyFile {
    /// The study file; - is standard input
    pub study: PathBuf,
    /// Change a value for this call, such as shifter.bits=5
    #[arg(long, value_name = "KEY=VALUE", value_parser = setting)]
    pub set: Vec<Change>,
}

/// Arguments of every command that builds units.
#[derive(Debug, Args)]
pub(super) struct Asked {
    #[command(flatten)]
    pub file: StudyFile,
    /// Use this calibration plan alone
    #[arg(long, value_name = "NAME", allow_hyphen_values = true)]
    pub calibration: Option<String>,
    /// Build this many units, whatever the study says
    #[arg(long, value_name = "N", value_parser = trials, allow_negative_numbers = true)]
    pub trials: Option<u64>,
    /// Draw from this seed instead of the study's
    #[arg(long, value_name = "N", value_parser = seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,
    /// Number of threads, 0 for one per core; results do not depend on it
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true, value_parser = clap::value_parser!(u16).range(0..=MOST_THREADS as i64))]
    pub threads: u16,
    /// Write the results to this file as JSON; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Show no progress and do not count warnings
    #[arg(long)]
    pub quiet: bool,
}

impl StudyFile {
    /// Reads the study and applies its changes.
    pub(super) fn open(&self) -> Result<Design> {
        Ok(open(&self.study)?.with(&self.set)?)
    }

    /// Words of a command line for the same study with the same changes; `then` follows the study's name.
    pub(super) fn again_with(&self, then: &str) -> String {
        let study = shell_word(&self.study.display().to_string());
        let set = self.set.iter().map(|change| format!(" --set {}", shell_word(&change.to_string())));
        let then = if then.is_empty() { String::new() } else { format!(" {then}") };
        study + &then + &set.collect::<String>()
    }
}

impl Asked {
    /// Reads the study and applies all arguments.
    pub(super) fn open(&self) -> Result<Design> {
        let mut opened = self.file.open()?;
        opened.keep_calibration(self.calibration.as_deref())?;
        opened.reseed(self.seed);
        if let Some(count) = self.trials {
            opened.keep_trials(Trials::Fixed(count));
        }
        Ok(opened)
    }

    /// The requested outputs; each command has its own options for the CSV and the report.
    pub(super) fn wanted<'a>(&'a self, csv: Option<&'a Path>, report: Option<&'a Path>) -> Wanted<'a> {
        Wanted { json: self.json.as_deref(), csv, report, parquet: None }
    }

    /// Words of a command line with the same arguments; `then` follows the study's name.
    pub(super) fn again_with(&self, then: &str) -> String {
        let mut words = then.to_owned();
        if let Some(name) = &self.calibration {
            words.push_str(&format!(" --calibration {}", shell_word(name)));
        }
        for (word, count) in [("--trials", self.trials), ("--seed", self.seed)] {
            words.push_str(&count.map_or(String::new(), |count| format!(" {word} {count}")));
        }
        self.file.again_with(words.trim())
    }

    /// Reports the number of warnings of a study of this call, and how to see them.
    pub(super) fn count_warnings(&self, file: &StudyFile, warnings: usize) {
        if !self.quiet {
            count_warnings(file, warnings);
        }
    }

    /// Threads and interrupt of a run.
    pub(super) fn control(&self) -> Result<Control<'static>> {
        let threads = threads(self.threads.into())?;
        interrupt::expect_units(threads as u64 * CHUNK as u64);
        Ok(Control { threads, interrupt: stop::switch() })
    }
}

/// Reports the number of warnings of a study, if any, and how to see them.
pub(super) fn count_warnings(file: &StudyFile, warnings: usize) {
    let (count, show) = match warnings {
        0 => return,
        1 => ("1 warning".to_owned(), "shows it"),
        count => (format!("{count} warnings"), "shows them"),
    };
    say(&format!("{count}; `beamyield check {}` {show}", file.again_with("")));
}

type Checked<T> = std::result::Result<T, String>;

fn setting(text: &str) -> Checked<Change> {
    let (parameter, value) = named(text)?;
    Ok(Change { parameter, value: value.to_owned() })
}

/// A parameter and what follows its equals sign.
pub(super) fn named(text: &str) -> Checked<(Parameter, &str)> {
    match text.split_once('=') {
        Some((parameter, value)) if !value.trim().is_empty() => {
            let parameter = Parameter::parse(parameter).map_err(|lost| lost.message)?;
            Ok((parameter, value.trim()))
        }
        _ => Err(format!("`{text}` gives nothing a value: expected KEY=VALUE, such as shifter.bits=5")),
    }
}

fn trials(text: &str) -> Checked<u64> {
    match text.parse() {
        Ok(0) => Err("at least one unit has to be built".to_owned()),
        Ok(count) if count <= MOST_TRIALS => Ok(count),
        _ => Err(format!("expected a whole number from 1 to {MOST_TRIALS}")),
    }
}

/// A seed, in the range of a study's.
pub(super) fn seed(text: &str) -> Checked<u64> {
    const MOST: u64 = i64::MAX as u64;
    let seed = text.parse().ok().filter(|seed| *seed <= MOST);
    seed.ok_or_else(|| format!("expected a whole number from 0 to {MOST}"))
}

/// A share between 0 and 1, a yield for example.
pub(super) fn share(text: &str) -> Checked<f64> {
    match quantity::parse(text, Dimension::Ratio) {
        // No number of units shows a yield of 1.
        Ok(share) if share > 0.0 && share < 1.0 => Ok(share),
        _ => Err("expected a share between 0 and 1, such as 0.95 or \"95 %\"".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_of_no_units_is_refused() {
        assert_eq!(trials("1"), Ok(1));
        assert_eq!(trials("0").unwrap_err(), "at least one unit has to be built");
        for text in ["-1", "1.5", "", "many", "1000000000001"] {
            assert!(trials(text).unwrap_err().contains("whole number"), "{text}");
        }
    }

    #[test]
    fn a_share_is_between_0_and_1() {
        assert_eq!(share("0.95"), Ok(0.95));
        assert_eq!(share("95 %"), Ok(0.95));
        for text in ["0", "1", "1.2", "-0.5", "nan", "", "95"] {
            assert!(share(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_setting_has_two_sides() {
        assert_eq!(setting("shifter.bits = 5").unwrap().to_string(), "shifter.bits=5");
        for text in ["shifter.bits", "shifter.bits=", "=5", "shifter..bits=5"] {
            assert!(setting(text).is_err(), "{text}");
        }
    }
}
