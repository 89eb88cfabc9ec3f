//! Outputs that are written unit by unit.

use crate::cli::outputs::{Places, Step};
use crate::error::Result;
use crate::io::Output;
use crate::model::Model;
use crate::report::{RunCsv, UnitRows};

/// The files under way, each with whether it is standard output.
pub(super) struct Rows<T>(Vec<(bool, T)>);

impl<T> Rows<T> {
    pub(super) fn new() -> Rows<T> {
        Rows(Vec::new())
    }

    /// Begins a file, or records why it failed; `more` may follow.
    pub(super) fn add(
        &mut self,
        places: &mut Places,
        output: Option<Output>,
        more: usize,
        begin: impl FnOnce(Output) -> Result<T>,
    ) -> Result<()> {
        let Some(output) = output else { return Ok(()) };
        let is_stdout = output.is_standard_output();
        match begin(output) {
            Ok(rows) => self.0.push((is_stdout, rows)),
            Err(error) => places.lose(error, self.0.len() + more)?,
        }
        Ok(())
    }

    /// Writes the next rows of each; a file that fails is dropped.
    pub(super) fn take(
        &mut self,
        places: &mut Places,
        mut write: impl FnMut(&mut T) -> Result<()>,
    ) -> Result<()> {
        let mut number = 0;
        while let Some((_, rows)) = self.0.get_mut(number) {
            match write(rows) {
                Ok(()) => number += 1,
                Err(error) => {
                    self.0.remove(number);
                    places.lose(error, self.0.len())?;
                }
            }
        }
        Ok(())
    }

    /// The steps that finish them.
    pub(super) fn finish<'a>(self, finish: fn(T) -> Result<()>) -> impl Iterator<Item = Step<'a>>
    where
        T: 'a,
    {
        self.0.into_iter().map(move |(is_stdout, rows)| Step::of(is_stdout, move || finish(rows)))
    }
}

/// Begins the files of a run's units.
pub(super) fn of_run(places: &mut Places, model: &Model) -> Result<Rows<Box<dyn UnitRows>>> {
    let (csv, parquet) = (places.csv.take(), places.parquet.take());
    let mut rows: Rows<Box<dyn UnitRows>> = Rows::new();
    rows.add(places, parquet, 1, |output| write_parquet(output, model))?;
    rows.add(places, csv, 0, |output| Ok(Box::new(RunCsv::new(model, output)?)))?;
    Ok(rows)
}

/// Begins the Parquet file of a run's units.
#[cfg(feature = "parquet")]
fn write_parquet(output: Output, model: &Model) -> Result<Box<dyn UnitRows>> {
    Ok(Box::new(crate::report::RunParquet::new(model, output)?))
}

/// `outputs::check_parquet` refuses the name of such a file before.
#[cfg(not(feature = "parquet"))]
fn write_parquet(output: Output, _: &Model) -> Result<Box<dyn UnitRows>> {
    Err(output.failure(std::io::Error::from(std::io::ErrorKind::Unsupported)))
}
