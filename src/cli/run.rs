//! `beamyield run`: builds the units and tells their yield.

use crate::cli::console::say;
use crate::cli::interrupt;
use crate::cli::open::{Opened, seed};
use crate::cli::outputs::{Outputs, Wanted};
use crate::cli::progress::Progress;
use crate::engine::{self, Control, End, Finish, Outcomes, Summary};
use crate::error::{Error, Result};
use crate::io::{Dimension, quantity};
use crate::plan::Plan;
use crate::report::{self, Ending};
use crate::study::{MOST_TRIALS, Trials};
use clap::Args;
use std::path::PathBuf;
use std::time::Instant;

/// Build the units of a study and tell their yield
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct Run {
    /// The study file
    study: PathBuf,
    /// Calibrate by this plan alone
    #[arg(long, value_name = "NAME", allow_hyphen_values = true)]
    calibration: Option<String>,
    /// Build this many units, whatever the study says
    #[arg(long, value_name = "N", value_parser = trials, allow_negative_numbers = true)]
    trials: Option<u64>,
    /// Draw from this seed instead of the study's
    #[arg(long, value_name = "N", value_parser = seed, allow_negative_numbers = true)]
    seed: Option<u64>,
    /// Threads to work with, 0 for one a core; results do not depend on it
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true, value_parser = clap::value_parser!(u16).range(0..=MOST_THREADS))]
    threads: u16,
    /// Write the results to this file as JSON; - is standard output
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Write every unit to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Exit with 1 if the lower end of a yield interval is below this share
    #[arg(long, value_name = "SHARE", value_parser = share)]
    require_yield: Option<f64>,
    /// Show no progress and do not count warnings
    #[arg(long)]
    quiet: bool,
}

const MOST_THREADS: i64 = 1024;

const NOTES: &str = "\
The CSV has a row for each unit and calibration plan, units counted from 0. Its
columns for figures are named figure[unit]@beam@frequency. A yield is required
of every plan that calibrates; plans that leave units as built are not held to
it.";

fn trials(text: &str) -> std::result::Result<u64, String> {
    match text.parse() {
        Ok(0) => Err("at least one unit has to be built".to_owned()),
        Ok(count) if count <= MOST_TRIALS => Ok(count),
        _ => Err(format!("a whole number from 1 to {MOST_TRIALS} is due")),
    }
}

fn share(text: &str) -> std::result::Result<f64, String> {
    match quantity::parse(text, Dimension::Ratio) {
        // No number of units shows a yield of all.
        Ok(share) if share > 0.0 && share < 1.0 => Ok(share),
        _ => Err("a share between 0 and 1 is due, such as 0.95 or \"95 %\"".to_owned()),
    }
}

impl Run {
    pub fn run(&self) -> Result<()> {
        let mut opened = Opened::read(&self.study)?;
        opened.keep_calibration(self.calibration.as_deref())?;
        opened.reseed(self.seed);
        if let Some(count) = self.trials {
            opened.study.trials = Trials::Fixed(count);
        }
        let plan = opened.plan();
        self.refuse_idle_demand(&opened, &plan)?;
        let interrupt = interrupt::switch();
        let wanted = Wanted { json: self.json.as_deref(), csv: self.csv.as_deref() };
        let mut outputs = Outputs::open(&wanted, &self.study, &plan)?;
        let warnings = opened.warnings(&plan).len();
        if warnings > 0 && !self.quiet {
            let (count, show) = match warnings {
                1 => ("1 warning".to_owned(), "shows it"),
                count => (format!("{count} warnings"), "shows them"),
            };
            say(&format!(
                "{count}; `beamyield check {}` {show}",
                shell_word(&self.study.display().to_string())
            ));
        }

        let start = Instant::now();
        let mut first_failures = vec![None; plan.calibrations.len()];
        let most = plan.trials.most();
        let mut progress = Progress::new(most, self.quiet);
        let control = Control { threads: self.threads.into(), interrupt };
        let finish = engine::run(&plan, control, |outcomes| {
            outputs.take(&plan, outcomes)?;
            note_failures(outcomes, &mut first_failures);
            progress.at(outcomes.first_trial + outcomes.trials);
            Ok(())
        });
        progress.end();
        let Finish { summary, end } = finish?;
        let Some(summary) = summary else {
            return Err(Error::Interrupted(
                "stopped before the first unit was done; nothing is written".into(),
            ));
        };
        let ending = match (end, plan.trials) {
            (End::Interrupted, _) => Ending::Stopped { planned: most },
            (End::Done, Trials::UntilYield { .. }) => Ending::TooWide,
            _ => Ending::AsAsked,
        };
        let failing_unit: Vec<Option<String>> = plan
            .calibrations
            .iter()
            .zip(&first_failures)
            .map(|(of, first)| Some(self.show(&of.name, (*first)?)))
            .collect();
        let run = report::Run {
            plan: &plan,
            summary: &summary,
            seconds: start.elapsed().as_secs_f64(),
            ending,
            warnings,
            failing_unit: &failing_unit,
        };
        outputs.finish(&run)?;
        if let Ending::Stopped { planned } = ending {
            let done = summary.trials;
            return Err(Error::Interrupted(format!(
                "stopped after {done} of {planned} trials; the results are partial"
            )));
        }
        self.hold(&plan, &summary)
    }

