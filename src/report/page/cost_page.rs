//! A costing as a page.

use crate::decide::{Bill, Pareto};
use crate::report::cost_text::{ends, instead};
use crate::report::cost_verdict::{offer, verdict};
use crate::report::cost_words::lines;
use crate::report::grid::{numbers, words};
use crate::report::money::{bare, money};
use crate::report::number::{ABSENT, counted, duration, percent, significant};
use crate::report::page::about::{About, Origin};
use crate::report::page::chart::{Bar, Curve, Drawn, Intervals, Point, Ranked, Row, Series, Split};
use crate::report::page::parts::{Rated, minutes};
use crate::report::page::{Axis, Page, Part, Section, Table};
use crate::report::{CostRun, Ending};

/// Most inputs that have a bar.
const MOST_INPUTS: usize = 12;

/// A costing as a page.
pub(crate) fn cost_page(run: &CostRun, origin: &Origin) -> Page {
    let compared = &run.costed.compared;
    let about = About {
        model: &run.models[0],
        lead: lead(run),
        verdict: verdict(run),
        units: format!("{}, the same for every plan", compared.trials()),
        confidence: compared.confidence,
        seconds: run.seconds,
        warnings: run.warnings,
    };
    let sections = [
        Section::of("Cost of a good unit", costs(run).into_iter().chain(split(run)).collect()),
        Section::of("Units that are mended", mending(run)),
        Section::of("Minutes and yield", pareto(run).into_iter().collect()),
        Section::of("What more bench time saves", steps(run)),
        Section::of("Sensitivity of the cost", tornado(run).into_iter().collect()),
        Section::of(
            "Offers",
            run.costed.offers().iter().map(|case| Part::Text(format!("{}.", offer(run, case)))).collect(),
        ),
    ];
    about.page(sections, origin)
}

fn lead(run: &CostRun) -> String {
    let priced = format!(
        "{} priced on the same {} from seed {}, in {}, for {}.",
        counted(run.costed.all().len() as u64, "plan"),
        run.units(),
        run.models[0].seed,
        run.currency(),
        run.rate()
    );
    match run.ending {
        Ending::Stopped { planned } => {
            format!(
                "PARTIAL: stopped after {} of {planned} units, so every interval is wider. {priced}",
                run.units()
            )
        }
        _ if run.lacks_ladder => {
            format!("PARTIAL: stopped before other numbers of averages were tried. {priced}")
        }
        _ => priced,
    }
}

/// The plans by the cost of a good unit.
fn costs(run: &CostRun) -> Option<Part> {
    let (header, cells) = run.plan_table(run.costed.all(), |of| run.name(of));
    let mut table = Table::new("Cost of a good unit by each plan", header);
    cells.into_iter().for_each(|row| table.row(row));
    let mut rows = Vec::new();
    for of in run.costed.all() {
        let (cost, interval) = run.cost(of);
        let Some(total) = run.costed.priced[of].total.as_ref().filter(|of| of.value.is_finite()) else {
            continue;
        };
        let high = if total.high.is_finite() { total.high } else { total.value };
        let tip = format!("{}: {cost} ({interval})", run.name(of));
        rows.push(Row {
            name: run.name(of),
            value: total.value,
            interval: [total.low, high],
            text: cost,
            tip,
        });
    }
    let best = rows.iter().min_by(|a, b| a.value.total_cmp(&b.value))?;
    let alt = format!("A bar for each plan; the lowest is {} with {}.", best.name, best.text);
    let axis = Axis::from_zero(
        "cost of a good unit",
        run.currency(),
        rows.iter().map(|row| row.interval[1]).collect::<Vec<_>>(),
    );
    let title = format!("What a good unit costs, with {} intervals", run.confidence());
    Some(Part::chart(title, alt, Intervals { axis, rows, level: None }.into(), table))
}

/// The parts of the cost.
fn split(run: &CostRun) -> Option<Part> {
    let shown = run.shown().into_iter();
    let bills: Vec<(usize, Bill)> = shown.filter_map(|of| Some((of, run.costed.priced[of].bill?))).collect();
    let first = &bills.first()?.1;
    let names = lines(first).map(|(name, _)| name);
    let used: Vec<usize> =
        (0..names.len()).filter(|line| bills.iter().any(|(_, bill)| lines(bill)[*line].1 != 0.0)).collect();
    let largest = bills.iter().map(|(_, bill)| bill.total()).fold(0.0, f64::max);
    // Cents where there is room for them.
    let written = |value: f64| if largest < 1000.0 { bare(value) } else { format!("{value:.0}") };
    let mut header = vec![words("plan")];
    header.extend(used.iter().map(|line| numbers(names[*line])));
    header.push(numbers("in all"));
    let title = format!("Parts of the cost, {}, at the yields found", run.currency());
    let mut table = Table::new(&*title, header);
    let mut rows = Vec::new();
    for (of, bill) in &bills {
        let values: Vec<(f64, String)> =
            used.iter().map(|line| lines(bill)[*line].1).map(|value| (value, written(value))).collect();
        let cells = values.iter().map(|(_, text)| text.clone());
        table.row(std::iter::once(run.name(*of)).chain(cells).chain([written(bill.total())]));
        rows.push((run.name(*of), values));
    }
    let parts = used.iter().map(|line| names[*line].to_owned()).collect();
    let alt = "A row for each plan, a column for each part of its cost, all bars to one scale.";
    let plot = Split { parts, rows, unit: run.currency().to_owned() };
    Some(Part::chart(title, alt, plot.into(), table))
}

