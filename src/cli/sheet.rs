//! `beamyield sheet`: the steps on the bench, in order.

use crate::cli::Execute;
use crate::cli::asked::StudyFile;
use crate::cli::outputs::{Places, Reports, Wanted, at_end};
use crate::error::Result;
use crate::report::{sheet_text, write_sheet_csv};
use clap::Args;
use std::path::PathBuf;

/// Print the bench sheet: connections, settings, readings, minutes
#[derive(Debug, Args)]
#[command(next_line_help = true)]
pub(super) struct SheetCommand {
    #[command(flatten)]
    file: StudyFile,
    /// The sheet of this calibration plan alone
    #[arg(long, value_name = "NAME", allow_hyphen_values = true)]
    calibration: Option<String>,
    /// Write the steps to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
}

impl Execute for SheetCommand {
    const EXAMPLES: &'static [&'static str] =
        &["beamyield sheet studies/quay-link-16.toml --calibration 'level and fit'"];

    fn run(&self) -> Result<()> {
        let mut opened = self.file.open()?;
        opened.keep_calibration(self.calibration.as_deref())?;
        let model = opened.model();
        let wanted = Wanted { csv: self.csv.as_deref(), ..Wanted::default() };
        let places = Places::open(&wanted, &opened.inputs(), Reports::Pages)?;
        places.write(at_end(|csv| write_sheet_csv(&model, csv)), || (), |_| Ok(()), || sheet_text(&model))
    }
}
