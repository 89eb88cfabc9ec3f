//! A budget as a table: a row for each calibration plan, result and cause, sorted by the yield gain without it. Below the causes of
//! failures, a row for all of them at once and for each group that pays only together. An absent value is an empty cell.

use crate::decide::budget::{CalibrationBudget, Gain, VarianceShares};
use crate::error::Result;
use crate::io::Output;
use crate::report::BudgetRun;
use crate::report::budget_text::{at_once, by_gain};
use crate::report::budget_words::named;
use crate::report::csv_file::{CsvFile, cell, number};
use crate::report::json_parts::celsius;
use crate::stats::{Estimate, Moments};

const HEADER: [&str; 22] = [
    "calibration",
    "of",
    "unit",
    "beam",
    "frequency_hz",
    "temperature_c",
    "cause",
    "drawn",
    "alone",
    "alone_low",
    "alone_high",
    "in_all",
    "in_all_low",
    "in_all_high",
    "yield_without",
    "gain",
    "gain_low",
    "gain_high",
    "mean_without",
    "sd",
    "sd_without",
    "rank",
];

/// Writes a budget as CSV and finishes its output.
///
/// # Errors
/// [`Error::File`](crate::error::Error::File) when the output cannot be written.
pub(crate) fn write_budget_csv(run: &BudgetRun, output: Output) -> Result<()> {
    let mut file = CsvFile::new(output);
    file.row(HEADER)?;
    for of in &run.budget.calibrations {
        if let Some(owned) = &of.failures {
            let place = ["failures", "", "", "", ""].map(str::to_owned);
            rows(run, of, &place, owned, None, &mut file)?;
            for (causes, gain) in several(run, of) {
                let drawn = String::new();
                let row = std::iter::once(cell(&of.name))
                    .chain(place.iter().cloned())
                    .chain([cell(&causes), drawn])
                    .chain([(); 6].map(|()| String::new()))
                    .chain([value(Some(gain.yield_.value))])
                    .chain(estimate(Some(&gain.gain)))
                    .chain([(); 4].map(|()| String::new()));
                file.row(row)?;
            }
        }
        for (number, figure) in of.figures.iter().enumerate() {
            let column = run.model.columns[figure.column];
            let point = &run.model.points[column.point];
            let temperature =
                run.model.temperature_of(column.point).map(|kelvin| celsius(kelvin).to_string());
            let place = [
                column.figure.name().to_owned(),
                column.figure.unit().symbol().to_owned(),
                cell(&run.model.beams[point.beam].name),
                point.frequency.to_string(),
                temperature.unwrap_or_default(),
            ];
            rows(run, of, &place, &figure.owned, Some(number), &mut file)?;
        }
    }
    file.finish()
}

/// All causes at once, and each group that pays only together.
fn several<'a>(run: &BudgetRun, of: &'a CalibrationBudget) -> Vec<(String, &'a Gain)> {
    let groups = of.gains.groups.iter().map(|group| (named(run, &group.causes, "and"), &group.gain));
    at_once(of).into_iter().chain(groups).collect()
}

/// The causes of one result: of failures, or of a figure by its number.
fn rows(
    run: &BudgetRun,
    of: &CalibrationBudget,
    place: &[String; 5],
    owned: &VarianceShares,
    figure: Option<usize>,
    file: &mut CsvFile,
) -> Result<()> {
    for number in by_gain(of, owned) {
        let cause = &run.budget.causes[number];
        let rank = of.gains.order.iter().position(|of| *of == number).filter(|_| figure.is_none());
        let share = owned.shares[number].as_ref();
        let perfect = of.perfect[number].as_ref();
        let of_failing = perfect.filter(|_| figure.is_none());
        let moments: Option<Moments> = perfect.zip(figure).map(|(of, figure)| of.moments[figure]);
        let row = std::iter::once(cell(&of.name))
            .chain(place.iter().cloned())
            .chain([cell(&cause.name), cause.is_drawn().to_string()])
            .chain(estimate(share.map(|of| &of.alone)))
            .chain(estimate(share.map(|of| &of.in_all)))
            .chain([value(of_failing.and_then(|of| of.yield_.as_ref()).map(|of| of.value))])
            .chain(estimate(of_failing.and_then(|of| of.gain.as_ref())))
            .chain([
                value(moments.map(|of| of.mean)),
                value(figure.and(owned.sd)),
                value(moments.map(|of| of.sd())),
                rank.map_or(String::new(), |place| (place + 1).to_string()),
            ]);
        file.row(row)?;
    }
    Ok(())
}

fn estimate(of: Option<&Estimate>) -> [String; 3] {
    [of.map(|of| of.value), of.map(|of| of.low), of.map(|of| of.high)].map(value)
}

/// A number, if there is one.
fn value(of: Option<f64>) -> String {
    of.map_or(String::new(), number)
}
