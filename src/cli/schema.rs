//! `beamyield schema`: what a study file can hold, for editors.

use crate::error::Result;
use crate::io::Output;
use crate::report::write_json;
use crate::study::schema;
use clap::Args;

/// Print what a study can hold as a JSON Schema, which editors complete by
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct Schema {}

const NOTES: &str = "\
Write it to a file beside the studies, and begin a study with the line
  #:schema ./study.schema.json
An editor whose TOML support knows this line then completes keys and words,
shows what they mean, and marks what cannot stand where it does.";

impl Schema {
    pub fn run(&self) -> Result<()> {
        write_json(Output::stdout(), &schema())
    }
}
