//! The distributions of a run's figures, as charts: one plan in detail, all plans below each other.

use crate::engine::{CalibrationSummary, PERCENTILES};
use crate::figure::Figure;
use crate::report::Run;
use crate::report::grid::{numbers, words};
use crate::report::number::{ABSENT, counted, estimate, percent, share, significant};
use crate::report::page::chart::{Histogram, Side, Stop, Strip, Strips};
use crate::report::page::{Axis, Part, Table};
use crate::report::spread_axis::{self, shared_range, stops};
use crate::report::spreads_text::{figures, heading, tightest, worst};
use crate::report::words::{plain, quoted};
use crate::stats::{self, Estimate};
use rayon::prelude::*;

/// Least number of units for a histogram.
const FEWEST: u64 = 20;

/// A limit farther away than this many times the width of a spread would flatten its shape, and is not drawn.
const FARTHEST: f64 = 4.0;

/// Part of an axis that is kept free beside the outermost percentiles.
const BESIDE: f64 = 0.12;

/// Most bins of a histogram: with more, sampling noise of some thousand draws would show.
const BINS: usize = 50;

/// Each figure at its worst beam and frequency: the plan of number `shown`, then all plans where the figure has a limit.
pub(super) fn spread_charts(run: &Run, shown: usize) -> Vec<Part> {
    if run.summary.trials < FEWEST {
        return vec![Part::Text(format!("Fewer than {FEWEST} units: their values are listed below."))];
    }
    let columns =
        figures(run.model).into_iter().filter_map(|of| Some((of, worst(run.model, &[run.summary], of)?)));
    let mut columns: Vec<(Figure, usize)> = columns.collect();
    // Limited figures come first.
    columns.sort_by_key(|(_, column)| run.model.limits.iter().all(|limit| limit.column != *column));
    let charts = |(figure, column): (Figure, usize)| {
        let one = one_plan(run, figure, column, &run.summary.calibrations[shown]);
        [one, all_plans(run, figure, column)].into_iter().flatten().collect()
    };
    let parts: Vec<Vec<Part>> = columns.into_par_iter().map(charts).collect();
    parts.concat()
}

fn one_plan(run: &Run, figure: Figure, column: usize, of: &CalibrationSummary) -> Option<Part> {
    let summary = &of.figures[column];
    let fine = summary.histogram()?;
    let histogram = fine.coarser(BINS);
    let unit = figure.unit().symbol();
    let stops = stops(run.model, column);
    let range = range_with(&histogram, &stops, &summary.percentiles);
    let percentiles = PERCENTILES.iter().zip(&summary.percentiles);
    let plot = Histogram {
        x: Axis::between(figure.title(), unit, range.0, range.1),
        ends: histogram.range().into(),
        counts: histogram.counts.clone(),
        units: histogram.total(),
        cumulative: fine.cumulative(),
        percentiles: percentiles.map(|(percent, of)| (*percent, of.value, estimate(of))).collect(),
        stops: drawn(&stops, unit),
    };
    let middle = summary.percentiles.get(PERCENTILES.len() / 2).map_or(ABSENT.to_owned(), estimate);
    let met = tightest(of, column).map_or(String::new(), |limit| {
        format!(" {} meet the limit; units that miss it are drawn open.", percent(&limit.yield_).0)
    });
    let beyond = match histogram.below + histogram.above {
        0 => String::new(),
        beyond => format!(" {} farther out than the bins.", counted(beyond, "unit")),
    };
    let alt = format!("The median is {middle} {unit}.{met}{beyond}");
    let title = format!("{}, after {}", heading(run, column), quoted(&of.name));
    Some(Part::chart(title, alt, plot.into(), bins(&histogram, unit)))
}

/// The bins in numbers.
fn bins(of: &stats::Histogram, unit: &str) -> Table {
    let mut table = Table::new(
        format!("Units by value, {unit}"),
        vec![numbers("from"), numbers("to"), numbers("units"), numbers("units below the end")],
    );
    let mut below = of.below;
    if of.below > 0 {
        table.row([ABSENT.to_owned(), end(of, 0), of.below.to_string(), share(below, of.total())]);
    }
    for (bin, count) in of.counts.iter().enumerate() {
        below += count;
        table.row([end(of, bin), end(of, bin + 1), count.to_string(), share(below, of.total())]);
    }
    if of.above > 0 {
        let all = share(of.total(), of.total());
        table.row([end(of, of.counts.len()), ABSENT.to_owned(), of.above.to_string(), all]);
    }
    table
}

