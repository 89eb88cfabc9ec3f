//! The limits tried, for spreadsheets. An absent value is an empty cell.

use crate::decide::Probe;
use crate::decide::inspect::{
    BuiltUnits, Choice, Parts, Search, SettingResult, Shares, TriedAcceptance, Widest,
};
use crate::error::Result;
use crate::io::Output;
use crate::report::InspectRun;
use crate::report::csv_file::{CsvFile, cell, number};
use crate::report::inspect_json::gauge_word;
use crate::report::inspect_verdict::total;
use crate::report::limit_csv::verdict;
use crate::report::number::passed;
use crate::stats::Estimate;

/// The columns after the limit.
const RESULTS: [&str; 14] = [
    "is_chosen",
    "turned_away",
    "consumer_risk",
    "producer_risk",
    "escapes",
    "units",
    "passed",
    "yield",
    "yield_low",
    "yield_high",
    "cost",
    "cost_low",
    "cost_high",
    "verdict",
];

/// Writes a row for each limit of each setting and finishes the output.
///
/// # Errors
/// [`Error::File`](crate::error::Error::File) when the output cannot be written.
pub(crate) fn write_inspect_csv(run: &InspectRun, output: Output) -> Result<()> {
    let unit = if run.unit.is_empty() { String::new() } else { format!("[{}]", run.unit) };
    let mut file = CsvFile::new(output);
    let head =
        ["supplier".to_owned(), "gauge".to_owned(), format!("accept_from{unit}"), format!("accept_to{unit}")];
    file.row(head.into_iter().chain(RESULTS.map(str::to_owned)))?;
    for answer in run.answers {
        rows(run, answer).into_iter().try_for_each(|row| file.row(row))?;
    }
    file.finish()
}

fn rows(run: &InspectRun, answer: &SettingResult) -> Vec<Vec<String>> {
    let choice = answer.search.choice();
    let row = |size: Option<f64>, is_chosen: bool, results: Vec<String>| {
        let window = match (size, &answer.parts) {
            (Some(size), _) => Some(run.form.window(size, run.one)),
            (None, Some(parts)) if choice == Choice::Stated => parts.inspected.inspection.accept,
            (None, _) => None,
        };
        let end = |si: Option<f64>| si.map_or(String::new(), |si| number(run.in_unit(si)));
        let head = [
            cell(answer.setting.supplier.as_deref().unwrap_or_default()),
            gauge_word(answer.setting.gauge).to_owned(),
            end(window.map(|of| of.low)),
            end(window.map(|of| of.high)),
            u8::from(is_chosen).to_string(),
        ];
        head.into_iter().chain(results).collect::<Vec<String>>()
    };
    // The chosen limit, with all of its units.
    let chosen = || {
        let size = if let Choice::Size(size) = choice { Some(size) } else { None };
        let mut results = shares(answer.parts.as_ref().map(Parts::shares).as_ref());
        results.extend(answer.made().map_or(vec![String::new(); 8], made));
        results.push(String::new());
        row(size, true, results)
    };
    match &answer.search {
        Search::Widest(Widest { found, shares: of_probes }) => {
            let of = |(probe, of): (&Probe, &Shares)| {
                let mut results = shares(Some(of));
                results.extend(yields(&probe.yield_));
                results.extend([String::new(), String::new(), String::new()]);
                results.push(verdict(probe.verdict).to_owned());
                row(Some(probe.value), false, results)
            };
            let mut rows: Vec<_> = found.probes.iter().zip(of_probes).map(of).collect();
            rows.push(chosen());
            rows
        }
        Search::Cheapest(Some(cheapest)) => {
            let of = |tried: &TriedAcceptance| {
                let is_chosen = tried.size == cheapest.least().size;
                let mut results = shares(Some(&tried.shares));
                results.extend(made(&tried.made));
                results.push(if cheapest.is_alike(tried) { "alike" } else { "dearer" }.to_owned());
                row(tried.size, is_chosen, results)
            };
            cheapest.tried.iter().map(of).collect()
        }
        Search::Stated | Search::Cheapest(None) => vec![chosen()],
    }
}

/// The share of parts turned away, and the risks.
fn shares(of: Option<&Shares>) -> Vec<String> {
    let turned_away = of.map_or(f64::NAN, |of| of.turned_away);
    let risks = of.and_then(|of| of.conformity);
    let risks = risks.map_or([f64::NAN; 3], |of| [of.consumer_risk, of.producer_risk, of.escapes]);
    std::iter::once(turned_away).chain(risks).map(number).collect()
}

fn yields(of: &Estimate) -> Vec<String> {
    let counts = [of.count.to_string(), passed(of).to_string()];
    counts.into_iter().chain([of.value, of.low, of.high].map(number)).collect()
}

fn made(of: &BuiltUnits) -> Vec<String> {
    let cost = total(of).map_or([f64::NAN; 3], |total| [total.value, total.low, total.high]);
    yields(&of.yield_).into_iter().chain(cost.map(number)).collect()
}
