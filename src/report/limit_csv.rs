//! The values tried by a search for a limit, for spreadsheets.

use crate::decide::{SearchVariable, Verdict};
use crate::error::Result;
use crate::io::Output;
use crate::report::csv_file::{CsvFile, cell, number};
use crate::report::limit_text::LimitRun;

const RESULTS: [&str; 7] = ["units", "passed", "yield", "yield_low", "yield_high", "confidence", "verdict"];

/// Writes a row for each value tried, in the order of trying, and finishes the output.
///
/// # Errors
/// [`Error::File`](crate::error::Error::File) when the output cannot be written.
pub(crate) fn write_limit_csv(run: &LimitRun, output: Output) -> Result<()> {
    let mut file = CsvFile::new(output);
    rows(run).into_iter().try_for_each(|row| file.row(row))?;
    file.finish()
}

/// The header and the rows.
pub(super) fn rows(run: &LimitRun) -> Vec<Vec<String>> {
    let is_factor = matches!(run.sought, SearchVariable::Factor(_));
    let factor = is_factor.then(|| "factor".to_owned());
    let heading =
        |(parameter, amount): (&crate::study::Parameter, crate::io::Amount)| match amount.unit.as_str() {
            "" => cell(&parameter.to_string()),
            unit => cell(&format!("{parameter}[{unit}]")),
        };
    let parameters = run.sought.amounts(1.0).into_iter().map(heading);
    let mut rows: Vec<Vec<String>> =
        vec![factor.into_iter().chain(parameters).chain(RESULTS.map(str::to_owned)).collect()];
    for probe in &run.found.probes {
        let factor = is_factor.then(|| number(probe.value));
        let amounts = run.sought.amounts(probe.value).into_iter().map(|(_, amount)| number(amount.number));
        let of = &probe.yield_;
        let results = [
            probe.units.to_string(),
            probe.passes.to_string(),
            number(of.value),
            number(of.low),
            number(of.high),
            number(of.confidence),
            verdict(probe.verdict).to_owned(),
        ];
        rows.push(factor.into_iter().chain(amounts).chain(results).collect());
    }
    rows
}

/// A verdict as one word.
pub(super) fn verdict(of: Verdict) -> &'static str {
    match of {
        Verdict::Meets => "meets",
        Verdict::Unclear => "unclear",
        Verdict::Misses => "misses",
    }
}
