//! An inspection as a page.

use crate::decide::inspect::{
    Cheapest, GaugeAs, Operating, PERCENTILES, Parts, Search, SettingResult, Widest,
};
use crate::report::InspectRun;
use crate::report::grid::{numbers, words};
use crate::report::inspect_brief::inspect_brief;
use crate::report::inspect_verdict::{answered, currency, total};
use crate::report::inspect_words::{percent_of, setting};
use crate::report::money::money;
use crate::report::number::{self, ABSENT, percent, with_interval};
use crate::report::page::about::{About, Origin};
use crate::report::page::chart::{Curve, Drawn, Intervals, Point, Row, Series};
use crate::report::page::parts::{in_percent, near};
use crate::report::page::{Axis, Page, Part, Section, Table};
use crate::report::words::plain;
use crate::stats::Estimate;

/// An inspection as a page.
pub(crate) fn inspect_page(run: &InspectRun, origin: &Origin) -> Page {
    let own = run.own();
    let brief = inspect_brief(run);
    let lead = match run.is_partial {
        true => format!("PARTIAL: stopped early. {}", brief.question),
        false => brief.question,
    };
    let about = About {
        model: run.model,
        lead,
        verdict: answered(run),
        units: format!("up to {}, the same ones throughout", run.model.trials.most()),
        confidence: run.model.confidence,
        seconds: run.seconds,
        warnings: run.warnings.len(),
    };
    let listed = |all: Vec<String>| all.into_iter().map(Part::Text).collect::<Vec<_>>();
    let parts: Vec<Part> = own.parts.iter().flat_map(|parts| parts_of(run, parts)).collect();
    let sections = [
        Section::of("Limits tried", tried(run, own)),
        Section::of("The units", units(run)),
        Section::of("The parts", parts),
        Section::of("Other gauges and suppliers", settings(run)),
        Section::of("Assumptions", listed(brief.assumptions)),
        Section::of("What would change the answer", listed(brief.would_change)),
    ];
    about.page(sections, origin)
}

/// An axis over the sizes of an acceptance.
fn sizes(run: &InspectRun, all: impl IntoIterator<Item = f64>) -> Axis {
    Axis::spread("accepted within, half width or end", plain(run.unit), all)
}

/// The results at one size that was tried.
struct Over {
    size: f64,
    label: String,
    share: Estimate,
    turned_away: f64,
    cost: Option<Estimate>,
}

fn tried(run: &InspectRun, answer: &SettingResult) -> Vec<Part> {
    let over: Vec<Over> = match &answer.search {
        Search::Widest(Widest { found, shares }) => {
            let all = found.probes.iter().zip(shares);
            all.map(|(probe, shares)| Over {
                size: probe.value,
                label: run.limit(probe.value),
                share: probe.yield_.clone(),
                turned_away: shares.turned_away,
                cost: None,
            })
            .collect()
        }
        Search::Cheapest(Some(Cheapest { tried, .. })) => {
            let sized = tried.iter().filter_map(|tried| Some((tried.size?, tried)));
            sized
                .map(|(size, tried)| Over {
                    size,
                    label: run.limit(size),
                    share: tried.made.yield_.clone(),
                    turned_away: tried.shares.turned_away,
                    cost: total(&tried.made).cloned(),
                })
                .collect()
        }
        Search::Stated | Search::Cheapest(None) => Vec::new(),
    };
    if over.is_empty() {
        return Vec::new();
    }
    let levels = match &answer.search {
        Search::Widest(of) => {
            vec![(100.0 * of.found.demand.share, format!("at least {}", percent_of(of.found.demand.share)))]
        }
        _ => Vec::new(),
    };
    let chosen = match &answer.search {
        Search::Widest(of) => of.found.limit().map(|limit| (limit, "limit")),
        Search::Cheapest(Some(of)) => of.least().size.map(|least| (least, "cheapest")),
        _ => None,
    };
    drawn(run, over, chosen, levels)
}

