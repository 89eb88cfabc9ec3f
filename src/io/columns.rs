//! Columns of numbers from a CSV file that a document names.

use std::sync::Arc;

use csv::{ReaderBuilder, StringRecord, Trim};

use super::diagnostic::{Findings, SourceText, Span, shown};
use super::key::Key;
use super::quantity::unit_in_name;
use super::table::Table;
use super::takes::Text;
use super::unit::{Dimension, units_of};

/// A CSV file: one header row, then rows of as many cells, separated by commas; lines that begin with `#` are
/// comments. A column's name ends in its unit: `length_mm`, `gain_db`; a plain number has none.
#[derive(Debug)]
pub(crate) struct Columns<'a> {
    findings: &'a Findings,
    source: Arc<SourceText>,
    names: Vec<String>,
    header: Span,
    rows: Vec<Row>,
}

#[derive(Debug)]
struct Row {
    line: Span,
    cells: Vec<String>,
}

impl<'a> Table<'a> {
    /// The CSV file that the text at `key` names. `None` after an error, which is recorded at its line.
    pub(crate) fn columns(&self, key: &Key<Text>) -> Option<Columns<'a>> {
        let name = self.read(key);
        if name.is_empty() {
            return None;
        }
        let source = self.companion(key.name, &name)?;
        let columns = Columns::read(self.findings, source);
        if columns.is_none() {
            self.findings.doubt(self.span_of(key));
        }
        columns
    }
}