fn end(of: &stats::Histogram, bin: usize) -> String {
    significant(of.end(bin), 6)
}

/// The same figure after each plan.
fn all_plans(run: &Run, figure: Figure, column: usize) -> Option<Part> {
    let plans = &run.summary.calibrations;
    let stops = stops(run.model, column);
    if plans.len() < 2 || stops.is_empty() {
        return None;
    }
    let spreads: Vec<(&CalibrationSummary, stats::Histogram)> =
        plans.iter().filter_map(|of| Some((of, of.figures[column].histogram()?))).collect();
    let (low, high) = shared_range(spreads.iter().map(|(_, of)| of.range()), &stops)?;
    let unit = figure.unit().symbol();
    let mut table = Table::new(
        format!("{} after each plan", heading(run, column)),
        vec![words("plan"), numbers("within limit"), numbers("interval"), numbers("median")],
    );
    let mut strips = Vec::new();
    for (of, histogram) in &spreads {
        let met = tightest(of, column).map(|limit| percent(&limit.yield_));
        let (met, interval) = met.unwrap_or((ABSENT.to_owned(), ABSENT.to_owned()));
        let median = of.figures[column].percentiles.get(PERCENTILES.len() / 2);
        let median = median.map_or(ABSENT.to_owned(), |of| format!("{} {unit}", estimate(of)));
        let name = plain(&of.name);
        table.row([name.clone(), met.clone(), interval, median.clone()]);
        let tip = format!("{name}: {met} within the limit, median {median}");
        let beyond = [histogram.share_below(low), 1.0 - histogram.share_below(high)];
        let beyond = beyond.map(|of| beyond_words(of, histogram.total()));
        let ends = histogram.range().into();
        strips.push(Strip { name, ends, counts: histogram.counts.clone(), beyond, text: met, tip });
    }
    let plot =
        Strips { x: Axis::between(figure.title(), unit, low, high), strips, stops: drawn(&stops, unit) };
    let alt = "A row for each plan, to its own scale; the number is the share of units within the limit.";
    let title = format!("{}, after each plan: units within the limit", heading(run, column));
    Some(Part::chart(title, alt, plot.into(), table))
}

/// The share of units beyond an axis; empty for none.
fn beyond_words(of: f64, total: u64) -> String {
    match (of * total as f64).round() as u64 {
        0 => String::new(),
        units => share(units, total),
    }
}

fn drawn(stops: &[spread_axis::Stop], unit: &str) -> Vec<Stop> {
    let one = |stop: &spread_axis::Stop| {
        let (passes, words) =
            if stop.is_upper { (Side::Below, "at most") } else { (Side::Above, "at least") };
        Stop { value: stop.value, passes, name: format!("{words} {} {unit}", significant(stop.value, 4)) }
    };
    stops.iter().map(one).collect()
}

/// The range of the bins and of the limits that are not too far away, with room beside the outermost percentiles for their
/// labels.
fn range_with(of: &stats::Histogram, stops: &[spread_axis::Stop], percentiles: &[Estimate]) -> (f64, f64) {
    let (low, high) = of.range();
    let room = FARTHEST * (high - low);
    let near = stops.iter().map(|stop| stop.value).filter(|stop| (low - room..=high + room).contains(stop));
    // A limit at the very end would be drawn on the axis.
    let room = |value: f64| 0.02 * (value - if value < low { high } else { low }).abs();
    let (low, high) =
        near.fold((low, high), |(low, high), stop| (low.min(stop - room(stop)), high.max(stop + room(stop))));
    let [Some(first), Some(last)] = [percentiles.first(), percentiles.last()] else { return (low, high) };
    let least = |first: f64| (first - BESIDE * high) / (1.0 - BESIDE);
    let most = |last: f64| (last - BESIDE * low) / (1.0 - BESIDE);
    (low.min(least(first.value)), high.max(most(last.value)))
}
