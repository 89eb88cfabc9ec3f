//! The command line: one command a file, and nothing that computes.

mod asked;
mod console;
mod interrupt;
mod open;
mod outputs;
mod page;
mod progress;
mod range;
mod rows;
mod saving;
mod vary;
mod work;

pub use crate::io::file::note_streams;

use crate::error::{Error, Result};
use crate::io::{Output, inert};
use clap::{ColorChoice, Parser, Subcommand};
use console::{announce_faults, say, show};
use std::process::ExitCode;

/// The program: reads the command line, runs its command, and returns the exit code.
pub fn main() -> ExitCode {
    interrupt::listen();
    announce_faults();
    let done = Arguments::read().and_then(|read| read.map_or(Ok(()), Arguments::run));
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            match &error {
                // A report of diagnostics stands by itself.
                Error::Input(report) => show(report),
                other => say(&format!("error: {other}")),
            }
            ExitCode::from(error.exit_code())
        }
    }
}

/// The command line as typed.
#[derive(Debug, Parser)]
#[command(name = "beamyield", version, color = ColorChoice::Never, about = ABOUT, before_help = Commands::examples(), after_help = NOTES)]
#[command(disable_help_subcommand = true, arg_required_else_help = true)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    command: Commands,
}

/// A command of the program. The help describes it by the first line of its type's docs.
trait Execute {
    /// Command lines that the program's help shows.
    const EXAMPLES: &'static [&'static str] = &[];

    /// Does what its arguments say.
    fn run(&self) -> Result<()>;
}

macro_rules! commands {
    ($($Name:ident: $module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; use $module::$Type;)*

        // The help lists them by the alphabet, and their examples in the order below.
        #[derive(Debug, Subcommand)]
        #[command(next_display_order = None)]
        enum Commands { $($Name($Type)),* }

        impl Commands {
            fn run(&self) -> Result<()> {
                match self { $(Commands::$Name(command) => command.run()),* }
            }

            fn examples() -> String {
                let all = [$($Type::EXAMPLES),*].concat();
                std::iter::once("Examples:").chain(all).collect::<Vec<_>>().join("\n  ")
            }
        }
    };
}

commands! {
    Budget: budget::BudgetCommand,
    Check: check::CheckCommand,
    Run: run::RunCommand,
    Compare: compare::CompareCommand,
    Cost: cost::CostCommand,
    Sweep: sweep::SweepCommand,
    Merge: merge::MergeCommand,
    Limit: limit::LimitCommand,
    Inspect: inspect::InspectCommand,
    Sheet: sheet::SheetCommand,
    Unit: unit::UnitCommand,
    Jobs: jobs::JobsCommand,
    Schema: schema::SchemaCommand,
    Completions: completions::CompletionsCommand,
    Man: man::ManCommand,
}

/// The error of a command line that is at fault.
fn wrong(message: &str) -> Error {
    Error::Input(format!("error: {}\n", inert(message.trim_end())))
}

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
    /// Runs the command.
    ///
    /// # Errors
    /// Every cause that ends the program early; see [`crate::error::Error`].
    pub(crate) fn run(self) -> Result<()> {
        interrupt::explain(self.command.run())
    }

    /// Reads the command line. `--help` and `--version` are answered at once; then there is no command.
    ///
    /// # Errors
    /// [`Error::Input`] when it cannot be understood; [`Error::File`] when the answer cannot be written.
    pub(crate) fn read() -> Result<Option<Arguments>> {
        match Arguments::try_parse() {
            Ok(arguments) => Ok(Some(arguments)),
            Err(wrong) if wrong.use_stderr() => Err(Error::Input(inert(&wrong.to_string()).into_owned())),
            Err(answer) => outputs::write(Output::stdout(), &answer.to_string()).map(|()| None),
        }
    }
}
