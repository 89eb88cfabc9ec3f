//! Costs of good units: a row for each plan of the study and of its offers.

use crate::decide::Pareto;
use crate::error::Result;
use crate::io::Output;
use crate::report::CostRun;
use crate::report::csv_file::{CsvFile, cell, number};

const HEADER: [&str; 29] = [
    "offer",
    "plan",
    "minutes",
    "yield",
    "yield_low",
    "yield_high",
    "currency",
    "cost",
    "cost_low",
    "cost_high",
    "parts",
    "turned_away",
    "gauge",
    "bench",
    "rework",
    "scrap",
    "set_up",
    "good_share",
    "failing_units",
    "minutes_a_good_unit",
    "good_units_a_day",
    "benches",
    "dominated_in_minutes_by",
    "dominated_in_cost_by",
    "failing",
    "mended",
    "attempts_each",
    "good_low",
    "good_high",
];

/// Writes a costing. An absent value, as of a plan without a good unit, is an empty cell.
///
/// # Errors
/// [`Error::File`](crate::error::Error::File) when the output cannot be written.
pub(crate) fn write_cost_csv(run: &CostRun, output: Output) -> Result<()> {
    let mut file = CsvFile::new(output);
    file.row(HEADER)?;
    let costed = run.costed;
    let fronts = [Pareto::Minutes, Pareto::Cost].map(|pareto| costed.dominated(pareto));
    for of in costed.all() {
        let (bill, total) = (costed.priced[of].bill, costed.priced[of].total.as_ref());
        let share = costed.compared.yield_of(of);
        let found = costed.throughput(of);
        let some = |value: Option<f64>| value.map_or(String::new(), number);
        let mut row = vec![
            cell(&run.offer_of(costed.compared.candidates[of].design).unwrap_or_default()),
            cell(&run.plan_of(of)),
            number(costed.compared.seconds(of) / 60.0),
        ];
        row.extend([share.map(|of| of.value), share.map(|of| of.low), share.map(|of| of.high)].map(some));
        row.push(cell(run.currency()));
        row.extend([total.map(|of| of.value), total.map(|of| of.low), total.map(|of| of.high)].map(some));
        let lines =
            bill.map(|of| [of.parts, of.turned_away, of.gauge, of.bench, of.rework, of.scrap, of.set_up]);
        row.extend((0..7).map(|line| some(lines.map(|lines| lines[line]))));
        row.push(some(bill.map(|of| of.good)));
        row.push(bill.map_or("", |of| if of.reworks { "reworked" } else { "scrapped" }).to_owned());
        row.push(some(bill.map(|of| of.bench_seconds / 60.0)));
        row.push(some(found.as_ref().map(|of| of.a_day.value)));
        row.push(found.map_or(String::new(), |of| of.benches.to_string()));
        row.extend(
            fronts.each_ref().map(|pareto| pareto[of].map_or(String::new(), |other| cell(&run.name(other)))),
        );
        let mended = run.mended(of);
        let count = |count: Option<u64>| count.map_or(String::new(), |count| count.to_string());
        row.push(count(mended.map(|of| of.failing())));
        row.push(count(mended.map(|of| of.attempts.iter().map(|of| of.mended).sum())));
        row.push(some(mended.and_then(|of| of.attempts_each())));
        row.extend([mended.map(|of| of.good.low), mended.map(|of| of.good.high)].map(some));
        file.row(row)?;
    }
    file.finish()
}
