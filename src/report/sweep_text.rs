//! A sweep in tables and one paragraph: the yield at every point, the gain of each step, where more stops paying.

use crate::decide::{DesignRun, Step, Sweep};
use crate::engine::CalibrationSummary;
use crate::engine::End;
use crate::figure::Figure;
use crate::model::Model;
use crate::report::SweepRun;
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::lots_text;
use crate::report::number::{
    self, ABSENT, counted, duration, estimate, percent, points, rounded, significant,
};
use crate::report::refused::refused_lines;
use crate::report::spreads_text::{figures, percentile, worst};
use crate::report::sweep_verdict::verdict;
use crate::report::words::{figure as figure_name, key, plain, point};
use crate::study::Bound;

/// Shown in place of the yield of a refused point.
const REFUSED: &str = "refused";

/// Most columns of a table of two parameters; with more, the points are listed.
const MOST_COLUMNS: usize = 8;

/// A sweep for people, at most 80 columns wide.
pub(crate) fn sweep_text(run: &SweepRun) -> String {
    let mut parts = vec![head(run)];
    for calibration in 0..run.models[0].calibrations.len() {
        parts.push(of_plan(run, calibration));
    }
    parts.push(paragraph(&verdict(run), 0, 0));
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

fn head(run: &SweepRun) -> String {
    let sweep = run.sweep;
    let missing: Vec<String> =
        sweep.sound().filter(|p| !sweep.is_whole(*p)).map(|p| named(sweep, p)).collect();
    let mut text = String::new();
    if sweep.end == End::Interrupted {
        let cut = format!("PARTIAL: stopped early. Missing or cut short: {}.", missing.join("; "));
        text.push_str(&paragraph(&cut, 0, 0));
    }
    text.push_str(&paragraph(&plain(&run.models[0].title), 0, 0));
    let axes: Vec<String> = sweep
        .axes
        .iter()
        .map(|axis| format!("{} ({})", axis.name, counted(axis.values.len() as u64, "value")))
        .collect();
    let swept = format!(
        "Swept {}: {} in {}, {} at each, the same at every point, from seed {}.",
        axes.join(" and "),
        counted(run.models.len() as u64, "point"),
        duration(run.seconds),
        counted(run.trials(), "unit"),
        run.models[0].seed
    );
    text.push_str(&paragraph(&swept, 0, 0));
    text.push_str(&lots_text::note(&run.models[0], run.trials()));
    text.extend(left_out(sweep).iter().map(|line| paragraph(line, 0, 2)));
    text
}

/// Refused points, and why.
pub(super) fn left_out(sweep: &Sweep) -> Vec<String> {
    refused_lines(sweep.refused.iter().map(|(point, reason)| (named(sweep, *point), reason.as_str())))
}

/// "shifter.bits 5, jumper.length.sd 0.2 mm"
pub(super) fn named(sweep: &Sweep, point: usize) -> String {
    let values = sweep.axes.iter().zip(sweep.values(point));
    values.map(|(axis, value)| format!("{} {value}", axis.name)).collect::<Vec<_>>().join(", ")
}

fn summary(ran: &DesignRun, calibration: usize) -> &CalibrationSummary {
    &ran.summary.calibrations[calibration]
}

fn of_plan(run: &SweepRun, calibration: usize) -> String {
    let sweep = run.sweep;
    let name = plain(&run.models[0].calibrations[calibration].name);
    let yields = match () {
        _ if !run.has_limits() => String::new(),
        _ if is_matrix(sweep) => matrix(run, calibration),
        _ => list(run, calibration),
    };
    format!("{name}\n\n{yields}{}", spreads(run, calibration))
}

fn is_matrix(sweep: &Sweep) -> bool {
    sweep.axes.len() == 2 && sweep.axes[1].values.len() <= MOST_COLUMNS
}

/// The last key of each parameter, where that distinguishes them.
fn short_names(sweep: &Sweep) -> Vec<String> {
    let last = |name: &str| key(name.rsplit('.').next().unwrap_or(name));
    let short: Vec<String> = sweep.axes.iter().map(|axis| last(&axis.name)).collect();
    let is_clear = short.len() < 2 || short[0] != short[1];
    if is_clear { short } else { sweep.axes.iter().map(|axis| axis.name.clone()).collect() }
}

/// Shown in place of an absent value of a point.
pub(super) fn no_cell(sweep: &Sweep, point: usize) -> &'static str {
    if sweep.refused.contains_key(&point) { REFUSED } else { ABSENT }
}

/// The first axis down, the second across.
fn across(sweep: &Sweep, mut cell: impl FnMut(usize, &DesignRun) -> Option<String>) -> String {
    let [down, across] = [&sweep.axes[0], &sweep.axes[1]];
    let mut header = vec![words(short_names(sweep).join(" \\ "))];
    header.extend(across.values.iter().map(numbers));
    let mut grid = Grid::new(&header);
    for (place, value) in down.values.iter().enumerate() {
        let mut row = vec![value.clone()];
        for column in 0..across.values.len() {
            let point = place * across.values.len() + column;
            let text = sweep.points[point].as_ref().and_then(|ran| cell(point, ran));
            row.push(text.unwrap_or(no_cell(sweep, point).to_owned()));
        }
        grid.row(row);
    }
    grid.text()
}

fn matrix(run: &SweepRun, calibration: usize) -> String {
    let mut widest = 0.0f64;
    let table = across(run.sweep, |_, ran| {
        let of = summary(ran, calibration).yield_.as_ref()?;
        widest = widest.max(of.high - of.low);
        Some(percent(of).0)
    });
    let widest = significant(50.0 * widest, 2);
    format!("  Yield, to {widest} points or better at {} confidence\n\n{table}", confidence(run))
}

