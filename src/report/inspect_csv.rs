//! The limits that were tried, for spreadsheets. An absent value is an empty cell.

use crate::decide::inspect::{Choice, Made, Search, Told};
use crate::error::Result;
use crate::io::Output;
use crate::random::Conformity;
use crate::report::InspectRun;
use crate::report::csv_file::{CsvFile, cell, number};
use crate::report::inspect_json::gauge_word;
use crate::report::inspect_verdict::total;
use crate::report::limit_csv::verdict;
use crate::report::number::passed;
use crate::stats::Estimate;

/// What follows the limit.
const RESULTS: [&str; 14] = [
    "is_chosen",
    "rejected",
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
pub fn write_inspect_csv(run: &InspectRun, output: Output) -> Result<()> {
    let unit = if run.unit.is_empty() { String::new() } else { format!("[{}]", run.unit) };
    let mut file = CsvFile::new(output);
    let head =
        ["supplier".to_owned(), "gauge".to_owned(), format!("accept_from{unit}"), format!("accept_to{unit}")];
    file.row(head.into_iter().chain(RESULTS.map(str::to_owned)))?;
    for told in run.told {
        rows(run, told).into_iter().try_for_each(|row| file.row(row))?;
    }
    file.finish()
}

fn rows(run: &InspectRun, told: &Told) -> Vec<Vec<String>> {
    let choice = told.search.choice();
    let row = |size: Option<f64>, is_chosen: bool, results: Vec<String>| {
        let window = match (size, &told.parts) {
            (Some(size), _) => Some(run.form.window(size, run.one)),
            (None, Some(parts)) if choice == Choice::Stated => parts.inspected.inspection.accept,
            (None, _) => None,
        };
        let end = |si: Option<f64>| si.map_or(String::new(), |si| number(run.in_unit(si)));
        let head = [
            cell(told.setting.supplier.as_deref().unwrap_or_default()),
            gauge_word(told.setting.gauge).to_owned(),
            end(window.map(|of| of.low)),
            end(window.map(|of| of.high)),
            u8::from(is_chosen).to_string(),
        ];
        head.into_iter().chain(results).collect::<Vec<String>>()
    };
    match &told.search {
        Search::Widest(found) => {
            let of = |probe: &crate::decide::Probe| {
                let is_chosen = choice == Choice::Size(probe.value);
                let conformity = told.parts.as_ref().and_then(|parts| parts.conformity).filter(|_| is_chosen);
                let mut results = shares(conformity);
                results.extend(yields(&probe.yield_));
                results.extend([
                    String::new(),
                    String::new(),
                    String::new(),
                    verdict(probe.verdict).to_owned(),
                ]);
                row(Some(probe.value), is_chosen, results)
            };
            found.probes.iter().map(of).collect()
        }
        Search::Cheapest(Some(cheapest)) => {
            let of = |tried: &crate::decide::inspect::Tried| {
                let is_chosen = tried.size == cheapest.least().size;
                let mut results = shares(tried.conformity);
                results.extend(made(&tried.made));
                results.push(if cheapest.is_alike(tried) { "alike" } else { "dearer" }.to_owned());
                row(tried.size, is_chosen, results)
            };
            cheapest.tried.iter().map(of).collect()
        }
        Search::Stated | Search::Cheapest(None) => {
            let mut results = shares(told.parts.as_ref().and_then(|parts| parts.conformity));
            results.extend(told.made().map_or(vec![String::new(); 8], made));
            results.push(String::new());
            vec![row(None, true, results)]
        }
    }
}

fn shares(of: Option<Conformity>) -> Vec<String> {
    let all =
        |of: Conformity| [of.rejected, of.consumer_risk, of.producer_risk, of.escapes].map(number).to_vec();
    of.map_or(vec![String::new(); 4], all)
}

fn yields(of: &Estimate) -> Vec<String> {
    let counts = [of.count.to_string(), passed(of).to_string()];
    counts.into_iter().chain([of.value, of.low, of.high].map(number)).collect()
}

fn made(of: &Made) -> Vec<String> {
    let cost = total(of).map_or([f64::NAN; 3], |total| [total.value, total.low, total.high]);
    yields(&of.yield_).into_iter().chain(cost.map(number)).collect()
}
