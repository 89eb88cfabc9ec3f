//! The units that pass after each plan: a row a unit, a column a plan, 1 for a pass.

use crate::decide::Candidate;
use crate::engine::Outcomes;
use crate::error::Result;
use crate::io::Output;
use crate::report::csv_file::{CsvFile, cell};

/// Writes one row a unit as units are built.
///
/// Every method fails as its output fails.
pub(crate) struct CompareCsv {
    file: CsvFile,
    candidates: Vec<Candidate>,
}

impl CompareCsv {
    /// Writes the header: "trial" and the name of each candidate.
    ///
    /// # Errors
    /// [`Error::File`](crate::error::Error::File) when the output cannot be written.
    pub(crate) fn new(columns: &[(Candidate, &str)], output: Output) -> Result<CompareCsv> {
        let candidates = columns.iter().map(|(of, _)| *of).collect();
        let mut csv = CompareCsv { file: CsvFile::new(output), candidates };
        let names = columns.iter().map(|(_, name)| cell(name));
        csv.file.row(std::iter::once("trial".to_owned()).chain(names))?;
        Ok(csv)
    }

    /// Writes the rows of some units, from the outcomes of all designs.
    ///
    /// # Errors
    /// [`Error::File`](crate::error::Error::File) when the output cannot be written.
    pub(crate) fn take(&mut self, outcomes: &[Outcomes]) -> Result<()> {
        let Some(first) = outcomes.first() else { return Ok(()) };
        let passed: Vec<u64> = self
            .candidates
            .iter()
            .map(|of| outcomes[of.design].calibrations[of.calibration].passed())
            .collect();
        for unit in 0..first.trials {
            let verdicts = passed.iter().map(|passed| (passed >> unit & 1).to_string());
            let row = std::iter::once((first.first_trial + unit).to_string()).chain(verdicts);
            self.file.row(row)?;
        }
        Ok(())
    }

    /// Writes what is buffered and finishes the output.
    ///
    /// # Errors
    /// [`Error::File`](crate::error::Error::File) when the output cannot be written.
    pub(crate) fn finish(self) -> Result<()> {
        self.file.finish()
    }
}
