//! The bench sheet for spreadsheets.

use crate::error::Result;
use crate::io::Output;
use crate::model::Model;
use crate::report::csv_file::{CsvFile, cell, number};
use crate::report::sheet::sheet;

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
pub(crate) fn write_sheet_csv(model: &Model, output: Output) -> Result<()> {
    let mut file = CsvFile::new(output);
    file.row(HEADER)?;
    for (calibration, of) in model.calibrations.iter().enumerate() {
        let mut elapsed = 0.0;
        for (step_number, step) in sheet(model, calibration).iter().enumerate() {
            elapsed += step.seconds;
            file.row([
                cell(&of.name),
                (step_number + 1).to_string(),
                cell(&step.connect),
                cell(&step.set),
                cell(&step.read),
                step.cables.to_string(),
                step.settings.to_string(),
                step.readings.to_string(),
                number(step.seconds / 60.0),
                number(elapsed / 60.0),
            ])?;
        }
    }
    file.finish()
}
