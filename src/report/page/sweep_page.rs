//! A sweep as a page: curves over one parameter, a field over two.

use crate::decide::{DesignRun, Sweep};
use crate::engine::{CalibrationSummary, End};
use crate::io::Amount;
use crate::model::Model;
use crate::report::SweepRun;
use crate::report::grid::{numbers, words};
use crate::report::number::{ABSENT, counted, estimate, percent, points, with_interval};
use crate::report::page::about::{About, Origin};
use crate::report::page::chart::{Curve, Drawn, HeatMap, Point, Series};
use crate::report::page::parts::{bench_time, in_percent};
use crate::report::page::{Axis, Page, Part, Section, Table};
use crate::report::spreads_text::{figures, percentile};
use crate::report::sweep_text::{common_column, confidence, left_out, no_cell, place};
use crate::report::sweep_verdict::verdict;
use crate::report::words::{bound, plain, quoted};
use crate::stats::Estimate;
use crate::study::Bound;

/// Most plans and most figures that have charts.
const MOST: usize = 12;

/// Values of equal yield that are drawn, percent.
const CONTOURS: std::ops::Range<u32> = 1..10;

/// A sweep as a page.
pub(crate) fn sweep_page(run: &SweepRun, origin: &Origin) -> Page {
    let about = About {
        model: &run.models[0],
        lead: lead(run),
        verdict: verdict(run),
        units: format!("{} at each of {} points, the same at every point", run.trials(), run.models.len()),
        confidence: run.sweep.confidence,
        seconds: run.seconds,
        warnings: run.warnings,
    };
    let is_field = run.sweep.axes.len() == 2;
    let yields = if is_field { fields(run) } else { curves(run) };
    let left_out: Vec<Part> = left_out(run.sweep).iter().map(|line| Part::Text(plain(line))).collect();
    let sections = [
        Section::of("Refused values", left_out),
        Section::of("Yield", yields),
        Section::of("Percentiles of the figures", if is_field { Vec::new() } else { moves(run) }),
        Section::of("Every point", tables(run)),
    ];
    about.page(sections, origin)
}

fn lead(run: &SweepRun) -> String {
    let sweep = run.sweep;
    let axes: Vec<String> = sweep
        .axes
        .iter()
        .map(|axis| format!("{} ({})", plain(&axis.name), counted(axis.values.len() as u64, "value")))
        .collect();
    let swept = format!(
        "Swept {} on the same {} from seed {}.",
        axes.join(" and "),
        counted(run.trials(), "unit"),
        run.models[0].seed
    );
    if sweep.end == End::Interrupted {
        let missing = sweep.sound().filter(|point| !sweep.is_whole(*point)).count();
        return format!(
            "PARTIAL: stopped early, {missing} of {} points are missing or cut short. {swept}",
            run.models.len()
        );
    }
    swept
}

/// An axis over the values of a parameter, and their positions: by number where all are numbers in the same unit, rising or falling;
/// consecutive whole numbers are names side by side.
fn along(sweep: &Sweep, axis: usize) -> (Axis, Vec<f64>) {
    let of = &sweep.axes[axis];
    let amounts: Option<Vec<Amount>> = of.values.iter().map(|value| Amount::parse(value)).collect();
    let amounts = amounts.filter(|all| all.windows(2).all(|two| two[0].unit == two[1].unit));
    let numbers = amounts.as_ref().map(|all| all.iter().map(|of| of.number).collect::<Vec<f64>>());
    let is_ordered = |all: &Vec<f64>| {
        all.windows(2).all(|two| two[0] < two[1]) || all.windows(2).all(|two| two[0] > two[1])
    };
    let is_counted = |all: &Vec<f64>| all.windows(2).all(|two| two[1] - two[0] == 1.0);
    let numbers = numbers.filter(|all| is_ordered(all) && !is_counted(all));
    match (numbers, amounts) {
        (Some(numbers), Some(amounts)) if numbers.len() > 1 => {
            let unit = amounts.first().map_or("", |of| &of.unit);
            (Axis::spread(plain(&of.name), unit, numbers.iter().copied()), numbers)
        }
        _ => {
            let names = of.values.iter().map(|value| plain(value)).collect();
            (Axis::names(plain(&of.name), names), (0..of.values.len()).map(|at| at as f64).collect())
        }
    }
}

fn summary(ran: &DesignRun, calibration: usize) -> Option<&CalibrationSummary> {
    ran.summary.calibrations.get(calibration)
}

