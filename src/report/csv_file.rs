//! A CSV file as it is written.

use crate::error::Result;
use crate::io::{Output, inert};
use csv::{Terminator, Writer, WriterBuilder};
use std::io;

/// Rows of cells under a header. Every method fails as the output fails.
pub(super) struct CsvFile {
    writer: Writer<Output>,
}

impl CsvFile {
    /// Without rows.
    pub(super) fn new(output: Output) -> CsvFile {
        CsvFile { writer: WriterBuilder::new().terminator(Terminator::Any(b'\n')).from_writer(output) }
    }

    /// Writes a row, inert.
    pub(super) fn row<T: AsRef<str>>(&mut self, cells: impl IntoIterator<Item = T>) -> Result<()> {
        self.with(|writer| {
            for cell in cells {
                writer.write_field(inert(cell.as_ref()).as_bytes())?;
            }
            writer.write_record(None::<&[u8]>)
        })
    }

    /// Writes cell by cell.
    pub(super) fn with(&mut self, write: impl FnOnce(&mut Writer<Output>) -> csv::Result<()>) -> Result<()> {
        write(&mut self.writer).map_err(|error| self.writer.get_ref().failure(error))
    }

    /// Writes what is buffered and finishes the output.
    pub(super) fn finish(mut self) -> Result<()> {
        self.with(|writer| writer.flush().map_err(csv::Error::from))?;
        match self.writer.into_inner() {
            Ok(output) => output.finish(),
            Err(error) => {
                let source = io::Error::new(error.error().kind(), error.error().to_string());
                Err(error.into_inner().get_ref().failure(source))
            }
        }
    }
}

/// A text as a cell, inert: one that a spreadsheet would take for a formula is marked as text too.
pub(super) fn cell(text: &str) -> String {
    let inert = inert(text);
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{inert}") } else { inert.into_owned() }
}

/// A number with all its digits; an empty cell for what is not finite.
pub(super) fn number(value: f64) -> String {
    if value.is_finite() { format!("{value:?}") } else { String::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_formula_becomes_a_text() {
        for text in ["=1+1", "+1", "-45 deg", "@x", "\tx"] {
            assert_eq!(cell(text), format!("'{text}"));
        }
        assert_eq!(cell("45 deg"), "45 deg");
        assert_eq!(cell("\r\u{202e}x\u{9b}"), "'\\u{d}\\u{202e}x\\u{9b}");
        assert_eq!(cell(""), "");
    }

    #[test]
    fn a_number_is_written_whole_or_not_at_all() {
        assert_eq!((number(0.1).as_str(), number(2.0).as_str()), ("0.1", "2.0"));
        assert_eq!((number(f64::NAN), number(f64::INFINITY)), (String::new(), String::new()));
    }
}
