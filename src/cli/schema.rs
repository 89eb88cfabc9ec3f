//! `beamyield schema`: the JSON Schema of a study file, for editors.

use crate::cli::Execute;
use crate::error::Result;
use crate::io::Output;
use crate::report::write_json;
use crate::study::schema;
use clap::Args;

/// Print the JSON Schema of a study file, for editors
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct SchemaCommand {}

const NOTES: &str = "\
Write it to a file beside the studies, and begin a study with the line
  #:schema ./study.schema.json
An editor whose TOML support knows this line then completes keys and words,
shows their meaning, and marks errors.";

impl Execute for SchemaCommand {
    fn run(&self) -> Result<()> {
        write_json(Output::stdout(), &schema())
    }
}
