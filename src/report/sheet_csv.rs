//! The bench sheet for spreadsheets.

use crate::error::Result;
use crate::io::Output;
use crate::plan::Plan;
use crate::report::run_csv::cell;
use crate::report::sheet::sheet;
use csv::{Terminator, WriterBuilder};
use std::io;

const HEADER: [&str; 10] = [
    "calibration",
    "step",
    "connect",
    "set",
    "read",
    "cables",
    "settings",
    "readings",
    "minutes",
    "elapsed_minutes",
];

/// Writes a row for each step of every calibration plan, and finishes the output.
///
/// # Errors
/// [`Error::File`](crate::error::Error::File) when the output cannot be written.
pub fn write_sheet_csv(plan: &Plan, mut output: Output) -> Result<()> {
    let written = rows(plan);
    let text = written.map_err(|error| output.failure(io::Error::other(error)))?;
    output.write_text(&text)?;
    output.finish()
}

fn rows(plan: &Plan) -> std::result::Result<String, csv::Error> {
    let mut writer = WriterBuilder::new().terminator(Terminator::Any(b'\n')).from_writer(Vec::new());
    writer.write_record(HEADER)?;
    for (number, of) in plan.calibrations.iter().enumerate() {
        let mut elapsed = 0.0;
        for (step_number, step) in sheet(plan, number).iter().enumerate() {
            elapsed += step.seconds;
            writer.write_record([
                cell(&of.name),
                (step_number + 1).to_string(),
                cell(&step.connect),
                cell(&step.set),
                cell(&step.read),
                step.cables.to_string(),
                step.settings.to_string(),
                step.readings.to_string(),
                format!("{:?}", step.seconds / 60.0),
                format!("{:?}", elapsed / 60.0),
            ])?;
        }
    }
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(io::Error::other(error.to_string())))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