impl<'a> Columns<'a> {
    fn read(findings: &'a Findings, source: Arc<SourceText>) -> Option<Columns<'a>> {
        let mut columns = Columns { findings, source, names: Vec::new(), header: 0..0, rows: Vec::new() };
        columns.fill().then_some(columns)
    }

    /// Reads the text; false after an error.
    fn fill(&mut self) -> bool {
        let source = self.source.clone();
        let text = source.text.as_str();
        if text.starts_with('\u{feff}') {
            let help = "save it as plain UTF-8, without the mark";
            self.refuse(0..3, "the file begins with a byte-order mark", "this would be part of a name", help);
            return false;
        }
        let mut reader = ReaderBuilder::new()
            .flexible(true)
            .has_headers(false)
            .comment(Some(b'#'))
            .trim(Trim::All)
            .from_reader(text.as_bytes());
        let mut record = StringRecord::new();
        let mut is_sound = true;
        while let Ok(true) = reader.read_record(&mut record) {
            let line = line_at(text, record.position().map_or(0, |at| at.byte() as usize));
            let cells: Vec<String> = record.iter().map(str::to_owned).collect();
            if self.names.is_empty() {
                (self.names, self.header) = (cells, line);
                is_sound &= self.check_header();
            } else if cells.len() == self.names.len() {
                self.rows.push(Row { line, cells });
            } else {
                is_sound = false;
                let label = format!("{} cells under {} names", cells.len(), self.names.len());
                let help = if cells.len() > self.names.len() {
                    "as many cells as the header has names; a decimal comma parts a number in two: write a point"
                } else {
                    "as many cells as the header has names"
                };
                self.refuse(line, "a ragged row", label, help);
            }
        }
        if self.names.is_empty() {
            self.refuse(None, "the file is empty", "", "a header row, then rows of numbers");
            return false;
        }
        if self.rows.is_empty() && is_sound {
            self.refuse(self.header.clone(), "no row under the header", "", "at least one row of numbers");
        }
        is_sound && !self.rows.is_empty()
    }

    fn check_header(&self) -> bool {
        if self.names.len() == 1 && self.names[0].contains([';', '\t']) {
            let help = "commas between cells, and points for decimals";
            self.refuse(self.header.clone(), "the cells are not separated by commas", "", help);
            return false;
        }
        let twice = (1..self.names.len()).find(|i| self.names[..*i].contains(&self.names[*i]));
        if let Some(twice) = twice {
            let message = format!("two columns are named `{}`", shown(&self.names[twice]));
            self.refuse(self.header.clone(), message, "", "a name of its own for each column");
        }
        twice.is_none()
    }

    /// Number of rows, the header not counted.
    pub(crate) fn rows(&self) -> usize {
        self.rows.len()
    }

    /// The text that was read.
    pub(crate) fn source(&self) -> &Arc<SourceText> {
        &self.source
    }

    /// Whether there is a column `name` of this dimension.
    pub(crate) fn has(&self, name: &str, dimension: Dimension) -> bool {
        self.find(name, dimension).is_some()
    }

    /// The column `NAME_UNIT` in SI, `[row]`; of a plain number the column `NAME`. `None` when it is missing or holds what is
    /// no number, which is recorded.
    pub(crate) fn quantity(&self, name: &str, dimension: Dimension) -> Option<Vec<f64>> {
        let Some((column, unit)) = self.find(name, dimension) else {
            let (message, help) = match dimension {
                Dimension::Ratio => (format!("no column `{name}`"), format!("a column named `{name}`")),
                _ => (
                    format!("no column `{name}` with its unit"),
                    format!("a column named `{name}_UNIT`, the unit one of {}", units_of(dimension)),
                ),
            };
            self.refuse(self.header.clone(), message, "not among these", help);
            return None;
        };
        let mut values = Vec::with_capacity(self.rows.len());
        let mut is_sound = true;
        for row in 0..self.rows.len() {
            let cell = &self.rows[row].cells[column];
            match cell.parse::<f64>() {
                Ok(value) if (unit.to_si(value)).abs() <= dimension.most() => values.push(unit.to_si(value)),
                Ok(value) => {
                    is_sound = false;
                    let what = if value.is_finite() { "too large" } else { "not finite" };
                    let help = format!("finite numbers of a size that {} can have", dimension.noun());
                    self.refuse(self.span(row, column), format!("`{}` is {what}", shown(cell)), "", help);
                }
                Err(_) => {
                    is_sound = false;
                    let message = match cell.as_str() {
                        "" => "an empty cell".to_owned(),
                        cell => format!("`{}` is no number", shown(cell)),
                    };
                    let help =
                        "a plain number with a point for decimals; its unit stands in the column's name";
                    self.refuse(self.span(row, column), message, "a number is expected", help);
                }
            }
        }
        is_sound.then_some(values)
    }

    /// Records an error at a cell of a column that was found, or at its row.
    pub(crate) fn error(
        &self,
        row: usize,
        name: &str,
        message: impl Into<String>,
        label: impl Into<String>,
        help: &str,
    ) {
        let column = self.names.iter().position(|of| of == name || of.starts_with(&format!("{name}_")));
        let span = match column {
            Some(column) => self.span(row, column),
            None => self.rows[row].line.clone(),
        };
        self.refuse(span, message, label, help);
    }

    fn find(&self, name: &str, dimension: Dimension) -> Option<(usize, &'static super::unit::Unit)> {
        let of = |(column, written): (usize, &String)| {
            let unit = match dimension {
                Dimension::Ratio if written == name => Some(&super::unit::PLAIN),
                _ => unit_in_name(written.strip_prefix(name)?.strip_prefix('_')?, dimension),
            };
            unit.map(|unit| (column, unit))
        };
        self.names.iter().enumerate().find_map(of)
    }

    /// The place of a cell; of a row with quoted cells, the row.
    fn span(&self, row: usize, column: usize) -> Span {
        let line = &self.rows[row].line;
        let text = &self.source.text[line.clone()];
        if text.contains('"') {
            return line.clone();
        }
        let before: usize = text.split(',').take(column).map(|cell| cell.len() + 1).sum();
        let cell = text.split(',').nth(column).unwrap_or_default();
        let start = line.start + before + (cell.len() - cell.trim_start().len());
        start..(start + cell.trim().len().max(1)).min(line.end.max(start))
    }

    fn refuse(
        &self,
        span: impl Into<Option<Span>>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.findings.error_in(&self.source, span, message, label, Some(help.into()));
    }
}

/// The line that a byte stands in, its end not included. What a reader skips before a record is skipped too.
fn line_at(text: &str, byte: usize) -> Span {
    let skipped = text[byte..].len() - text[byte..].trim_start_matches(['\r', '\n']).len();
    let start = byte + skipped;
    let end = text[start..].find('\n').map_or(text.len(), |end| start + end);
    start..end
}

#[cfg(test)]
mod tests;
