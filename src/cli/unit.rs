//! `beamyield unit`: rebuilds one unit and shows all of it.

use crate::cli::Execute;
use crate::cli::asked::{StudyFile, count_warnings, seed};
use crate::cli::outputs::{Places, Reports, Wanted};
use crate::engine::rebuild;
use crate::error::Result;
use crate::report::{unit_json, unit_text};
use clap::Args;
use std::path::PathBuf;

/// Rebuild one unit and show its draws, readings, codes and figures
#[derive(Debug, Args)]
#[command(next_line_help = true)]
pub(super) struct UnitCommand {
    #[command(flatten)]
    file: StudyFile,
    /// Number of the unit, counted from 0 as in the CSV of a run
    #[arg(value_name = "N", value_parser = number, allow_negative_numbers = true)]
    trial: u64,
    /// Show this calibration plan alone
    #[arg(long, value_name = "NAME", allow_hyphen_values = true)]
    calibration: Option<String>,
    /// Draw from this seed instead of the study's
    #[arg(long, value_name = "N", value_parser = seed, allow_negative_numbers = true)]
    seed: Option<u64>,
    /// Write all of it to this file as JSON; - is standard output
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Do not count warnings
    #[arg(long)]
    quiet: bool,
}

fn number(text: &str) -> std::result::Result<u64, String> {
    text.parse().map_err(|_| "expected a whole number from 0, such as 17".to_owned())
}

impl Execute for UnitCommand {
    const EXAMPLES: &'static [&'static str] = &["beamyield unit studies/line-64.toml 17 --calibration fit"];

    fn run(&self) -> Result<()> {
        let mut opened = self.file.open()?;
        opened.keep_calibration(self.calibration.as_deref())?;
        opened.reseed(self.seed);
        let model = opened.model();
        let wanted = Wanted { json: self.json.as_deref(), ..Wanted::default() };
        let places = Places::open(&wanted, &opened.inputs(), Reports::Pages)?;
        if !self.quiet {
            count_warnings(&self.file, opened.warnings(&model).len());
        }
        let unit = rebuild(&model, self.trial);
        places.write(|_| None, || unit_json(&model, &unit), |_| Ok(()), || unit_text(&model, &unit))
    }
}
