//! A run as a page.

use crate::decide::{bench_steps, pareto_front};
use crate::engine::{CalibrationSummary, Failure, MissSummary, PERCENTILES, Views};
use crate::report::grid::{numbers, words};
use crate::report::number::{ABSENT, counted, estimate, percent, rounded, share, with_interval};
use crate::report::page::about::{About, Origin};
use crate::report::page::chart::{Bar, Ranked};
use crate::report::page::parts::{Rated, convergence, minutes, yields};
use crate::report::page::spread_charts::spread_charts;
use crate::report::page::view_charts::{patterns, readings, residuals};
use crate::report::page::{Axis, Page, Part, Section, Table};
use crate::report::run_verdict::{best_first, verdict};
use crate::report::spreads_text::{figures, heading, tightest, worst};
use crate::report::words::{plain, quoted};
use crate::report::{Ending, Run, misses};
use crate::stats::Estimate;

/// Most limits of one plan that have a bar.
const MOST_LIMITS: usize = 6;

/// Most beams, frequencies and temperatures, of each, whose yields are in the table.
const MOST_PLACES: usize = 12;

/// A run as a page: the calibration plan of number `shown` in detail, `views` those of its units.
pub(crate) fn run_page(run: &Run, shown: usize, views: &Views, origin: &Origin) -> Page {
    let name = &run.summary.calibrations[shown].name;
    let read = views.sweep.iter().map(|sweep| readings(sweep, name)).collect();
    let about = About {
        model: run.model,
        lead: lead(run),
        verdict: verdict(run),
        units: run.summary.trials.to_string(),
        confidence: run.model.confidence,
        seconds: run.seconds,
        warnings: run.warnings,
    };
    let sections = [
        Section::of("Yield", yield_parts(run, shown)),
        Section::of("What fails", failures(run, shown)),
        Section::of("How the figures spread", spread_charts(run, shown)),
        Section::of("Patterns", patterns(run.model, views, name)),
        Section::of("Residual errors of the channels", residuals(run.model, views, name)),
        Section::of("Readings of the bench", read),
        Section::of("The figures in numbers", spreads(run)),
    ];
    about.page(sections, origin)
}

fn lead(run: &Run) -> String {
    let trials = run.summary.trials;
    let built = format!(
        "{} built from seed {}, each calibrated by {}.",
        counted(trials, "unit"),
        run.model.seed,
        counted(run.summary.calibrations.len() as u64, "plan")
    );
    match run.ending {
        Ending::Stopped { planned } => {
            format!("PARTIAL: stopped after {trials} of {planned} units, so every interval is wider. {built}")
        }
        Ending::TooWide => {
            format!(
                "{built} These are all that are allowed; the yield interval is wider than the study asks for."
            )
        }
        Ending::AsAsked => built,
    }
}

fn yield_parts(run: &Run, shown: usize) -> Vec<Part> {
    let plans = || run.summary.calibrations.iter().enumerate();
    let timed = plans().zip(run.passes).map(|((number, of), passes)| (number, of.bench_seconds.mean, passes));
    let front = pareto_front(&bench_steps(timed, run.model.confidence));
    let rated: Vec<Rated> = plans()
        .filter_map(|(number, of)| {
            let (share, seconds) = (of.yield_.as_ref()?, of.bench_seconds.mean);
            Some(Rated { name: of.name.clone(), share, seconds, is_front: front.contains(&number) })
        })
        .collect();
    if rated.is_empty() {
        return vec![Part::Text("There is none, as the study has no limits.".to_owned())];
    }
    let confidence = run.model.confidence;
    let found = run.passes.get(shown).map(|of| of.convergence(confidence)).unwrap_or_default();
    let name = &run.summary.calibrations[shown].name;
    let parts = [
        yields(&rated, confidence, None),
        minutes(&rated, confidence),
        convergence(&found, name, confidence),
    ];
    parts.into_iter().flatten().collect()
}

fn failures(run: &Run, shown: usize) -> Vec<Part> {
    let mut parts = failures_of(run, &run.summary.calibrations[shown]);
    let mut table = Table::new(
        "The limit missed most often after each plan",
        vec![words("plan"), words("limit"), numbers("miss it"), numbers("miss nothing else")],
    );
    for (_, of) in best_first(run.summary) {
        let Some(most) = of.families.first() else { continue };
        let shares = [with_interval(&most.missed), percent(&most.nothing_else).0];
        let names = [plain(&of.name), misses::missed(run.model, of, most)];
        table.row(names.into_iter().chain(shares));
    }
    if run.summary.calibrations.len() > 1 && !table.rows.is_empty() {
        parts.push(Part::Table(table));
    }
    parts.extend(places(run, &run.summary.calibrations[shown]));
    parts
}