/// Charts over the sizes tried; those far from the chosen one are left to the tables.
fn drawn(
    run: &InspectRun,
    mut over: Vec<Over>,
    chosen: Option<(f64, &str)>,
    levels: Vec<(f64, String)>,
) -> Vec<Part> {
    over.sort_by(|a, b| a.size.total_cmp(&b.size));
    let [least, most] = near(&over.iter().map(|of| of.size).collect::<Vec<_>>(), chosen.map(|of| of.0));
    let shown: Vec<&Over> = over.iter().filter(|of| (least..=most).contains(&of.size)).collect();
    let confidence = number::confidence(run.model.confidence);
    let table = |caption: &str, name: &str, cell: &dyn Fn(&Over) -> (String, String)| {
        let mut table = Table::new(
            caption,
            vec![
                words("accepted"),
                numbers("turned away"),
                numbers(name),
                numbers(format!("{confidence} interval")),
            ],
        );
        for of in &over {
            let (value, interval) = cell(of);
            table.row([of.label.clone(), percent_of(of.turned_away), value, interval]);
        }
        table
    };
    let curve = |y: Axis, levels: Vec<(f64, String)>, point: &dyn Fn(&Over) -> Option<Point>| {
        let series = vec![Series {
            name: String::new(),
            points: shown.iter().copied().filter_map(point).collect(),
            drawn: Drawn::Both,
        }];
        let uprights = chosen.map(|(at, name)| (at, name.to_owned())).into_iter().collect();
        Curve { x: sizes(run, shown.iter().map(|of| of.size)), y, series, levels, uprights }
    };
    let ends = shown.iter().flat_map(|of| in_percent(&of.share).1).chain(levels.iter().map(|level| level.0));
    let share = curve(Axis::percent_around("yield", ends.collect::<Vec<_>>()), levels, &|of| {
        let (y, interval) = in_percent(&of.share);
        let tip = format!("{}: {}", of.label, with_interval(&of.share));
        Some(Point { x: of.size, y, interval: Some(interval), tip })
    });
    let left_out = if shown.len() < over.len() { " Those far away are in the table." } else { "" };
    let alt = format!("A point for each acceptance tried, with its interval.{left_out}");
    let mut parts = vec![Part::chart(
        "Yield over the acceptance",
        &*alt,
        share.into(),
        table("Yield at each acceptance tried", "yield", &|of| percent(&of.share)),
    )];
    let currency = currency(run);
    if over.iter().any(|of| of.cost.is_some()) {
        let cost = |of: &Over| {
            of.cost.as_ref().map_or((ABSENT.to_owned(), ABSENT.to_owned()), |of| money(of, &currency))
        };
        let ends = shown
            .iter()
            .filter_map(|of| of.cost.as_ref())
            .flat_map(|of| [of.low, of.high])
            .filter(|of| of.is_finite());
        let y = Axis::around("cost of a good unit", &*currency, ends.collect::<Vec<_>>());
        let plot = curve(y, Vec::new(), &|of| {
            let cost = of.cost.as_ref()?;
            let (value, interval) = money(cost, &currency);
            let ends = cost.high.is_finite().then_some([cost.low, cost.high]);
            Some(Point {
                x: of.size,
                y: cost.value,
                interval: ends,
                tip: format!("{}: {value} ({interval})", of.label),
            })
        });
        parts.push(Part::chart(
            "Cost of a good unit over the acceptance",
            &*alt,
            plot.into(),
            table("Cost at each acceptance tried", "cost", &cost),
        ));
    }
    let rejects = curve(
        Axis::from_zero("turned away", "%", shown.iter().map(|of| 100.0 * of.turned_away)),
        Vec::new(),
        &|of| {
            let tip = format!("{}: {} turned away", of.label, percent_of(of.turned_away));
            Some(Point { x: of.size, y: 100.0 * of.turned_away, interval: None, tip })
        },
    );
    let mut away = Table::new("Delivered parts turned away", vec![words("accepted"), numbers("turned away")]);
    over.iter().for_each(|of| away.row([of.label.clone(), percent_of(of.turned_away)]));
    parts.push(Part::chart(
        "Parts turned away over the acceptance",
        format!("A point for each acceptance tried.{left_out}"),
        rejects.into(),
        away,
    ));
    parts
}