/// A line for each plan over one parameter.
fn lines(
    run: &SweepRun,
    mut of: impl FnMut(usize, &CalibrationSummary) -> Option<(Estimate, String)>,
) -> Vec<Series> {
    let (_, at) = along(run.sweep, 0);
    let plans = run.models[0].calibrations.iter().enumerate().take(MOST);
    let is_alone = run.models[0].calibrations.len() == 1;
    let series = plans.map(|(calibration, plan)| {
        let mut points: Vec<Point> = Vec::new();
        for (point, ran) in run.sweep.points.iter().enumerate() {
            let found = ran.as_ref().and_then(|ran| of(point, summary(ran, calibration)?));
            let name = format!("{}, {}", plain(&plan.name), run.sweep.values(point).join(", "));
            points.push(match found {
                Some((share, text)) => Point {
                    x: at[point],
                    y: share.value,
                    interval: Some([share.low, share.high]),
                    tip: format!("{name}: {text}"),
                },
                None => Point { x: at[point], y: f64::NAN, interval: None, tip: String::new() },
            });
        }
        points.sort_by(|a, b| a.x.total_cmp(&b.x));
        let name = if is_alone { String::new() } else { plain(&plan.name) };
        Series { name, points, drawn: Drawn::Both }
    });
    series.collect()
}

fn curves(run: &SweepRun) -> Vec<Part> {
    if !run.has_limits() {
        return vec![Part::Text("There is none, as the study has no limits.".to_owned())];
    }
    let (x, _) = along(run.sweep, 0);
    let series = lines(run, |_, of| {
        let share = of.yield_.as_ref()?;
        let (value, [low, high]) = in_percent(share);
        Some((Estimate { value, low, high, ..share.clone() }, with_interval(share)))
    });
    let title = format!("Yield over {}", plain(&run.sweep.axes[0].name));
    let alt = format!("A line for each calibration plan, whiskers are {} intervals.", confidence(run));
    let ends = series.iter().flat_map(|of| &of.points).flat_map(|point| point.interval.into_iter().flatten());
    let y = Axis::percent_around("yield", ends);
    let plot = Curve { x, y, series, levels: Vec::new(), uprights: Vec::new() };
    vec![Part::chart(title, alt, plot.into(), across_plans(run))]
}

/// Yields of every plan at every point.
fn across_plans(run: &SweepRun) -> Table {
    let plans = &run.models[0].calibrations;
    let mut header: Vec<_> = run.sweep.axes.iter().map(|axis| words(plain(&axis.name))).collect();
    header.extend(plans.iter().map(|of| numbers(plain(&of.name))));
    let mut table = Table::new(format!("Yield with its {} interval", confidence(run)), header);
    for (point, ran) in run.sweep.points.iter().enumerate() {
        let text = |calibration: usize| {
            let share = summary(ran.as_ref()?, calibration)?.yield_.as_ref()?;
            Some(with_interval(share))
        };
        let cells = (0..plans.len()).map(|of| text(of).unwrap_or(no_cell(run.sweep, point).to_owned()));
        table.row(run.sweep.values(point).into_iter().map(plain).chain(cells));
    }
    table
}

/// For each limited figure the percentile that most units keep to, at its worst beam point.
fn moves(run: &SweepRun) -> Vec<Part> {
    let model = &run.models[0];
    let limited = |column: usize| model.limits.iter().filter(move |limit| limit.column == column);
    let shown = figures(model).into_iter().filter_map(|figure| Some((figure, common_column(run, figure)?)));
    let shown = shown.filter(|(_, column)| limited(*column).next().is_some() || !run.has_limits());
    let charts = shown.take(MOST).map(|(figure, column)| {
        let is_least = limited(column).next().is_some_and(|limit| matches!(limit.bound, Bound::AtLeast(_)));
        let side = if is_least { 5 } else { 95 };
        let unit = figure.unit().symbol();
        let series = lines(run, |_, of| {
            let kept = percentile(of.figures.get(column)?, side)?;
            kept.value.is_finite().then(|| (kept.clone(), format!("{} {unit}", estimate(kept))))
        });
        let level = |limit: &crate::model::Limit| {
            let value = limit.bound.value();
            (value, bound(model, limit))
        };
        let levels: Vec<(f64, String)> = limited(column).map(level).collect();
        let ends = series.iter().flat_map(|of| of.points.iter()).filter(|point| point.y.is_finite());
        let ends = ends.flat_map(|point| {
            [point.y, point.interval.map_or(point.y, |of| of[0]), point.interval.map_or(point.y, |of| of[1])]
        });
        let y =
            Axis::around(figure.title(), unit, ends.chain(levels.iter().map(|of| of.0)).collect::<Vec<_>>());
        let title = format!("{side}th percentile: {}", place(model, figure, Some(column)));
        let alt = format!(
            "A line for each calibration plan: the {side}th percentile of its units, with its {} interval.",
            confidence(run)
        );
        let table = kept_table(run, column, side, &title);
        let plot = Curve { x: along(run.sweep, 0).0, y, series, levels, uprights: Vec::new() };
        Part::chart(title, alt, plot.into(), table)
    });
    charts.collect()
}