/// "95 %"
pub(super) fn confidence(run: &SweepRun) -> String {
    number::confidence(run.sweep.confidence)
}

/// A row a point, with the gain of the step from the row above.
fn list(run: &SweepRun, calibration: usize) -> String {
    let sweep = run.sweep;
    let mut header: Vec<_> = short_names(sweep).into_iter().map(words).collect();
    let takes_time =
        sweep.points.iter().flatten().any(|ran| summary(ran, calibration).bench_seconds.mean > 0.0);
    header.extend([
        numbers("yield"),
        numbers(format!("{} interval", confidence(run))),
        numbers("gain on the row above"),
    ]);
    if takes_time {
        header.push(numbers("bench time"));
    }
    let mut grid = Grid::new(&header);
    let steps = sweep.steps(calibration);
    for point in 0..sweep.points.len() {
        let mut row: Vec<String> = sweep.values(point).into_iter().map(str::to_owned).collect();
        if sweep.refused.contains_key(&point) {
            row.extend([REFUSED, ABSENT, ABSENT].map(str::to_owned));
            row.extend(takes_time.then(|| ABSENT.to_owned()));
            grid.row(row);
            continue;
        }
        let Some(ran) = &sweep.points[point] else { continue };
        let of = summary(ran, calibration);
        let Some(share) = &of.yield_ else { continue };
        let (value, interval) = percent(share);
        let step = steps.iter().find(|step| step.to == point && step.axis + 1 == sweep.axes.len());
        row.extend([value, interval, step.map_or(ABSENT.to_owned(), gain)]);
        if takes_time {
            row.push(duration(of.bench_seconds.mean));
        }
        grid.row(row);
    }
    grid.text()
}

/// "14.2 (13.7 to 14.8)"
fn gain(step: &Step) -> String {
    let (value, interval) = points(&step.gain);
    format!("{value} ({interval})")
}

/// The limited figures, or all where nothing is limited: a row a point, or a table a figure with two parameters.
fn spreads(run: &SweepRun, calibration: usize) -> String {
    let sweep = run.sweep;
    let model = &run.models[0];
    let is_limited =
        |figure: &Figure| model.limits.iter().any(|limit| model.columns[limit.column].figure == *figure);
    let shown = figures(model).into_iter().filter(|figure| is_limited(figure) || !run.has_limits());
    let shown: Vec<(Figure, Option<usize>)> =
        shown.map(|figure| (figure, common_column(run, figure))).collect();
    let heading = "Mean, and in brackets the value that 95 % of units keep to:";
    if is_matrix(sweep) {
        if model.calibrations.len() > 1 {
            return paragraph(
                "How the figures spread: --calibration shows one plan, --json and --csv all.",
                2,
                2,
            );
        }
        let tables = shown.iter().map(|(figure, column)| {
            let title = paragraph(&format!("{heading} {}", place(model, *figure, *column)), 2, 4);
            let cell = |point: usize, ran: &DesignRun| {
                Some(spread(run.model(point), ran, calibration, *figure, *column))
            };
            format!("\n{title}\n{}", across(sweep, cell))
        });
        return tables.collect();
    }
    let places: Vec<String> = shown.iter().map(|(figure, column)| place(model, *figure, *column)).collect();
    let mut header: Vec<_> = short_names(sweep).into_iter().map(words).collect();
    header.extend(shown.iter().map(|(figure, _)| numbers(figure_name(*figure))));
    let mut grid = Grid::new(&header);
    for (point, ran) in sweep.points.iter().enumerate() {
        let Some(ran) = ran else { continue };
        let cells =
            shown.iter().map(|(figure, column)| spread(run.model(point), ran, calibration, *figure, *column));
        grid.row(sweep.values(point).into_iter().map(str::to_owned).chain(cells));
    }
    format!("\n{}\n{}", paragraph(&format!("{heading} {}", places.join("; ")), 2, 4), grid.text())
}

/// The worst column of a figure over all points, where the points have the same columns.
pub(super) fn common_column(run: &SweepRun, figure: Figure) -> Option<usize> {
    let first = &run.models[0];
    let is_alike = |model: &Model| {
        let points = model.points.iter().zip(&first.points);
        model.columns == first.columns
            && model.points.len() == first.points.len()
            && points.into_iter().all(|(mine, of)| mine.beam == of.beam && mine.frequency == of.frequency)
    };
    let summaries: Vec<_> = run.sweep.points.iter().flatten().map(|ran| &ran.summary).collect();
    run.models.iter().all(is_alike).then(|| worst(first, &summaries, figure)).flatten()
}

/// "peak side lobe (dB), beam far berth, 26 GHz"
pub(super) fn place(model: &Model, figure: Figure, column: Option<usize>) -> String {
    let at = column.map(|column| point(model, model.columns[column].point));
    format!(
        "{}, {}",
        figure_name(figure),
        at.unwrap_or_else(|| "at each point's worst beam and frequency".to_owned())
    )
}

/// "0.0363 (0.0564)"
fn spread(
    model: &Model,
    ran: &DesignRun,
    calibration: usize,
    figure: Figure,
    column: Option<usize>,
) -> String {
    let Some(column) = column.or_else(|| worst(model, &[&ran.summary], figure)) else {
        return ABSENT.to_owned();
    };
    let of = &summary(ran, calibration).figures[column];
    if of.moments.count == 0 {
        return ABSENT.to_owned();
    }
    let limit = model.limits.iter().find(|limit| limit.column == column);
    let side = if limit.is_some_and(|limit| matches!(limit.bound, Bound::AtLeast(_))) { 5 } else { 95 };
    let kept = percentile(of, side).map_or(ABSENT.to_owned(), estimate);
    format!("{} ({kept})", rounded(of.moments.mean, of.moments.standard_error()))
}
