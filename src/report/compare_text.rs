//! Calibration plans side by side in tables: the yields, their differences unit by unit, what bench minutes buy.

use crate::report::compare_verdict::{against, cannot_tell, confidence, gain, quoted, verdict};
use crate::report::grid::{Grid, Side, numbers, paragraph, words};
use crate::report::lots_text;
use crate::report::number::{ABSENT, counted, duration, estimate, percent, points, rounded, significant};
use crate::report::spreads_text::{figures, percentile, worst};
use crate::report::words::{figure as figure_name, plain, point};
use crate::report::{CompareRun, Ending};
use crate::stats::Estimate;

/// Units named of those that a plan saves, and of those that it loses.
const NAMED: usize = 5;

/// Width of a plan's name where tables are aligned: as wide as the widest, within these bounds.
const NAME: std::ops::RangeInclusive<usize> = 8..=24;

/// Width of a number there.
const NUMBER: usize = 8;

/// Width of a difference of means there.
const DIFFERENCE: usize = 23;

/// A comparison for people, at most 80 columns wide.
pub(crate) fn compare_text(run: &CompareRun) -> String {
    let parts = [
        head(run),
        cautions(run),
        yields(run),
        differences(run),
        units_apart(run),
        steps(run),
        spreads(run),
        paragraph(&verdict(run), 0, 0),
    ];
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

fn head(run: &CompareRun) -> String {
    let trials = run.compared.trials();
    let mut text = String::new();
    let first = match run.ending {
        Ending::Stopped { planned } => {
            format!("PARTIAL: stopped after {trials} of {planned} units, so every interval is wider.")
        }
        Ending::TooWide => {
            format!(
                "All {trials} units allowed are built; the yield intervals are wider than the study asks for."
            )
        }
        Ending::AsAsked => String::new(),
    };
    if !first.is_empty() {
        text.push_str(&paragraph(&first, 0, 0));
    }
    text.push_str(&paragraph(&plain(&run.models[0].title), 0, 0));
    for (design, model) in run.designs.iter().zip(run.models).skip(1) {
        let line =
            format!("with {} ({}): {}", plain(&design.label), plain(&design.file), plain(&model.title));
        text.push_str(&paragraph(&line, 0, 2));
    }
    let built = format!(
        "{} compared on the same {} from seed {}, in {}.",
        counted(run.names.len() as u64, "plan"),
        counted(trials, "unit"),
        run.models[0].seed,
        duration(run.seconds)
    );
    text + &paragraph(&built, 0, 0) + &lots_text::note(&run.models[0], trials)
}

/// Differences of the designs other than hardware.
fn cautions(run: &CompareRun) -> String {
    let found = run.cautions();
    if found.is_empty() {
        return String::new();
    }
    let lines: String = found.iter().map(|caution| paragraph(caution, 2, 4)).collect();
    format!("Caution: the designs differ by more than their hardware\n\n{lines}")
}

fn takes_time(run: &CompareRun) -> bool {
    (0..run.names.len()).any(|of| run.compared.seconds(of) > 0.0)
}

fn bench_time(run: &CompareRun, candidate: usize) -> String {
    match run.compared.seconds(candidate) {
        0.0 => ABSENT.to_owned(),
        seconds => duration(seconds),
    }
}

fn yields(run: &CompareRun) -> String {
    if run.compared.best().is_none() {
        let mut text =
            "Yield: none, as there are no limits; the means of the figures are compared below.".to_owned();
        let times = (0..run.names.len()).filter(|of| run.compared.seconds(*of) > 0.0);
        let times: Vec<String> =
            times.map(|of| format!("{} {}", quoted(run, of), bench_time(run, of))).collect();
        if !times.is_empty() {
            text.push_str(&format!(" Bench time: {}.", times.join(", ")));
        }
        return paragraph(&text, 0, 0);
    }
    let mut header = vec![words("plan"), numbers("yield"), numbers(format!("{} interval", confidence(run)))];
    if takes_time(run) {
        header.push(numbers("bench time"));
    }
    let mut grid = Grid::new(&header);
    for (number, name) in run.names.iter().enumerate() {
        let (value, interval) =
            run.compared.yield_of(number).map_or((ABSENT.to_owned(), ABSENT.to_owned()), percent);
        let mut row = vec![plain(name), value, interval];
        if takes_time(run) {
            row.push(bench_time(run, number));
        }
        grid.row(row);
    }
    format!("Yield: the share of units that meet every limit\n\n{}", grid.text())
}

/// The difference of every plan from the one they are compared with.
fn differences(run: &CompareRun) -> String {
    let mut grid = Grid::new(&[
        words("plan"),
        numbers("points"),
        numbers(format!("{} interval", confidence(run))),
        numbers("saves"),
        numbers("loses"),
        numbers("pairing"),
    ]);
    let mut unclear = String::new();
    for (number, over) in against(run) {
        let (value, interval) = points(&over.difference);
        grid.row([
            plain(&run.names[number]),
            value,
            interval,
            over.pairs.only_first.to_string(),
            over.pairs.only_second.to_string(),
            format!("{} x", significant(over.width_ratio, 3)),
        ]);
        if let Some(said) = cannot_tell(run, number, run.against, &over) {
            unclear.push_str(&paragraph(&(said + "."), 2, 4));
        }
    }
    if against(run).next().is_none() {
        return String::new();
    }
    let base = quoted(run, run.against);
    let notes = format!(
        "A plan saves units that fail after {base}, and loses units that pass after it. Pairing: how many times wider \
         the interval of two unpaired runs of as many units would be."
    );
    let unclear = if unclear.is_empty() { unclear } else { format!("\n{unclear}") };
    format!(
        "Points of yield against {base}, unit by unit\n\n{}\n{}{unclear}",
        grid.text(),
        paragraph(&notes, 2, 2)
    )
}

/// The first units with different verdicts.
fn units_apart(run: &CompareRun) -> String {
    let mut text = String::new();
    for (number, over) in against(run) {
        let saved = first(run.compared.saved(number, run.against), over.pairs.only_first);
        let lost = first(run.compared.saved(run.against, number), over.pairs.only_second);
        let said: Vec<String> = [("saves", saved), ("loses", lost)]
            .iter()
            .filter_map(|(verb, units)| Some(format!("{verb} {}", units.as_ref()?)))
            .collect();
        if !said.is_empty() {
            text.push_str(&paragraph(&format!("{}: {}", plain(&run.names[number]), said.join("; ")), 2, 4));
        }
    }
    if text.is_empty() {
        return text;
    }
    let base = quoted(run, run.against);
    format!(
        "{}\n{text}",
        paragraph(
            &format!("Units with another verdict after {base}, by number (--json has more, --csv all)"),
            0,
            0
        )
    )
}

/// "unit 17", "units 3, 17, 20, ..."
fn first(units: impl Iterator<Item = u64>, count: u64) -> Option<String> {
    let named: Vec<String> = units.take(NAMED).map(|unit| unit.to_string()).collect();
    let more = if count > named.len() as u64 { ", ..." } else { "" };
    match named.len() {
        0 => None,
        1 => Some(format!("unit {}{more}", named[0])),
        _ => Some(format!("units {}{more}", named.join(", "))),
    }
}

/// The gain of each further step of bench time.
fn steps(run: &CompareRun) -> String {
    let mut text = String::new();
    for design in 0..run.models.len() {
        for step in run.compared.bench_steps(design) {
            let (from, to) = (&run.names[step.from], &run.names[step.to]);
            let line = format!("from {} to {}: {}", plain(from), plain(to), gain(run, &step));
            text.push_str(&paragraph(&line, 2, 4));
        }
    }
    if text.is_empty() {
        return text;
    }
    format!("What more bench time buys, each step from the last plan that bought some yield\n\n{text}")
}

/// The means of the limited figures, or of all where none is, each at its worst beam point.
fn spreads(run: &CompareRun) -> String {
    let base = &run.compared.candidates[run.against];
    let model = &run.models[base.design];
    let widest = run.names.iter().map(|name| name.chars().count()).max().unwrap_or(0);
    let number = (Side::Right, NUMBER);
    let name = (Side::Left, widest.clamp(*NAME.start(), *NAME.end()));
    let columns = [name, number, number, number, (Side::Right, DIFFERENCE)];
    let mut text = String::new();
    for figure in figures(model) {
        let column_of = |measure: usize| run.compared.measures[measure].columns[base.design];
        let of_figure = |measure: &usize| {
            column_of(*measure).is_some_and(|column| model.columns[column].figure == figure)
        };
        let measures: Vec<usize> = (0..run.compared.measures.len()).filter(of_figure).collect();
        let worst = worst(model, &[&run.compared.summaries[base.design]], figure);
        let at_worst = measures.iter().copied().find(|measure| column_of(*measure) == worst);
        let Some(measure) = at_worst.or(measures.first().copied()) else { continue };
        let Some(column) = column_of(measure) else { continue };
        let place = format!("{}, {}", figure_name(figure), point(model, model.columns[column].point));
        text.push_str(&paragraph(&place, 2, 4));
        let mut grid = Grid::in_line(&columns);
        for candidate in 0..run.names.len() {
            if let Some(row) = spread(run, candidate, measure) {
                grid.row(row);
            }
        }
        text.push_str(&grid.text());
    }
    if text.is_empty() {
        return text;
    }
    let mut header = Grid::in_line(&columns);
    header.row(["", "mean", "5 %", "95 %", "difference of means"].map(str::to_owned));
    let what = if run.compared.best().is_some() { "limited figures" } else { "figures" };
    let title = format!(
        "How the {what} spread, and the difference of their means from those of {}, at {} confidence",
        quoted(run, run.against),
        confidence(run)
    );
    format!("{}\n{}{text}", paragraph(&title, 0, 0), header.text())
}

fn spread(run: &CompareRun, candidate: usize, measure: usize) -> Option<Vec<String>> {
    let design = run.compared.candidates[candidate].design;
    let column = run.compared.measures[measure].columns[design]?;
    let figure = &run.compared.summary(candidate).figures[column];
    let moments = &figure.moments;
    let mean =
        if moments.count > 0 { rounded(moments.mean, moments.standard_error()) } else { ABSENT.to_owned() };
    let [low, high] = [5, 95].map(|p| percentile(figure, p).map_or(ABSENT.to_owned(), estimate));
    let over = run.compared.mean_difference(candidate, run.against, measure);
    let over = over.map_or(ABSENT.to_owned(), |over| difference(&over.difference));
    Some(vec![plain(&run.names[candidate]), mean, low, high, over])
}

/// "0.0123 +/- 0.0004": the interval of a mean is symmetric.
pub(super) fn difference(of: &Estimate) -> String {
    let half = 0.5 * (of.high - of.low);
    format!("{} +/- {}", rounded(of.value, half), rounded(half, half))
}
