//! The values that a search for a limit tried, for spreadsheets.

use crate::decide::{Sought, Verdict};
use crate::error::Result;
use crate::io::Output;
use crate::report::limit_text::LimitRun;
use crate::report::run_csv::cell;
use csv::{Terminator, WriterBuilder};
use std::io;

const RESULTS: [&str; 7] = ["units", "passed", "yield", "yield_low", "yield_high", "confidence", "verdict"];

/// Writes a row for each value tried, in the order of trying, and finishes the output.
///
/// # Errors
/// [`Error::File`](crate::error::Error::File) when the output cannot be written.
pub fn write_limit_csv(run: &LimitRun, mut output: Output) -> Result<()> {
    let text = rows(run).map_err(|error| output.failure(io::Error::other(error)))?;
    output.write_text(&text)?;
    output.finish()
}

/// The rows under their header.
pub(super) fn rows(run: &LimitRun) -> std::result::Result<String, csv::Error> {
    let mut writer = WriterBuilder::new().terminator(Terminator::Any(b'\n')).from_writer(Vec::new());
    let is_factor = matches!(run.sought, Sought::Factor(_));
    let factor = is_factor.then(|| "factor".to_owned());
    let heading =
        |(parameter, amount): (&crate::study::Parameter, crate::io::Amount)| match amount.unit.as_str() {
            "" => cell(&parameter.to_string()),
            unit => cell(&format!("{parameter}[{unit}]")),
        };
    let parameters = run.sought.amounts(1.0).into_iter().map(heading);
    writer.write_record(factor.into_iter().chain(parameters).chain(RESULTS.map(str::to_owned)))?;
    for probe in &run.found.probes {
        let number = |value: f64| format!("{value:?}");
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
        writer.write_record(factor.into_iter().chain(amounts).chain(results))?;
    }
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(io::Error::other(error.to_string())))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// A verdict as one word.
pub(super) fn verdict(of: Verdict) -> &'static str {
    match of {
        Verdict::Meets => "meets",
        Verdict::Unclear => "unclear",
        Verdict::Misses => "misses",
    }
}
