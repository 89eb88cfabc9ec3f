//! Every unit of a run as a row of a Parquet file, written as units are built.

use crate::engine::Outcomes;
use crate::error::{Error, Result};
use crate::io::Output;
use crate::model::Model;
use crate::report::run_csv::{LEADING, heading};
use crate::report::{FORMAT, PROGRAM, UnitRows};
use parquet::basic::{LogicalType, Repetition, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::{ColumnPath, Type, TypePtr};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

/// Writes one row a trial and calibration plan, in the columns of [`RunCsv`](crate::report::RunCsv), each with its type. An absent
/// value is null. The file's metadata hold the study and the unit of each column that has one.
///
/// Every method fails as its output fails.
pub(crate) struct RunParquet {
    file: SerializedFileWriter<Output>,
    path: PathBuf,
    columns: Vec<Column>,
    /// Rows buffered until they fill a group.
    rows: usize,
    trials: u64,
}

/// Rows of a group: as many as take some MiB at a hundred columns.
const GROUP: usize = 1 << 14;

/// The values of a column. `is_there` is 1 for a present value and 0 for an absent one; only present values are listed.
#[derive(Debug)]
enum Column {
    Count(Vec<i64>),
    Flag(Vec<bool>),
    Text { values: Vec<ByteArray>, is_there: Vec<i16> },
    Number { values: Vec<f64>, is_there: Vec<i16> },
}

/// Type and unit of each of the columns before the figures.
fn leading() -> [(Column, Option<&'static str>); LEADING.len()] {
    [
        (Column::Count(Vec::new()), None),
        (Column::text(), None),
        (Column::Flag(Vec::new()), None),
        (Column::text(), None),
        (Column::text(), None),
        (Column::number(), Some("Hz")),
        (Column::text(), None),
        (Column::number(), Some("min")),
    ]
}

impl RunParquet {
    /// Writes the header.
    ///
    /// # Errors
    /// [`Error::File`] when the output cannot be written.
    pub(crate) fn new(model: &Model, output: Output) -> Result<RunParquet> {
        let path = output.path().to_owned();
        let figures = model
            .columns
            .iter()
            .map(|column| (heading(model, column), Column::number(), Some(column.figure.unit().symbol())));
        let leading =
            LEADING.iter().zip(leading()).map(|(name, (column, unit))| (name.to_string(), column, unit));
        let columns: Vec<(String, Column, Option<&str>)> = leading.chain(figures).collect();
        let begun = begin(model, output, &columns);
        let file = begun.map_err(|error| failure(&path, error))?;
        let columns = columns.into_iter().map(|(_, column, _)| column).collect();
        Ok(RunParquet { file, path, columns, rows: 0, trials: 0 })
    }

    fn push(&mut self, model: &Model, outcomes: &Outcomes, unit: usize, calibration: usize) {
        let of = &outcomes.calibrations[calibration];
        let missed = of.first_missed(unit).and_then(|limit| model.limits.get(limit));
        let missed = missed.map(|limit| model.columns[limit.column]);
        let point = missed.map(|column| &model.points[column.point]);
        let (columns, figures) = self.columns.split_at_mut(LEADING.len());
        if let [trial, name, passed, figure, beam, frequency, failure, minutes] = columns {
            trial.push_count(outcomes.first_trial + unit as u64);
            name.push_text(Some(&model.calibrations[calibration].name));
            passed.push_flag(of.passes(unit));
            figure.push_text(missed.map(|column| column.figure.name()));
            beam.push_text(point.map(|point| model.beams[point.beam].name.as_str()));
            frequency.push_number(point.map_or(f64::NAN, |point| point.frequency));
            failure.push_text(of.failure(unit).map(|failure| failure.reason()));
            minutes.push_number(of.seconds()[unit] / 60.0);
        }
        figures.iter_mut().zip(of.row(unit)).for_each(|(column, value)| column.push_number(value));
        self.rows += 1;
    }

    /// Writes the buffered rows.
    fn flush(&mut self) -> std::result::Result<(), ParquetError> {
        if self.rows == 0 {
            return Ok(());
        }
        let mut group = self.file.next_row_group()?;
        for column in &mut self.columns {
            if let Some(writer) = group.next_column()? {
                column.write(writer)?;
            }
        }
        group.close()?;
        self.rows = 0;
        Ok(())
    }

    fn end(mut self) -> std::result::Result<Output, ParquetError> {
        self.flush()?;
        let trials = self.trials.to_string();
        self.file.append_key_value_metadata(KeyValue::new("trials".to_owned(), trials));
        self.file.into_inner()
    }
}

impl UnitRows for RunParquet {
    fn take(&mut self, model: &Model, outcomes: &Outcomes) -> Result<()> {
        for unit in 0..outcomes.trials as usize {
            (0..outcomes.calibrations.len()).for_each(|number| self.push(model, outcomes, unit, number));
        }
        self.trials += outcomes.trials;
        if self.rows < GROUP {
            return Ok(());
        }
        self.flush().map_err(|error| failure(&self.path, error))
    }

    fn finish(self: Box<Self>) -> Result<()> {
        let path = self.path.clone();
        self.end().map_err(|error| failure(&path, error))?.finish()
    }
}

fn failure(path: &std::path::Path, error: ParquetError) -> Error {
    Error::File { path: path.to_owned(), doing: "write", source: error.into() }
}

fn begin(
    model: &Model,
    output: Output,
    columns: &[(String, Column, Option<&str>)],
) -> std::result::Result<SerializedFileWriter<Output>, ParquetError> {
    let fields = columns.iter().map(|(name, column, _)| column.field(name));
    let fields = fields.collect::<std::result::Result<Vec<TypePtr>, ParquetError>>()?;
    let schema = Type::group_type_builder("units").with_fields(fields).build()?;
    let units = columns.iter().filter_map(|(name, _, unit)| Some((name.as_str(), (*unit)?)));
    let units: BTreeMap<&str, &str> = units.collect();
    let units = serde_json::to_string(&units).map_err(|error| ParquetError::External(Box::new(error)))?;
    let metadata = [
        ("format", FORMAT.to_string()),
        ("program", PROGRAM.to_owned()),
        ("study", model.title.clone()),
        ("study_hash", model.study_hash.clone()),
        ("seed", model.seed.to_string()),
        ("units", units),
    ];
    let metadata = metadata.into_iter().map(|(key, value)| KeyValue::new(key.to_owned(), value)).collect();
    let mut properties = WriterProperties::builder()
        .set_created_by(PROGRAM.to_owned())
        .set_key_value_metadata(Some(metadata))
        .set_dictionary_enabled(false);
    // Few words, many times.
    for (name, ..) in columns.iter().filter(|(_, column, _)| matches!(column, Column::Text { .. })) {
        properties = properties.set_column_dictionary_enabled(ColumnPath::new(vec![name.clone()]), true);
    }
    SerializedFileWriter::new(output, Arc::new(schema), Arc::new(properties.build()))
}

impl Column {
    fn text() -> Column {
        Column::Text { values: Vec::new(), is_there: Vec::new() }
    }

    fn number() -> Column {
        Column::Number { values: Vec::new(), is_there: Vec::new() }
    }

    fn field(&self, name: &str) -> std::result::Result<TypePtr, ParquetError> {
        let (physical, logical, repetition) = match self {
            Column::Count(_) => (Physical::INT64, None, Repetition::REQUIRED),
            Column::Flag(_) => (Physical::BOOLEAN, None, Repetition::REQUIRED),
            Column::Text { .. } => (Physical::BYTE_ARRAY, Some(LogicalType::String), Repetition::OPTIONAL),
            Column::Number { .. } => (Physical::DOUBLE, None, Repetition::OPTIONAL),
        };
        let field = Type::primitive_type_builder(name, physical);
        Ok(Arc::new(field.with_logical_type(logical).with_repetition(repetition).build()?))
    }

    fn push_count(&mut self, count: u64) {
        if let Column::Count(values) = self {
            values.push(count as i64);
        }
    }

    fn push_flag(&mut self, flag: bool) {
        if let Column::Flag(values) = self {
            values.push(flag);
        }
    }

    fn push_text(&mut self, text: Option<&str>) {
        if let Column::Text { values, is_there } = self {
            is_there.push(text.is_some().into());
            values.extend(text.map(ByteArray::from));
        }
    }

    fn push_number(&mut self, number: f64) {
        if let Column::Number { values, is_there } = self {
            is_there.push(number.is_finite().into());
            values.extend(number.is_finite().then_some(number));
        }
    }

    /// Writes the buffered values and clears the buffer.
    fn write(&mut self, mut writer: SerializedColumnWriter<'_>) -> std::result::Result<(), ParquetError> {
        match self {
            Column::Count(values) => {
                writer.typed::<Int64Type>().write_batch(values, None, None)?;
                values.clear();
            }
            Column::Flag(values) => {
                writer.typed::<BoolType>().write_batch(values, None, None)?;
                values.clear();
            }
            Column::Text { values, is_there } => {
                writer.typed::<ByteArrayType>().write_batch(values, Some(is_there), None)?;
                values.clear();
                is_there.clear();
            }
            Column::Number { values, is_there } => {
                writer.typed::<DoubleType>().write_batch(values, Some(is_there), None)?;
                values.clear();
                is_there.clear();
            }
        }
        writer.close()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Failure;
    use crate::report::sample;
    use parquet::file::reader::{FileReader, SerializedFileReader};

    #[test]
    fn a_row_for_each_unit_and_plan_with_its_types() {
        let model = sample::model();
        let outcomes = sample::outcomes(&model);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("units.parquet");
        let mut file = RunParquet::new(&model, Output::create(&path, &[]).unwrap()).unwrap();
        file.take(&model, &outcomes).unwrap();
        Box::new(file).finish().unwrap();

        let reader = SerializedFileReader::new(std::fs::File::open(&path).unwrap()).unwrap();
        let rows: Vec<String> =
            reader.get_row_iter(None).unwrap().map(|row| row.unwrap().to_string()).collect();
        let names = "{trial: 64, calibration: \"";
        assert_eq!(rows.len(), 2);
        assert!(
            rows[0].starts_with(&format!(
                "{names}none\", passed: false, first_missed_figure: \"peak_side_lobe\""
            ))
        );
        let reason = Failure::NoFigure.reason();
        assert!(rows[0].contains(&format!("failure: \"{reason}\", bench_minutes: 1.5")), "{}", rows[0]);
        assert!(rows[0].ends_with("peak_side_lobe[dB]@ahead@10GHz: null}"), "{}", rows[0]);
        // A Parquet text has a type, so nothing takes it for a formula.
        assert!(rows[1].starts_with(&format!("{names}+fit\", passed: true, first_missed_figure: null")));
        let metadata = reader.metadata().file_metadata().key_value_metadata().unwrap();
        let value =
            |key: &str| metadata.iter().find(|of| of.key == key).and_then(|of| of.value.clone()).unwrap();
        assert_eq!((value("study"), value("trials")), (model.title.clone(), "1".to_owned()));
        let units: BTreeMap<String, String> = serde_json::from_str(&value("units")).unwrap();
        assert_eq!(units["pointing_error[deg]@ahead@10GHz"], "deg");
        assert_eq!((units["bench_minutes"].as_str(), units.len()), ("min", 6));
    }
}