fn kept_table(run: &SweepRun, column: usize, side: u32, caption: &str) -> Table {
    let plans = &run.models[0].calibrations;
    let mut header = vec![words(plain(&run.sweep.axes[0].name))];
    header.extend(plans.iter().map(|of| numbers(plain(&of.name))));
    let mut table = Table::new(caption, header);
    for (point, ran) in run.sweep.points.iter().enumerate() {
        let text = |calibration: usize| {
            let figure = summary(ran.as_ref()?, calibration)?.figures.get(column)?;
            percentile(figure, side).map(estimate)
        };
        let cells = (0..plans.len()).map(|of| text(of).unwrap_or(ABSENT.to_owned()));
        table.row(run.sweep.values(point).into_iter().map(plain).chain(cells));
    }
    table
}

/// A field for each plan over two parameters: the first upward, the second along.
fn fields(run: &SweepRun) -> Vec<Part> {
    if !run.has_limits() {
        return vec![Part::Text("There is none, as the study has no limits.".to_owned())];
    }
    let sweep = run.sweep;
    let [up, along] = [&sweep.axes[0], &sweep.axes[1]];
    let names = |of: &crate::decide::Axis| {
        Axis::names(plain(&of.name), of.values.iter().map(|value| plain(value)).collect())
    };
    let charts = run.models[0].calibrations.iter().enumerate().take(MOST).map(|(calibration, plan)| {
        let share = |point: usize| summary(sweep.points[point].as_ref()?, calibration)?.yield_.as_ref();
        let cell = |point: usize| share(point).map(|of| (100.0 * of.value, percent(of).0));
        let columns = along.values.len();
        let cells: Vec<Vec<_>> =
            (0..up.values.len()).map(|row| (0..columns).map(|column| cell(row * columns + column)).collect()).collect();
        let contours = CONTOURS.map(|tenth| (f64::from(10 * tenth), format!("{} %", 10 * tenth)));
        let mut header = vec![words(format!("{} \\ {}", plain(&up.name), plain(&along.name)))];
        header.extend(along.values.iter().map(|value| numbers(plain(value))));
        let mut table = Table::new(format!("Yield after {}", quoted(&plan.name)), header);
        for (row, value) in up.values.iter().enumerate() {
            let texts = (0..columns).map(|column| {
                let point = row * columns + column;
                share(point).map_or_else(|| no_cell(sweep, point).to_owned(), with_interval)
            });
            table.row(std::iter::once(plain(value)).chain(texts));
        }
        let title = format!("Yield after {} over {} and {}", quoted(&plan.name), plain(&up.name), plain(&along.name));
        let alt = "A cell for each pair of values, darker where more units pass; lines of equal yield at whole tenths.";
        let plot = HeatMap { x: names(along), y: names(up), cells, range: [0.0, 100.0], contours: contours.collect() };
        Part::chart(title, alt, plot.into(), table)
    });
    charts.collect()
}

/// A table a plan, with the gain of each step.
fn tables(run: &SweepRun) -> Vec<Part> {
    if !run.has_limits() {
        return Vec::new();
    }
    let plans = run.models[0].calibrations.iter().enumerate();
    plans.map(|(calibration, _)| Part::Table(steps(run, calibration, &run.models[0]))).collect()
}

fn steps(run: &SweepRun, calibration: usize, model: &Model) -> Table {
    let sweep = run.sweep;
    let mut header: Vec<_> = sweep.axes.iter().map(|axis| words(plain(&axis.name))).collect();
    header.extend([
        numbers("yield"),
        numbers(format!("{} interval", confidence(run))),
        numbers("points gained on the row above"),
        numbers("bench time"),
    ]);
    let mut table = Table::new(format!("After {}", quoted(&model.calibrations[calibration].name)), header);
    let steps = sweep.steps(calibration);
    for point in 0..sweep.points.len() {
        let Some(of) = sweep.points[point].as_ref().and_then(|ran| summary(ran, calibration)) else {
            continue;
        };
        let Some(share) = &of.yield_ else { continue };
        let (value, interval) = percent(share);
        let step = steps.iter().find(|step| step.to == point && step.axis + 1 == sweep.axes.len());
        let gained = step.map_or(ABSENT.to_owned(), |step| {
            let (value, interval) = points(&step.gain);
            format!("{value} ({interval})")
        });
        let cells = [value, interval, gained, bench_time(of.bench_seconds.mean)];
        table.row(sweep.values(point).into_iter().map(plain).chain(cells));
    }
    table
}
