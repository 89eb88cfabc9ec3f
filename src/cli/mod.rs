//! The command line: one command a file, and nothing that computes.

mod asked;
mod budget;
mod check;
mod compare;
mod completions;
mod console;
mod cost;
mod inspect;
mod interrupt;
mod limit;
mod man;
mod open;
mod outputs;
mod page;
mod progress;
mod range;
mod rows;
mod run;
mod schema;
mod sheet;
mod sweep;
mod unit;
mod vary;
mod work;

pub use console::{announce_faults, say, show};
pub use interrupt::listen;

use crate::error::{Error, Result};
use crate::io::{Output, inert};
use clap::{ColorChoice, Parser, Subcommand};

/// The command line as typed.
#[derive(Debug, Parser)]
#[command(name = "beamyield", version, color = ColorChoice::Never, about = ABOUT, before_help = EXAMPLES, after_help = NOTES)]
#[command(disable_help_subcommand = true, arg_required_else_help = true)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Budget(budget::BudgetOf),
    Check(check::Check),
    Compare(compare::Compare),
    Completions(completions::Completions),
    Cost(cost::CostOf),
    Inspect(inspect::InspectOf),
    Limit(limit::LimitOf),
    Man(man::Manual),
    Run(run::Run),
    Schema(schema::Schema),
    Sheet(sheet::Sheet),
    Sweep(sweep::SweepOf),
    Unit(unit::UnitOf),
}

const EXAMPLES: &str = "\
Examples:
  beamyield budget studies/quay-link-16.toml --calibration 'level and fit'
  beamyield check studies/line-64.toml
  beamyield run studies/line-64.toml
  beamyield run studies/line-64.toml --trials 100000 --json yield.json
  beamyield run studies/line-64.toml --require-yield 0.95 --quiet
  beamyield compare studies/bench-minutes.toml
  beamyield cost studies/bench-minutes.toml --report cost.txt
  beamyield sweep studies/quay-link-16.toml --vary shifter.bits=4..8
  beamyield limit studies/avalanche-ridge-12.toml --calibration quick \
      --find 'mast cable.length.first.sd' --yield 0.9
  beamyield inspect studies/cable-limit.toml --source jumper.length \
      --find-limit --yield 0.95
  beamyield sheet studies/quay-link-16.toml --calibration 'level and fit'
  beamyield unit studies/line-64.toml 17 --calibration fit";

const ABOUT: &str = "\
Predicts the yield of beamforming hardware: builds thousands of virtual units
from the tolerances in a study file, calibrates each as a bench would, steers,
measures and judges them.";

const NOTES: &str = "\
Units: a study writes every quantity with its unit, \"38 mm\", \"26 GHz\", \"0.5 dB\".
Results name theirs: angles in deg, levels in dB, frequencies in Hz, times in
min.

Exit codes:
  0  done
  1  done, and a yield that was required is not met
  2  the study or the command line is wrong, or an output cannot be where it
     was asked for
  3  the machine failed, or the run was stopped before its end";

impl Arguments {
    /// Does what was asked.
    ///
    /// # Errors
    /// Every cause that ends the program early; see [`crate::error::Error`].
    pub fn run(self) -> Result<()> {
        interrupt::explain(match self.command {
            Command::Budget(budget) => budget.run(),
            Command::Check(check) => check.run(),
            Command::Compare(compare) => compare.run(),
            Command::Completions(completions) => completions.run(),
            Command::Cost(cost) => cost.run(),
            Command::Inspect(inspect) => inspect.run(),
            Command::Limit(limit) => limit.run(),
            Command::Man(manual) => manual.run(),
            Command::Run(run) => run.run(),
            Command::Schema(schema) => schema.run(),
            Command::Sheet(sheet) => sheet.run(),
            Command::Sweep(sweep) => sweep.run(),
            Command::Unit(unit) => unit.run(),
        })
    }

    /// The command line as it was typed. What it asks the program about itself is answered at once, and there is nothing left to do.
    ///
    /// # Errors
    /// [`Error::Input`] when it cannot be understood; [`Error::File`] when the answer cannot be written.
    pub fn read() -> Result<Option<Arguments>> {
        match Arguments::try_parse() {
            Ok(arguments) => Ok(Some(arguments)),
            Err(wrong) if wrong.use_stderr() => Err(Error::Input(inert(&wrong.to_string()).into_owned())),
            Err(answer) => outputs::write(Output::stdout(), &answer.to_string()).map(|()| None),
        }
    }
}
