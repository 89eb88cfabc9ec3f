//! `beamyield check`: tells what the program understood of a study, and which of its errors will decide.

use crate::cli::asked::StudyFile;
use crate::cli::console::{has_colour, say};
use crate::cli::outputs::{is_stdout, open, write};
use crate::engine::{forecast, rebuild};
use crate::error::Result;
use crate::io::{Output, render};
use crate::report::{Errors, check_json, check_text, write_json};
use clap::Args;
use std::path::PathBuf;

/// Tell what is understood of a study, which errors will decide, what to look at
#[derive(Debug, Args)]
#[command(next_line_help = true)]
pub(super) struct Check {
    #[command(flatten)]
    file: StudyFile,
    /// Write the errors to this file as JSON; - is standard output
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

impl Check {
    pub fn run(&self) -> Result<()> {
        let opened = self.file.open()?;
        let plan = opened.plan();
        let json = open(self.json.as_deref(), &[&self.file.study])?;
        let warnings = opened.warnings(&plan);
        let errors = Errors::of(&plan);
        let forecast = forecast(&plan);
        if let Some(json) = json {
            write_json(json, &check_json(&errors, warnings.len(), &forecast))?;
        }
        if !is_stdout(self.json.as_deref()) {
            // One unit shows what bench time each plan takes.
            let unit = rebuild(&plan, 0);
            write(Output::stdout(), &check_text(&opened.study, &plan, &unit, &errors, &forecast))?;
        }
        if !warnings.is_empty() {
            say(&render(&opened.source, &warnings, has_colour()));
        }
        Ok(())
    }
}
