//! A run as a page.

use crate::decide::{front, rungs};
use crate::engine::{CalibrationSummary, Failure, LimitSummary, PERCENTILES, Views};
use crate::report::grid::{numbers, words};
use crate::report::number::{ABSENT, counted, estimate, percent, rounded, share};
use crate::report::page::about::{About, Origin};
use crate::report::page::chart::{Bar, Ranked};
use crate::report::page::parts::{Rated, convergence, minutes, yields};
use crate::report::page::spread_charts::spread_charts;
use crate::report::page::view_charts::{patterns, readings, residuals};
use crate::report::page::{Axis, Page, Part, Section, Table};
use crate::report::run_verdict::{best_first, most_missed, verdict};
use crate::report::spreads_text::{figures, heading, tightest, worst};
use crate::report::words::{miss, plain, quoted};
use crate::report::{Ending, Run};

/// Most limits of one plan that have a bar.
const MOST_LIMITS: usize = 6;

/// A run as a page: the calibration plan of number `shown` in detail, `views` those of its units.
pub fn run_page(run: &Run, shown: usize, views: &Views, origin: &Origin) -> Page {
    let name = &run.summary.calibrations[shown].name;
    let read = views.sweep.iter().map(|sweep| readings(sweep, name)).collect();
    let about = About {
        plan: run.plan,
        lead: lead(run),
        verdict: verdict(run),
        units: run.summary.trials.to_string(),
        confidence: run.plan.confidence,
        seconds: run.seconds,
        warnings: run.warnings,
    };
    let sections = [
        Section::of("Yield", yield_parts(run, shown)),
        Section::of("What fails first", failures(run, shown)),
        Section::of("How the figures spread", spread_charts(run, shown)),
        Section::of("What the array radiates", patterns(run.plan, views, name)),
        Section::of("What is left in the channels", residuals(run.plan, views, name)),
        Section::of("What the bench reads", read),
        Section::of("The figures in numbers", spreads(run)),
    ];
    about.page(sections, origin)
}

fn lead(run: &Run) -> String {
    let trials = run.summary.trials;
    let built = format!(
        "{} built from seed {}, each calibrated by {}.",
        counted(trials, "unit"),
        run.plan.seed,
        counted(run.summary.calibrations.len() as u64, "plan")
    );
    match run.ending {
        Ending::Stopped { planned } => {
            format!("PARTIAL: stopped after {trials} of {planned} units, so every interval is wider. {built}")
        }
        Ending::TooWide => {
            format!("{built} These are all that are allowed; the yield interval is wider than asked.")
        }
        Ending::AsAsked => built,
    }
}

fn yield_parts(run: &Run, shown: usize) -> Vec<Part> {
    let plans = || run.summary.calibrations.iter().enumerate();
    let timed = plans().zip(run.passes).map(|((number, of), passes)| (number, of.bench_seconds.mean, passes));
    let front = front(&rungs(timed, run.plan.confidence));
    let rated: Vec<Rated> = plans()
        .filter_map(|(number, of)| {
            let (share, seconds) = (of.yield_.as_ref()?, of.bench_seconds.mean);
            Some(Rated { name: of.name.clone(), share, seconds, is_front: front.contains(&number) })
        })
        .collect();
    if rated.is_empty() {
        return vec![Part::Text("There is none, as the study has no limits.".to_owned())];
    }
    let confidence = run.plan.confidence;
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
        "What units miss first most often after each plan",
        vec![words("plan"), words("limit"), numbers("miss it first"), numbers("miss nothing else")],
    );
    for (_, of) in best_first(run.summary) {
        let Some(first) = most_missed(of) else { continue };
        let counts = [first.first_missed, first.only_missed].map(|count| share(count, run.summary.trials));
        table.row([plain(&of.name), miss(run.plan, &first.limit)].into_iter().chain(counts));
    }
    if run.summary.calibrations.len() > 1 && !table.rows.is_empty() {
        parts.push(Part::Table(table));
    }
    parts
}

/// Limits by how many units miss them first; of equals, in the study's order.
fn failures_of(run: &Run, of: &CalibrationSummary) -> Vec<Part> {
    let trials = run.summary.trials;
    let mut missed: Vec<&LimitSummary> = of.limits.iter().filter(|limit| limit.first_missed > 0).collect();
    missed.sort_by_key(|limit| std::cmp::Reverse(limit.first_missed));
    let in_percent = |count: u64| 100.0 * count as f64 / trials.max(1) as f64;
    let name = quoted(&of.name);
    let mut table = Table::new(
        format!("Limits missed after {name}, by the order of the study's limits"),
        vec![words("limit"), numbers("miss it first"), numbers("miss nothing else"), numbers("meet it")],
    );
    for limit in &missed {
        let counts = [limit.first_missed, limit.only_missed].map(|count| share(count, trials));
        table.row(
            std::iter::once(miss(run.plan, &limit.limit)).chain(counts).chain([percent(&limit.yield_).0]),
        );
    }
    let bar = |limit: &&LimitSummary| {
        let text = share(limit.first_missed, trials);
        let name = miss(run.plan, &limit.limit);
        let tip =
            format!("{name}: {text} miss it first, {} miss nothing else", share(limit.only_missed, trials));
        Bar {
            name,
            from: 0.0,
            to: in_percent(limit.first_missed),
            interval: None,
            inner: Some(in_percent(limit.only_missed)),
            text,
            tip,
        }
    };
    let bars: Vec<Bar> = missed.iter().take(MOST_LIMITS).map(bar).collect();
    let mut parts = Vec::new();
    if let Some(first) = bars.first() {
        let alt = format!(
            "The longest bar: {}, {} of units. A diamond marks those that miss nothing else.",
            first.name, first.text
        );
        let axis = Axis::from_zero("units that miss it first", "%", [first.to]);
        let title = format!("After {name}: limits that units miss first (diamond: and no other)");
        parts.push(Part::chart(title, alt, Ranked { axis, bars, base: None }.into(), table));
    }
    for (failure, count) in Failure::ALL.iter().zip(of.failed).filter(|(_, count)| *count > 0) {
        let told = format!(
            "After {name}, {} of units fail whatever they measure: {}.",
            share(count, trials),
            failure.reason()
        );
        parts.push(Part::Text(told));
    }
    parts
}

/// A table a figure, at its worst beam and frequency.
fn spreads(run: &Run) -> Vec<Part> {
    let plan = run.plan;
    let tables = figures(plan).into_iter().filter_map(|figure| {
        let column = worst(plan, &[run.summary], figure)?;
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
    if tables.is_empty() || plan.looks.len() < 2 {
        return tables;
    }
    let told = "Each figure at its worst beam and frequency; --json has all.".to_owned();
    std::iter::once(Part::Text(told)).chain(tables).collect()
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
