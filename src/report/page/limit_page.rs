//! A search for a limit as a page.

use crate::decide::{Probe, Verdict};
use crate::report::LimitRun;
use crate::report::grid::{numbers, words};
use crate::report::limit_text::{demanded, name, refused, value_heading, verdict};
use crate::report::number::{self, counted, percent, with_interval};
use crate::report::page::about::{About, Origin};
use crate::report::page::chart::{Curve, Drawn, Point, Series};
use crate::report::page::parts::{in_percent, near};
use crate::report::page::{Axis, Page, Part, Section, Table};
use crate::report::refused::refused_lines;
use crate::report::words::{plain, quoted};

/// A search for a limit as a page.
pub(crate) fn limit_page(run: &LimitRun, origin: &Origin) -> Page {
    let found = run.found;
    let tried = format!(
        "{} of {} tried, each on up to {} of seed {}.",
        counted(found.probes.len() as u64, "value"),
        name(run),
        counted(found.demand.units, "unit"),
        run.model.seed
    );
    let about = About {
        model: run.model,
        lead: if found.is_finished {
            tried
        } else {
            format!("PARTIAL: stopped early, so the interval is wider than necessary. {tried}")
        },
        verdict: verdict(run),
        units: format!(
            "{} in all, up to {} a value, the same at every value",
            found.units(),
            found.demand.units
        ),
        confidence: found.demand.confidence,
        seconds: run.seconds,
        warnings: run.warnings,
    };
    let left_out: Vec<Part> =
        refused_lines(refused(run)).iter().map(|line| Part::Text(plain(line))).collect();
    let sections =
        [Section::of("Yield against the value", vec![curve(run)]), Section::of("Refused values", left_out)];
    about.page(sections, origin)
}

fn curve(run: &LimitRun) -> Part {
    let found = run.found;
    let mut probes: Vec<&Probe> = found.probes.iter().collect();
    probes.sort_by(|a, b| a.value.total_cmp(&b.value));
    let point = |probe: &&Probe| {
        let (y, interval) = in_percent(&probe.yield_);
        let tip = format!(
            "{}: {}, {}",
            run.sought.text(probe.value),
            with_interval(&probe.yield_),
            demand_word(probe)
        );
        Point { x: probe.value, y, interval: Some(interval), tip }
    };
    let limit = found.limit();
    let [least, most] = near(&probes.iter().map(|probe| probe.value).collect::<Vec<_>>(), limit);
    let tried = probes.len();
    probes.retain(|probe| (least..=most).contains(&probe.value));
    let points: Vec<Point> = probes.iter().map(point).collect();
    let x = Axis::spread(name(run), plain(run.sought.unit()), points.iter().map(|point| point.x));
    let uprights: Vec<(f64, String)> = limit.map(|value| (value, "limit".to_owned())).into_iter().collect();
    let levels = vec![(100.0 * found.demand.share, format!("at least {}", demanded(run)))];
    let mut table = Table::new(
        "Values tried",
        vec![
            numbers(value_heading(run)),
            numbers("units"),
            numbers("yield"),
            numbers(format!("interval used, {}", number::confidence(found.demand.confidence))),
            words("the demand"),
        ],
    );
    for probe in found.in_order() {
        let (value, interval) = percent(&probe.yield_);
        table.row([
            run.sought.text(probe.value),
            probe.units.to_string(),
            value,
            interval,
            demand_word(probe).to_owned(),
        ]);
    }
    let left_out = match tried - probes.len() {
        0 => String::new(),
        far => format!(" {} tried farther away are in the table.", counted(far as u64, "value")),
    };
    let alt = format!(
        "A point for each value tried, with its interval; a line across at the demanded {}.{left_out}",
        demanded(run)
    );
    let title = format!("Yield after {} over {}", quoted(run.calibration()), name(run));
    let series = vec![Series { name: String::new(), points, drawn: Drawn::Both }];
    let ends = probes.iter().flat_map(|probe| in_percent(&probe.yield_).1);
    let y = Axis::percent_around("yield", ends.chain(levels.iter().map(|level| level.0)));
    let plot = Curve { x, y, series, levels, uprights };
    Part::chart(title, alt, plot.into(), table)
}

fn demand_word(probe: &Probe) -> &'static str {
    match probe.verdict {
        Verdict::Meets => "meets it",
        Verdict::Unclear => "unclear",
        Verdict::Misses => "misses it",
    }
}