    /// A demand that no plan can be held to would be met by an empty promise.
    fn refuse_idle_demand(&self, opened: &Opened, plan: &Plan) -> Result<()> {
        if self.require_yield.is_none() {
            return Ok(());
        }
        let (message, help) = if plan.limits.is_empty() {
            (
                "a yield is required of a study without limits",
                "add a `[[limit]]`, or leave `--require-yield` out",
            )
        } else if plan.calibrations.iter().all(|plan| plan.is_none()) {
            (
                "a yield is required, but no plan calibrates",
                "run a plan with `level` or `align`, or leave `--require-yield` out",
            )
        } else {
            return Ok(());
        };
        Err(opened.refuse(message.to_owned(), help.to_owned()))
    }

    /// Compares each calibrated plan's yield with what is required.
    fn hold(&self, plan: &Plan, summary: &Summary) -> Result<()> {
        let Some(required) = self.require_yield else { return Ok(()) };
        let held = summary.calibrations.iter().zip(&plan.calibrations).filter(|(_, plan)| !plan.is_none());
        let missed = held.filter_map(|(of, _)| {
            let low = of.yield_.as_ref()?.low;
            // Written so that a bound that is no number is a miss.
            let is_met = low >= required;
            (!is_met).then(|| format!("\"{}\" ({low:.5})", of.name))
        });
        let missed: Vec<String> = missed.collect();
        if missed.is_empty() {
            return Ok(());
        }
        Err(Error::LimitMissed(format!(
            "the lower end of the yield interval is below the {required} required: {}",
            missed.join(", ")
        )))
    }

    /// The command that shows a unit of this run after one calibration plan.
    fn show(&self, calibration: &str, trial: u64) -> String {
        let seed = self.seed.map_or(String::new(), |seed| format!(" --seed {seed}"));
        let study = shell_word(&self.study.display().to_string());
        format!("beamyield unit {study} {trial} --calibration {}{seed}", shell_word(calibration))
    }
}

/// A word as it can be typed.
fn shell_word(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "/._+:@-".contains(c);
    let needs_none = !word.is_empty() && !word.starts_with('-') && word.chars().all(is_plain);
    if needs_none { word.to_owned() } else { format!("'{}'", word.replace('\'', r"'\''")) }
}

fn note_failures(outcomes: &Outcomes, first: &mut [Option<u64>]) {
    for (first, of) in first.iter_mut().zip(&outcomes.plans) {
        let failed = of.all() & !of.passed();
        if first.is_none() && failed != 0 {
            *first = Some(outcomes.first_trial + u64::from(failed.trailing_zeros()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::PlanOutcomes;
    use crate::io::SourceText;

    #[test]
    fn a_run_of_no_units_is_refused() {
        assert_eq!(trials("1"), Ok(1));
        assert_eq!(trials("0").unwrap_err(), "at least one unit has to be built");
        for text in ["-1", "1.5", "", "many", "1000000000001"] {
            assert!(trials(text).unwrap_err().contains("whole number"), "{text}");
        }
    }

    #[test]
    fn a_required_share_lies_between_nothing_and_all() {
        assert_eq!(share("0.95"), Ok(0.95));
        assert_eq!(share("95 %"), Ok(0.95));
        for text in ["0", "1", "1.2", "-0.5", "nan", "", "95"] {
            assert!(share(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_word_can_be_typed_again() {
        for (word, typed) in [
            ("studies/line-64.toml", "studies/line-64.toml"),
            ("my study.toml", "'my study.toml'"),
            ("it's", r"'it'\''s'"),
            ("-x", "'-x'"),
            ("$HOME", "'$HOME'"),
            ("", "''"),
        ] {
            assert_eq!(shell_word(word), typed);
        }
    }

    #[test]
    fn the_first_failing_unit_is_kept() {
        let study = include_str!("../../tests/data/small.toml");
        let source = SourceText { name: "small.toml".into(), text: study.into() };
        let mut plan = crate::plan::compile(&crate::study::parse(&source).unwrap(), study);
        plan.limits.clear();
        // A figure that is no number fails a unit.
        let of = |fails: [bool; 2]| {
            let mut outcomes = PlanOutcomes::new(&plan);
            let values = fails.map(|fails| if fails { f64::NAN } else { 0.0 });
            outcomes.push(&plan, 2, &vec![values; plan.columns.len()], &[[0.0; 2]; 4], &[[false; 2]; 2]);
            outcomes
        };
        let outcomes = |first_trial, plans| Outcomes { first_trial, trials: 2, plans };
        let mut first = [None, None];
        note_failures(&outcomes(0, vec![of([false, false]), of([false, true])]), &mut first);
        note_failures(&outcomes(2, vec![of([true, false]), of([true, false])]), &mut first);
        assert_eq!(first, [Some(2), Some(1)]);
    }
}
