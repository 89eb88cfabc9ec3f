//! Every unit of a run as a row, written as units are built.

use crate::engine::Outcomes;
use crate::error::Result;
use crate::io::{Output, inert};
use crate::model::{Column, Model};
use crate::report::csv_file::{CsvFile, cell};
use crate::report::json_parts::celsius;
use csv::Writer;
use std::fmt::Write as _;

/// The columns before the figures.
pub(super) const LEADING: [&str; 8] = [
    "trial",
    "calibration",
    "passed",
    "first_missed_figure",
    "first_missed_beam",
    "first_missed_frequency_hz",
    "failure",
    "bench_minutes",
];

/// A writer of every unit of a run, chunk by chunk.
pub(crate) trait UnitRows: Send {
    /// Writes the rows of some trials.
    ///
    /// # Errors
    /// [`Error::File`](crate::error::Error::File) when the output cannot be written.
    fn take(&mut self, model: &Model, outcomes: &Outcomes) -> Result<()>;

    /// Writes what is buffered and finishes the output.
    ///
    /// # Errors
    /// [`Error::File`](crate::error::Error::File) when the output cannot be written.
    fn finish(self: Box<Self>) -> Result<()>;
}

/// Writes one row a trial and calibration plan. An absent value is an empty cell.
///
/// Every method fails as its output fails.
pub(crate) struct RunCsv {
    file: CsvFile,
    number: String,
}

impl RunCsv {
    /// Writes the header.
    ///
    /// # Errors
    /// [`Error::File`](crate::error::Error::File) when the output cannot be written.
    pub(crate) fn new(model: &Model, output: Output) -> Result<RunCsv> {
        let mut csv = RunCsv { file: CsvFile::new(output), number: String::new() };
        let figures = model.columns.iter().map(|column| heading(model, column));
        let header = LEADING.iter().map(|name| name.to_string()).chain(figures);
        csv.file.row(header)?;
        Ok(csv)
    }
}

impl UnitRows for RunCsv {
    fn take(&mut self, model: &Model, outcomes: &Outcomes) -> Result<()> {
        for unit in 0..outcomes.trials as usize {
            for number in 0..outcomes.calibrations.len() {
                let RunCsv { file, number: text } = &mut *self;
                file.with(|writer| row(model, outcomes, unit, number, writer, text))?;
            }
        }
        Ok(())
    }

    fn finish(self: Box<Self>) -> Result<()> {
        self.file.finish()
    }
}

/// Writes the row of a unit; `text` is a buffer for numbers.
fn row(
    model: &Model,
    outcomes: &Outcomes,
    unit: usize,
    calibration: usize,
    writer: &mut Writer<Output>,
    text: &mut String,
) -> csv::Result<()> {
    let of = &outcomes.calibrations[calibration];
    let mut number = |writer: &mut Writer<Output>, value: f64| {
        text.clear();
        if value.is_finite() {
            // Writing to a string does not fail.
            let _ = write!(text, "{value:?}");
        }
        writer.write_field(&*text)
    };
    writer.write_field((outcomes.first_trial + unit as u64).to_string())?;
    writer.write_field(cell(&model.calibrations[calibration].name))?;
    writer.write_field(if of.passes(unit) { "true" } else { "false" })?;
    match of.first_missed(unit).and_then(|limit| model.limits.get(limit)) {
        Some(limit) => {
            let column = model.columns[limit.column];
            let point = &model.points[column.point];
            writer.write_field(column.figure.name())?;
            writer.write_field(cell(&model.beams[point.beam].name))?;
            number(writer, point.frequency)?;
        }
        None => (0..3).try_for_each(|_| writer.write_field(""))?,
    }
    writer.write_field(of.failure(unit).map_or("", |failure| failure.reason()))?;
    number(writer, of.seconds()[unit] / 60.0)?;
    for value in of.row(unit) {
        number(writer, value)?;
    }
    writer.write_record(None::<&[u8]>)
}

/// "peak_side_lobe[dB]@45 deg@28GHz", and "@85C" where the study distinguishes temperatures.
pub(super) fn heading(model: &Model, column: &Column) -> String {
    let point = &model.points[column.point];
    let temperature = model.temperature_of(column.point).map(|kelvin| format!("@{}C", celsius(kelvin)));
    format!(
        "{}[{}]@{}@{}GHz{}",
        column.figure.name(),
        column.figure.unit().symbol(),
        inert(&model.beams[point.beam].name),
        point.frequency / 1e9,
        temperature.unwrap_or_default()
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Failure;
    use crate::report::sample;

    #[test]
    fn a_row_for_each_unit_and_plan() {
        let model = sample::model();
        let outcomes = sample::outcomes(&model);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("units.csv");
        let mut csv = RunCsv::new(&model, Output::create(&path, &[]).unwrap()).unwrap();
        csv.take(&model, &outcomes).unwrap();
        Box::new(csv).finish().unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        let lines: Vec<&str> = text.split('\n').collect();
        assert_eq!(
            lines[0],
            "trial,calibration,passed,first_missed_figure,first_missed_beam,first_missed_frequency_hz,failure,\
             bench_minutes,pointing_error[deg]@-20 deg@10GHz,pointing_error[deg]@ahead@10GHz,\
             peak_side_lobe[dB]@-20 deg@10GHz,peak_side_lobe[dB]@ahead@10GHz"
        );
        let reason = Failure::NoFigure.reason();
        assert_eq!(
            lines[1],
            format!("64,none,false,peak_side_lobe,ahead,10000000000.0,{reason},1.5,0.25,-0.5,-13.5,")
        );
        // A plan named like a formula is marked as text.
        assert_eq!(lines[2], "64,'+fit,true,,,,,1.5,0.25,-0.5,-13.5,-12.0");
        assert_eq!(lines[3..], [""]);
    }
}
