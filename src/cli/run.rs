//! `beamyield run`: builds the units and tells their yield.

use crate::cli::asked::{Asked, share, shell_word};
use crate::cli::outputs::{Outputs, Wanted};
use crate::cli::progress::Progress;
use crate::decide::Passes;
use crate::design::{Checked, Design};
use crate::engine::{self, Finish, Outcomes, Summary};
use crate::error::{Error, Result};
use crate::plan::Plan;
use crate::report::{self, Ending};
use clap::Args;
use std::path::PathBuf;
use std::time::Instant;

/// Build the units of a study and tell their yield
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct Run {
    #[command(flatten)]
    asked: Asked,
    /// Write every unit to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write every unit to this file as Parquet, with its units of measure
    #[arg(long, value_name = "FILE.parquet")]
    trials_out: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
    /// Exit with 1 if the lower end of a yield interval is below this share
    #[arg(long, value_name = "SHARE", value_parser = share)]
    require_yield: Option<f64>,
}

const NOTES: &str = "\
The CSV has a row for each unit and calibration plan, units counted from 0. Its
columns for figures are named figure[unit]@beam@frequency. The Parquet has the
same rows and columns; its metadata tell the study, the seed and the units of
measure. A yield is required of every plan that calibrates; plans that leave
units as built are not held to it.";

impl Run {
    pub fn run(&self) -> Result<()> {
        let opened = self.asked.open()?;
        let plan = opened.plan();
        self.refuse_idle_demand(&opened, &plan)?;
        let control = self.asked.control()?;
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let wanted = Wanted { parquet: self.trials_out.as_deref(), ..wanted };
        let mut outputs = Outputs::open(&wanted, &opened, &plan)?;
        let warnings = opened.warnings(&plan).len();
        self.asked.count_warnings(warnings);

        let start = Instant::now();
        let mut first_failures = vec![None; plan.calibrations.len()];
        let mut passes = vec![Passes::new(&plan); plan.calibrations.len()];
        let most = plan.trials.most();
        let mut progress = Progress::new(most, self.asked.quiet);
        let finish = engine::run(&plan, control, |outcomes| {
            outputs.take(&plan, outcomes)?;
            note_failures(outcomes, &mut first_failures);
            passes.iter_mut().zip(&outcomes.plans).for_each(|(passes, of)| passes.push(of));
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
        let ending = Ending::of(end, plan.trials);
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
            passes: &passes,
            failing_unit: &failing_unit,
        };
        let written = outputs.finish(&run, &opened, control.threads);
        let end = match ending {
            Ending::Stopped { planned } => Err(Error::Interrupted(format!(
                "stopped after {} of {planned} trials; the results are partial",
                summary.trials
            ))),
            _ => self.hold(&plan, &summary),
        };
        Error::of_all([written, end])
    }

    /// A demand that no plan can be held to would be met by an empty promise.
    fn refuse_idle_demand(&self, opened: &Design, plan: &Plan) -> Checked<()> {
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
        let seed = self.asked.seed.map_or(String::new(), |seed| format!(" --seed {seed}"));
        let unit = self.asked.file.again_with(&trial.to_string());
        format!("beamyield unit {unit} --calibration {}{seed}", shell_word(calibration))
    }
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
