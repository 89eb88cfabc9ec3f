//! Which units pass after which plan: a row a unit, a column a plan, 1 for a pass.

use crate::decide::Candidate;
use crate::engine::Outcomes;
use crate::error::{Error, Result};
use crate::io::Output;
use crate::report::run_csv::cell;
use csv::{Terminator, Writer, WriterBuilder};
use std::io;

/// Writes one row a unit as the units come in.
///
/// Every method fails as its output fails.
pub struct CompareCsv {
    writer: Writer<Output>,
    candidates: Vec<Candidate>,
}

impl CompareCsv {
    /// Writes the header: "trial" and the name of each candidate.
    ///
    /// # Errors
    /// [`Error::File`] when the output cannot be written.
    pub fn new(columns: &[(Candidate, &str)], output: Output) -> Result<CompareCsv> {
        let writer = WriterBuilder::new().terminator(Terminator::Any(b'\n')).from_writer(output);
        let candidates = columns.iter().map(|(of, _)| *of).collect();
        let mut csv = CompareCsv { writer, candidates };
        let names = columns.iter().map(|(_, name)| cell(name));
        let written = csv.writer.write_record(std::iter::once("trial".to_owned()).chain(names));
        written.map_err(|error| csv.writer.get_ref().failure(error))?;
        Ok(csv)
    }

    /// Writes the rows of some units, from the outcomes of all designs.
    ///
    /// # Errors
    /// [`Error::File`] when the output cannot be written.
    pub fn take(&mut self, outcomes: &[Outcomes]) -> Result<()> {
        let Some(first) = outcomes.first() else { return Ok(()) };
        let passed: Vec<u64> =
            self.candidates.iter().map(|of| outcomes[of.design].plans[of.calibration].passed()).collect();
        for unit in 0..first.trials {
            let verdicts = passed.iter().map(|passed| (passed >> unit & 1).to_string());
            let row = std::iter::once((first.first_trial + unit).to_string()).chain(verdicts);
            self.writer.write_record(row).map_err(|error| self.writer.get_ref().failure(error))?;
        }
        Ok(())
    }

    /// Writes what is left and lets the output appear under its name.
    ///
    /// # Errors
    /// [`Error::File`] when the output cannot be written.
    pub fn finish(self) -> Result<()> {
        match self.writer.into_inner() {
            Ok(output) => output.finish(),
            Err(error) => {
                let source = io::Error::new(error.error().kind(), error.error().to_string());
                Err::<(), Error>(error.into_inner().get_ref().failure(source))
            }
        }
    }
}
