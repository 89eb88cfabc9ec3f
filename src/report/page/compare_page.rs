//! A comparison as a page.

use crate::decide::pareto_front;
use crate::report::compare_verdict::{against, cannot_tell, gain, quoted, verdict};
use crate::report::grid::{numbers, words};
use crate::report::number::{self, ABSENT, counted, points, rounded, significant};
use crate::report::page::about::{About, Origin};
use crate::report::page::chart::{Bar, Ranked};
use crate::report::page::parts::{Rated, convergence, minutes, yields};
use crate::report::page::{Axis, Page, Part, Section, Table};
use crate::report::words::{figure, plain, point, sentences};
use crate::report::{CompareRun, Ending};

/// A comparison as a page.
pub(crate) fn compare_page(run: &CompareRun, origin: &Origin) -> Page {
    let about = About {
        model: &run.models[0],
        lead: lead(run),
        verdict: verdict(run),
        units: format!("{}, the same for every plan", run.compared.trials()),
        confidence: run.compared.confidence,
        seconds: run.seconds,
        warnings: run.warnings,
    };
    let sections = [
        Section::of("Where the designs differ", cautions(run)),
        Section::of("Yield", yield_parts(run)),
        Section::of("Differences of the yields", differences(run)),
        Section::of("What more bench time buys", steps(run)),
        Section::of("Means of the figures", means(run)),
    ];
    about.page(sections, origin)
}

fn lead(run: &CompareRun) -> String {
    let trials = run.compared.trials();
    let others: Vec<String> = run.designs.iter().skip(1).map(|of| plain(&of.file)).collect();
    let with = if others.is_empty() { String::new() } else { format!(" with {}", others.join(", ")) };
    let compared = format!(
        "{}{with} compared on the same {} from seed {}.",
        counted(run.names.len() as u64, "plan"),
        counted(trials, "unit"),
        run.models[0].seed
    );
    match run.ending {
        Ending::Stopped { planned } => {
            format!(
                "PARTIAL: stopped after {trials} of {planned} units, so every interval is wider. {compared}"
            )
        }
        Ending::TooWide => {
            format!(
                "{compared} These are all that are allowed; the yield intervals are wider than the study asks for."
            )
        }
        Ending::AsAsked => compared,
    }
}

/// Differences of the designs other than hardware.
fn cautions(run: &CompareRun) -> Vec<Part> {
    run.cautions().into_iter().map(|caution| Part::Text(sentences(&[caution]))).collect()
}

fn yield_parts(run: &CompareRun) -> Vec<Part> {
    // Bench times of different hardware have no common front.
    let front = if run.models.len() == 1 { pareto_front(&run.compared.bench_steps(0)) } else { Vec::new() };
    let rated = (0..run.names.len()).filter_map(|of| {
        let is_front = front.contains(&of);
        let (share, seconds) = (run.compared.yield_of(of)?, run.compared.seconds(of));
        Some(Rated { name: run.names[of].clone(), share, seconds, is_front })
    });
    let rated: Vec<Rated> = rated.collect();
    if rated.is_empty() {
        return vec![Part::Text("There is none, as there are no limits.".to_owned())];
    }
    let confidence = run.compared.confidence;
    let best = run.compared.best();
    let found = best.and_then(|best| Some((run.compared.convergence(best)?, &run.names[best])));
    let parts = [
        yields(&rated, confidence, None),
        minutes(&rated, confidence),
        found.and_then(|(found, name)| convergence(&found, name, confidence)),
    ];
    parts.into_iter().flatten().collect()
}

fn differences(run: &CompareRun) -> Vec<Part> {
    let base = quoted(run, run.against);
    let confidence = number::confidence(run.compared.confidence);
    let mut table = Table::new(
        format!("Yield less that of {base}, from the same units"),
        vec![
            words("plan"),
            numbers("points"),
            numbers(format!("{confidence} interval")),
            numbers("units saved"),
            numbers("units lost"),
            numbers("pairing narrows it"),
        ],
    );
    let (mut bars, mut unclear) = (Vec::new(), Vec::new());
    for (number, over) in against(run) {
        let (value, interval) = points(&over.difference);
        let name = plain(&run.names[number]);
        let tip = format!("{name}: {value} points ({interval})");
        table.row([
            name.clone(),
            value.clone(),
            interval,
            over.pairs.only_first.to_string(),
            over.pairs.only_second.to_string(),
            format!("{} x", significant(over.width_ratio, 3)),
        ]);
        let [to, low, high] =
            [over.difference.value, over.difference.low, over.difference.high].map(|of| 100.0 * of);
        bars.push(Bar { name, from: 0.0, to, interval: Some([low, high]), inner: None, text: value, tip });
        unclear.extend(cannot_tell(run, number, run.against, &over));
    }
    if bars.is_empty() {
        return Vec::new();
    }
    let ends = bars.iter().flat_map(|bar| bar.interval.into_iter().flatten());
    let axis = Axis::from_zero("yield less that of the base", "points", ends.collect::<Vec<_>>());
    let alt = format!("A bar for each plan, from the yield of {base}; whiskers are {confidence} intervals.");
    let title = format!("Yield less that of {base}, on the same units");
    let plot = Ranked { axis, bars, base: Some((0.0, plain(&run.names[run.against]))) };
    let mut parts = vec![Part::chart(title, alt, plot.into(), table)];
    parts.extend(unclear.into_iter().map(|said| Part::Text(sentences(&[said]))));
    parts
}

fn steps(run: &CompareRun) -> Vec<Part> {
    let mut table = Table::new(
        "Each step from the last plan that bought some yield",
        vec![words("from"), words("to"), words("gain")],
    );
    for step in (0..run.models.len()).flat_map(|design| run.compared.bench_steps(design)) {
        table.row([plain(&run.names[step.from]), plain(&run.names[step.to]), gain(run, &step)]);
    }
    if table.rows.is_empty() { Vec::new() } else { vec![Part::Table(table)] }
}

fn means(run: &CompareRun) -> Vec<Part> {
    let mut header = vec![words("figure")];
    header.extend(run.names.iter().map(|name| numbers(plain(name))));
    let mut table = Table::new("Mean of each figure at each beam and frequency", header);
    for measure in &run.compared.measures {
        let named = (0..run.models.len()).find_map(|design| {
            let column = run.models[design].columns[measure.columns[design]?];
            Some(format!("{}, {}", figure(column.figure), point(&run.models[design], column.point)))
        });
        let Some(named) = named else { continue };
        let mean = |of: usize| {
            let column = measure.columns[run.compared.candidates[of].design]?;
            let moments = &run.compared.summary(of).figures[column].moments;
            (moments.count > 0).then(|| rounded(moments.mean, moments.standard_error()))
        };
        let cells = (0..run.names.len()).map(|of| mean(of).unwrap_or(ABSENT.to_owned()));
        table.row(std::iter::once(named).chain(cells));
    }
    if table.rows.is_empty() { Vec::new() } else { vec![Part::Table(table)] }
}
