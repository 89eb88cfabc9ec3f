//! `beamyield check`: shows how the program reads a study, and predicts by formula which errors dominate.

use crate::cli::Execute;
use crate::cli::asked::StudyFile;
use crate::cli::console::{has_colour, show};
use crate::cli::outputs::{Places, Reports, Wanted};
use crate::engine::{bench_seconds, forecast};
use crate::error::Result;
use crate::io::render;
use crate::report::{Errors, check_json, check_text};
use clap::Args;
use std::path::PathBuf;
use std::time::Instant;

/// Show how a study is read, its predicted errors, and warnings
#[derive(Debug, Args)]
#[command(next_line_help = true)]
pub(super) struct CheckCommand {
    #[command(flatten)]
    file: StudyFile,
    /// Write predicted errors to this file as JSON; - is standard output
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

impl Execute for CheckCommand {
    const EXAMPLES: &'static [&'static str] = &["beamyield check studies/line-64.toml"];

    fn run(&self) -> Result<()> {
        let opened = self.file.open()?;
        let start = Instant::now();
        let model = opened.model();
        let compiled_in = start.elapsed();
        let wanted = Wanted { json: self.json.as_deref(), ..Wanted::default() };
        let places = Places::open(&wanted, &opened.inputs(), Reports::Pages)?;
        let warnings = opened.warnings(&model);
        let errors = Errors::of(&model);
        let forecast = forecast(&model, compiled_in);
        let written = places.write(
            |_| None,
            || check_json(&errors, warnings.len(), &forecast),
            |_| Ok(()),
            // One unit gives the bench time of each plan.
            || check_text(&opened.study, &model, &bench_seconds(&model, 0), &errors, &forecast),
        );
        if !warnings.is_empty() {
            show(&render(&opened.source, &warnings, has_colour()));
        }
        written
    }
}
