//! A sweep as rows: for each point and calibration plan the yield, and each figure at each beam and frequency.

use crate::engine::PERCENTILES;
use crate::error::Result;
use crate::io::Output;
use crate::report::SweepRun;
use crate::report::csv_file::{CsvFile, cell, number};
use crate::report::json_parts::celsius;

/// Writes one row for each yield and each column of figures, and finishes the output. An absent value is an empty cell; a refused
/// point has no row.
///
/// # Errors
/// [`Error::File`](crate::error::Error::File) when the output cannot be written.
pub(crate) fn write_sweep_csv(run: &SweepRun, output: Output) -> Result<()> {
    let mut file = CsvFile::new(output);
    rows(run).into_iter().try_for_each(|row| file.row(row))?;
    file.finish()
}

fn rows(run: &SweepRun) -> Vec<Vec<String>> {
    let sweep = run.sweep;
    let mut header: Vec<String> = sweep.axes.iter().map(|axis| cell(&axis.name)).collect();
    header.extend(
        ["calibration", "trials", "quantity", "unit", "beam", "frequency_hz", "temperature_c"]
            .map(str::to_owned),
    );
    header.extend(["value", "low", "high", "standard_error", "sd"].map(str::to_owned));
    header.extend(PERCENTILES.map(|p| format!("percentile_{p}")));
    let mut rows = vec![header];
    for (point, ran) in sweep.points.iter().enumerate() {
        let Some(ran) = ran else { continue };
        let model = run.model(point);
        let values = || sweep.values(point).into_iter().map(cell);
        for of in &ran.summary.calibrations {
            let begin = || values().chain([cell(&of.name), ran.summary.trials.to_string()]);
            if let Some(share) = &of.yield_ {
                let none = || std::iter::repeat_n(String::new(), 3);
                let numbers = [share.value, share.low, share.high].map(number);
                let ends = std::iter::repeat_n(String::new(), 2 + PERCENTILES.len());
                rows.push(
                    begin()
                        .chain(["yield".to_owned(), "1".to_owned()])
                        .chain(none())
                        .chain(numbers)
                        .chain(ends)
                        .collect(),
                );
            }
            for figure in &of.figures {
                let column = model.columns[figure.column];
                let point = &model.points[column.point];
                let place = [
                    column.figure.name().to_owned(),
                    column.figure.unit().symbol().to_owned(),
                    cell(&model.beams[point.beam].name),
                    number(point.frequency),
                    model
                        .temperature_of(column.point)
                        .map_or(String::new(), |kelvin| number(celsius(kelvin))),
                ];
                let moments = &figure.moments;
                let mean = if moments.count > 0 { number(moments.mean) } else { String::new() };
                let none = String::new();
                let rest = [mean, none.clone(), none, number(moments.standard_error()), number(moments.sd())];
                let percentiles = figure.percentiles.iter().map(|of| number(of.value));
                let mut row: Vec<String> = begin().chain(place).chain(rest).chain(percentiles).collect();
                row.resize(rows[0].len(), String::new());
                rows.push(row);
            }
        }
    }
    rows
}