/// Units from parts as delivered and as accepted.
fn units(run: &InspectRun) -> Vec<Part> {
    let mut made = Vec::new();
    for answer in run.answers {
        let Some(units) = &answer.units else { continue };
        let name = setting(&answer.setting);
        // Another gauge does not change the delivered parts.
        if answer.setting.gauge == GaugeAs::Stated {
            made.push((format!("{name}, as delivered"), &units.without));
        }
        made.extend(units.with.iter().map(|with| (format!("{name}, as accepted"), with)));
    }
    if made.is_empty() {
        return Vec::new();
    }
    let confidence = number::confidence(run.model.confidence);
    let currency = currency(run);
    let mut table = Table::new(
        "Units of parts",
        vec![
            words("parts and gauge"),
            numbers("yield"),
            numbers(format!("{confidence} interval")),
            numbers("a good one costs"),
            numbers(format!("{confidence} interval")),
        ],
    );
    for (name, of) in &made {
        let (value, interval) = percent(&of.yield_);
        let (cost, between) =
            total(of).map_or((ABSENT.to_owned(), ABSENT.to_owned()), |total| money(total, &currency));
        table.row([name.clone(), value, interval, cost, between]);
    }
    let rows = made.iter().map(|(name, of)| {
        let (value, interval) = in_percent(&of.yield_);
        let tip = format!("{name}: {}", with_interval(&of.yield_));
        Row { name: name.clone(), value, interval, text: percent(&of.yield_).0, tip }
    });
    let alt = "A bar for each kind of parts and gauge, as delivered and as accepted.";
    let plot = Intervals { axis: Axis::percent("yield"), rows: rows.collect(), level: None };
    vec![Part::chart("Yield of units from these parts", alt, plot.into(), table)]
}

fn parts_of(run: &InspectRun, parts: &Parts) -> Vec<Part> {
    let mut all = vec![deviations(run, parts)];
    all.extend(parts.operating.as_ref().map(operating));
    all.extend(shares(run, parts).map(Part::Table));
    all
}

/// The distributions of deviations, as delivered and as built in.
fn deviations(run: &InspectRun, parts: &Parts) -> Part {
    let both = [("as delivered", &parts.delivered), ("as accepted", &parts.accepted)];
    let mut header = vec![words("parts"), numbers("mean"), numbers("sd")];
    header.extend(PERCENTILES.map(|of| numbers(format!("{of} %"))));
    let mut table = Table::new(format!("Deviations{}", run.unit_behind()), header);
    let mut series = Vec::new();
    for (name, of) in both {
        let cells = [of.mean, of.sd].into_iter().chain(of.percentiles).map(|si| run.bare(si));
        table.row(std::iter::once(name.to_owned()).chain(cells));
        let points = of.curve.iter().map(|(si, share)| Point {
            x: run.in_unit(*si),
            y: 100.0 * share,
            interval: None,
            tip: format!("{name}: {} are at or below {} {}", percent_of(*share), run.bare(*si), run.unit),
        });
        series.push(Series { name: name.to_owned(), points: points.collect(), drawn: Drawn::Line });
    }
    let values: Vec<f64> =
        parts.delivered.curve.iter().chain(&parts.accepted.curve).map(|(si, _)| run.in_unit(*si)).collect();
    let accept = parts.inspected.inspection.accept;
    let ends = accept.into_iter().flat_map(|of| [of.low, of.high]).filter(|end| end.is_finite());
    let uprights: Vec<(f64, String)> =
        ends.map(|end| (run.in_unit(end), "accepted to here".to_owned())).collect();
    let x = Axis::spread(
        "deviation",
        plain(run.unit),
        values.into_iter().chain(uprights.iter().map(|of| of.0)).collect::<Vec<_>>(),
    );
    let alt = "Two rising lines, of parts as delivered and as accepted.";
    let plot = Curve { x, y: Axis::percent("parts at or below"), series, levels: Vec::new(), uprights };
    Part::chart(format!("Deviations of {}", plain(run.source)), alt, plot.into(), table)
}

