//! `beamyield check`: tells what the program understood of a study.

use crate::cli::asked::StudyFile;
use crate::cli::console::{has_colour, say};
use crate::cli::outputs::write;
use crate::engine::rebuild;
use crate::error::Result;
use crate::io::{Output, render};
use crate::report::check_text;
use clap::Args;

/// Tell what is understood of a study, and what to look at
#[derive(Debug, Args)]
pub(super) struct Check {
    #[command(flatten)]
    file: StudyFile,
}

impl Check {
    pub fn run(&self) -> Result<()> {
        let opened = self.file.open()?;
        let plan = opened.plan();
        // One unit shows what bench time each plan takes.
        let unit = rebuild(&plan, 0);
        write(Output::stdout(), &check_text(&opened.study, &plan, &unit))?;
        let warnings = opened.warnings(&plan);
        if !warnings.is_empty() {
            say(&render(&opened.source, &warnings, has_colour()));
        }
        Ok(())
    }
}