/// The outcome for units whose parts are replaced, and a caution on a stated success.
fn mending(run: &CostRun) -> Vec<Part> {
    let mut parts: Vec<Part> = run.hopeful(run.costed.all()).map(Part::Text).into_iter().collect();
    let (header, rows) = run.mending_table(run.costed.all());
    if let Some(title) = run.mending().filter(|_| !rows.is_empty()) {
        let mut table = Table::new(title, header);
        rows.into_iter().for_each(|row| table.row(row));
        parts.push(Part::Table(table));
    }
    parts
}

/// The plans of the study by their minutes and their yield.
fn pareto(run: &CostRun) -> Option<Part> {
    let by = run.costed.dominated(Pareto::Minutes);
    let rated = run.costed.of_design(0).filter_map(|of| {
        let (share, seconds) = (run.costed.compared.yield_of(of)?, run.costed.compared.seconds(of));
        Some(Rated { name: run.name(of), share, seconds, is_front: by[of].is_none() })
    });
    minutes(&rated.collect::<Vec<_>>(), run.costed.compared.confidence)
}

fn steps(run: &CostRun) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut table = Table::new(
        "Each step from the last plan that saved something",
        vec![words("from"), words("to"), words("saving")],
    );
    for step in run.costed.steps(0) {
        table.row([run.name(step.from), run.name(step.to), run.step(&step)]);
    }
    if !table.rows.is_empty() {
        parts.push(Part::Table(table));
    }
    parts.extend(averages(run));
    parts
}

/// One plan with more and fewer averages.
fn averages(run: &CostRun) -> Option<Part> {
    let (candidate, ladder) = run.ladder?;
    let costed = &ladder.costed;
    let mut table = Table::new(
        format!("More averaging after {}", run.quoted(candidate)),
        vec![
            numbers("averages"),
            numbers("bench time"),
            numbers("yield"),
            numbers("cost"),
            numbers("interval"),
        ],
    );
    let mut points = Vec::new();
    for (of, averages) in ladder.averages.iter().enumerate() {
        let total = costed.priced[of].total.as_ref();
        let (cost, interval) =
            total.map_or((ABSENT.to_owned(), ABSENT.to_owned()), |total| money(total, run.currency()));
        let share = costed.compared.yield_of(of).map_or(ABSENT.to_owned(), |share| percent(share).0);
        table.row([
            averages.to_string(),
            duration(costed.compared.seconds(of)),
            share,
            cost.clone(),
            interval.clone(),
        ]);
        let tip = format!("{averages} averages: {cost} ({interval})");
        points.push(Point {
            x: f64::from(*averages),
            y: total.map_or(f64::NAN, |total| total.value),
            interval: total.filter(|of| of.high.is_finite()).map(|of| [of.low, of.high]),
            tip,
        });
    }
    let ends = points
        .iter()
        .flat_map(|of| of.interval.into_iter().flatten().chain([of.y]))
        .filter(|of| of.is_finite());
    let y = Axis::around("cost of a good unit", run.currency(), ends.collect::<Vec<_>>());
    let x = Axis::spread("averages", "", points.iter().map(|of| of.x));
    let own = ladder.averages.get(ladder.own).map(|count| (f64::from(*count), "as stated".to_owned()));
    let title = format!("Cost of a good unit over the averages of {}", run.quoted(candidate));
    let alt = "A point for each number of averages, with its interval.";
    let series = vec![Series { name: String::new(), points, drawn: Drawn::Both }];
    let plot = Curve { x, y, series, levels: Vec::new(), uprights: own.into_iter().collect() };
    Some(Part::chart(title, alt, plot.into(), table))
}

/// The sensitivity of the cheapest plan's cost to each input.
fn tornado(run: &CostRun) -> Option<Part> {
    let cheapest = run.costed.cheapest()?;
    let own = run.costed.total(cheapest);
    let mut table = Table::new(
        format!(
            "Each input at the ends of its range, all others as stated; cost by {} in {}",
            run.quoted(cheapest),
            run.currency()
        ),
        vec![
            words("input"),
            numbers("from"),
            numbers("to"),
            numbers("cost there"),
            numbers("cost there"),
            words("then the cheapest"),
        ],
    );
    let mut bars = Vec::new();
    for swing in run.costed.tornado(cheapest) {
        let name = run.input(&swing.input);
        let [from, to] = ends(&swing);
        let costs =
            swing.costs.map(|cost| if cost.is_finite() { significant(cost, 5) } else { ABSENT.to_owned() });
        let [low, high] = costs.clone();
        table.row([name.clone(), from.clone(), to.clone(), low, high, instead(run, &swing)]);
        if swing.costs.iter().all(|cost| cost.is_finite()) {
            let tip = format!("{name}: {} at {from}, {} at {to}", costs[0], costs[1]);
            let text = format!("{} to {}", costs[0], costs[1]);
            bars.push(Bar {
                name,
                from: swing.costs[0],
                to: swing.costs[1],
                interval: None,
                inner: None,
                text,
                tip,
            });
        }
    }
    bars.truncate(MOST_INPUTS);
    let first = bars.first()?;
    let alt = format!("The widest bar: {}, {}.", first.name, first.text);
    let all: Vec<f64> = bars.iter().flat_map(|bar| [bar.from, bar.to]).chain([own]).collect();
    let axis = Axis::around("cost of a good unit", run.currency(), all);
    let title = format!("Sensitivity of the cost by {} to its inputs", run.quoted(cheapest));
    let base = Some((own, "as stated".to_owned()));
    Some(Part::chart(title, alt, Ranked { axis, bars, base }.into(), table))
}