/// The operating characteristic: the probability that a lot is accepted, by its quality.
fn operating(of: &Operating) -> Part {
    let mut table = Table::new(
        format!("Lots by a sample of {} parts, of which {} may fail", of.sampling.parts, of.sampling.allowed),
        vec![numbers("parts of the lot that fail"), numbers("probability of acceptance")],
    );
    for (quality, probability) in &of.curve {
        table.row([percent_of(*quality), percent_of(*probability)]);
    }
    let points = of.curve.iter().map(|(quality, probability)| Point {
        x: 100.0 * quality,
        y: 100.0 * probability,
        interval: None,
        tip: format!(
            "a lot of which {} fail is accepted with probability {}",
            percent_of(*quality),
            percent_of(*probability)
        ),
    });
    let marks = of.marks.iter().map(|(probability, quality)| Point {
        x: 100.0 * quality,
        y: 100.0 * probability,
        interval: None,
        tip: format!("accepted with probability {}: {} fail", percent_of(*probability), percent_of(*quality)),
    });
    let series = vec![
        Series { name: String::new(), points: points.collect(), drawn: Drawn::Line },
        Series { name: String::new(), points: marks.collect(), drawn: Drawn::Marks },
    ];
    let x = Axis::from_zero(
        "parts of the lot that fail at the gauge",
        "%",
        of.curve.iter().map(|of| 100.0 * of.0).collect::<Vec<_>>(),
    );
    let uprights = vec![(100.0 * of.delivered, "as delivered on average".to_owned())];
    let alt =
        format!("A falling line; a delivered lot is accepted with probability {}.", percent_of(of.taken));
    let plot =
        Curve { x, y: Axis::percent("probability of acceptance"), series, levels: Vec::new(), uprights };
    Part::chart("Operating characteristic of the sample", alt, plot.into(), table)
}

/// Shares by integration and by counting.
fn shares(run: &InspectRun, parts: &Parts) -> Option<Table> {
    let (of, drawn) = (parts.conformity?, parts.drawn.as_ref()?);
    let mut table = Table::new(
        "Share of the delivered parts that",
        vec![
            words(""),
            numbers("integral"),
            numbers("counted"),
            numbers(format!("{} interval", number::confidence(run.model.confidence))),
        ],
    );
    let rejected = if parts.operating.is_some() { "fail at the gauge" } else { "are turned away" };
    for (name, share, counted) in [
        ("do not conform", of.nonconforming, &drawn.nonconforming),
        (rejected, of.rejected, &drawn.rejected),
        ("pass, do not conform (consumer's risk)", of.consumer_risk, &drawn.consumer_risk),
        ("fail and conform (producer's risk)", of.producer_risk, &drawn.producer_risk),
        ("do not conform, of those that pass", of.escapes, &drawn.escapes),
    ] {
        let (value, interval) = percent(counted);
        table.row([name.to_owned(), percent_of(share), value, interval]);
    }
    Some(table)
}

/// The same by other gauges and from other suppliers.
fn settings(run: &InspectRun) -> Vec<Part> {
    let mut table = Table::new(
        "By other gauges and from other suppliers",
        vec![
            words("gauge or parts"),
            words("accepted"),
            numbers("turned away"),
            numbers("consumer's risk"),
            numbers("producer's risk"),
            numbers("yield"),
        ],
    );
    for answer in run.answers {
        let parts = answer.parts.as_ref();
        let of =
            |get: &dyn Fn(&Parts) -> Option<f64>| parts.and_then(get).map_or(ABSENT.to_owned(), percent_of);
        table.row([
            setting(&answer.setting),
            parts.map_or("all".to_owned(), |parts| run.acceptance(parts)),
            of(&|parts| Some(1.0 - parts.taken())),
            of(&|parts| Some(parts.conformity?.consumer_risk)),
            of(&|parts| Some(parts.conformity?.producer_risk)),
            answer.made().map_or(ABSENT.to_owned(), |made| percent(&made.yield_).0),
        ]);
    }
    if table.rows.len() < 2 { Vec::new() } else { vec![Part::Table(table)] }
}