/// The yield of each beam, frequency and temperature, and of their combinations.
fn places(run: &Run, of: &CalibrationSummary) -> Option<Part> {
    let places = misses::places(run.model, of, MOST_PLACES)?;
    let note = places.note.map_or(String::new(), |note| format!(". {note}"));
    let caption = format!("Yield at each place alone, after {}{note}", quoted(&of.name));
    Some(Part::Table(Table { caption, header: places.header, rows: places.rows }))
}

/// Limits at each beam by how many units miss them.
fn failures_of(run: &Run, of: &CalibrationSummary) -> Vec<Part> {
    let trials = run.summary.trials;
    let in_percent = |share: f64| 100.0 * share;
    let name = quoted(&of.name);
    let table = |caption: String, all: &[MissSummary]| {
        let mut table =
            Table::new(caption, vec![words("limit"), numbers("miss it"), numbers("miss nothing else")]);
        for miss in all {
            let shares = [with_interval(&miss.missed), percent(&miss.nothing_else).0];
            table.row(std::iter::once(misses::missed(run.model, of, miss)).chain(shares));
        }
        table
    };
    let bar = |miss: &MissSummary| {
        let name = misses::missed(run.model, of, miss);
        let tip = format!("{name}: {}", misses::shares(miss));
        let Estimate { value, low, high, .. } = miss.missed;
        Bar {
            name,
            from: 0.0,
            to: in_percent(value),
            interval: Some([low, high].map(in_percent)),
            inner: Some(in_percent(miss.nothing_else.value)),
            text: percent(&miss.missed).0,
            tip,
        }
    };
    let bars: Vec<Bar> = of.families.iter().take(MOST_LIMITS).map(bar).collect();
    let mut parts = Vec::new();
    if let Some(first) = bars.first() {
        let alt = format!(
            "The longest bar: {}, {} of units. A diamond marks those that miss nothing else.",
            first.name, first.text
        );
        let ends = bars.iter().flat_map(|bar| bar.interval.into_iter().flatten());
        let axis = Axis::from_zero("units that miss it", "%", ends.collect::<Vec<_>>());
        let title = format!("After {name}: limits by how many units miss them (diamond: and nothing else)");
        let caption = format!("Limits missed after {name}; alike: missed by the very same units");
        let each = table(caption, &of.families);
        parts.push(Part::chart(title, alt, Ranked { axis, bars, base: None }.into(), each));
    }
    if of.misses.len() > of.families.len() {
        let caption = format!("Limits missed after {name}, each frequency and temperature by itself");
        parts.push(Part::Table(table(caption, &of.misses)));
    }
    for (failure, count) in Failure::ALL.iter().zip(of.failed).filter(|(_, count)| *count > 0) {
        let text = format!(
            "After {name}, {} of units fail whatever their figures are: {}.",
            share(count, trials),
            failure.reason()
        );
        parts.push(Part::Text(text));
    }
    parts
}

/// A table a figure, at its worst beam and frequency.
fn spreads(run: &Run) -> Vec<Part> {
    let model = run.model;
    let tables = figures(model).into_iter().filter_map(|figure| {
        let column = worst(model, &[run.summary], figure)?;
        let mut header = vec![words("plan"), numbers("mean"), numbers("predicted")];
        header.extend(PERCENTILES.map(|of| numbers(format!("{of} %"))));
        header.push(numbers("within limit"));
        let mut table = Table::new(heading(run, column), header);
        for of in &run.summary.calibrations {
            table.row(spread(of, column));
        }
        Some(Part::Table(table.trimmed()))
    });
    let tables: Vec<Part> = tables.collect();
    if tables.is_empty() || model.points.len() < 2 {
        return tables;
    }
    let note = "Each figure at its worst beam and frequency; --json has all.".to_owned();
    std::iter::once(Part::Text(note)).chain(tables).collect()
}

fn spread(of: &CalibrationSummary, column: usize) -> Vec<String> {
    let figure = &of.figures[column];
    let moments = &figure.moments;
    let error = moments.standard_error();
    let mean = if moments.count > 0 { rounded(moments.mean, error) } else { ABSENT.to_owned() };
    let predicted = figure.predicted_mean.map_or(ABSENT.to_owned(), |mean| rounded(mean, error));
    let mut row = vec![plain(&of.name), mean, predicted];
    row.extend(
        (0..PERCENTILES.len()).map(|at| figure.percentiles.get(at).map_or(ABSENT.to_owned(), estimate)),
    );
    row.push(tightest(of, column).map_or(ABSENT.to_owned(), |limit| percent(&limit.yield_).0));
    row
}
