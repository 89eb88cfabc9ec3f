//! Charts that several pages share: yields side by side, and yield against bench time.

use crate::report::grid::{Side, numbers, words};
use crate::report::number::{self, ABSENT, duration, passed, percent, with_interval};
use crate::report::page::chart::{Curve, Drawn, Intervals, Point, Row, Scatter, Series, Spot};
use crate::report::page::{Axis, Part, Table};
use crate::report::words::{plain, quoted};
use crate::stats::Estimate;

/// A plan with its yield and bench time.
#[derive(Clone, Debug)]
pub(super) struct Rated<'a> {
    /// Its name.
    pub name: String,
    /// Its yield.
    pub share: &'a Estimate,
    /// Bench time of a unit, s.
    pub seconds: f64,
    /// Whether it is on the Pareto front; false for all where the front is unknown.
    pub is_front: bool,
}

/// An estimated share in percent, as numbers.
pub(super) fn in_percent(of: &Estimate) -> (f64, [f64; 2]) {
    (100.0 * of.value, [100.0 * of.low, 100.0 * of.high])
}

/// Bench time, or a dash where none is taken.
pub(super) fn bench_time(seconds: f64) -> String {
    if seconds > 0.0 { duration(seconds) } else { ABSENT.to_owned() }
}

/// The yields side by side, `level` a demand to mark.
pub(super) fn yields(of: &[Rated], confidence: f64, level: Option<(f64, String)>) -> Option<Part> {
    let best = of.iter().max_by(|a, b| a.share.value.total_cmp(&b.share.value))?;
    let confidence = number::confidence(confidence);
    let takes_time = of.iter().any(|of| of.seconds > 0.0);
    let mut header = vec![
        words("plan"),
        numbers("yield"),
        numbers(format!("{confidence} interval")),
        numbers("units that pass"),
        numbers("units"),
    ];
    if takes_time {
        header.push(numbers("bench time"));
    }
    let mut table = Table::new("Yield: the share of units that meet every limit", header);
    for rated in of {
        let (value, interval) = percent(rated.share);
        let counts = [passed(rated.share).to_string(), rated.share.count.to_string()];
        let time = takes_time.then(|| bench_time(rated.seconds));
        table.row([plain(&rated.name), value, interval].into_iter().chain(counts).chain(time));
    }
    let rows = of.iter().map(|of| {
        let (value, interval) = in_percent(of.share);
        let tip = format!("{}: {}", of.name, with_interval(of.share));
        Row { name: plain(&of.name), value, interval, text: percent(of.share).0, tip }
    });
    let alt = format!(
        "A bar for each of {}; the highest is {} with {}.",
        number::counted(of.len() as u64, "plan"),
        plain(&best.name),
        with_interval(best.share)
    );
    let title = format!("Share of units that meet every limit, with {confidence} intervals");
    let plot = Intervals { axis: Axis::percent("yield"), rows: rows.collect(), level };
    Some(Part::chart(title, alt, plot.into(), table))
}

/// Bench minutes against yield; `None` where none is taken.
pub(super) fn minutes(of: &[Rated], confidence: f64) -> Option<Part> {
    if of.len() < 2 || of.iter().all(|of| of.seconds <= 0.0) {
        return None;
    }
    let has_front = of.iter().any(|of| of.is_front);
    let confidence = number::confidence(confidence);
    let mut header = vec![
        words("plan"),
        numbers("bench time"),
        numbers("yield"),
        numbers(format!("{confidence} interval")),
    ];
    if has_front {
        header.push(("on the Pareto front".to_owned(), Side::Left));
    }
    let mut table = Table::new("Bench time and yield", header);
    for rated in of {
        let (value, interval) = percent(rated.share);
        let on_front = has_front.then(|| if rated.is_front { "yes" } else { "" }.to_owned());
        table.row(
            [plain(&rated.name), bench_time(rated.seconds), value, interval].into_iter().chain(on_front),
        );
    }
    let spots = of.iter().map(|of| {
        let (y, interval) = in_percent(of.share);
        let tip = format!("{}: {}, {}", of.name, bench_time(of.seconds), with_interval(of.share));
        Spot {
            name: plain(&of.name),
            x: of.seconds / 60.0,
            y,
            interval: Some(interval),
            is_front: of.is_front,
            tip,
        }
    });
    let alt = if has_front {
        "A point for each plan; a line joins the Pareto front, the others are open."
    } else {
        "A point for each plan."
    };
    let x = Axis::from_zero("bench time a unit", "min", of.iter().map(|of| of.seconds / 60.0));
    let y = Axis::percent("yield");
    let plot = Scatter { x, y, spots: spots.collect() };
    Some(Part::chart("What bench minutes buy", alt, plot.into(), table))
}

/// The range to draw of the values tried by a search: near the limit found, if that leaves enough of them.
pub(super) fn near(values: &[f64], found: Option<f64>) -> [f64; 2] {
    const FAR: f64 = 4.0;
    const ENOUGH: usize = 4;
    let everywhere = [f64::NEG_INFINITY, f64::INFINITY];
    let Some(found) = found.filter(|found| *found > 0.0) else { return everywhere };
    let range = [found / FAR, found * FAR];
    let inside = values.iter().filter(|value| (range[0]..=range[1]).contains(value)).count();
    if inside >= ENOUGH { range } else { everywhere }
}

/// The convergence of the yield of a plan as units were built; `None` with too few steps to see it.
pub(super) fn convergence(found: &[Estimate], name: &str, confidence: f64) -> Option<Part> {
    if found.len() < 3 {
        return None;
    }
    let confidence = number::confidence(confidence);
    let mut table = Table::new(
        format!("Yield after {} as units were built", quoted(name)),
        vec![numbers("units"), numbers("yield"), numbers(format!("{confidence} interval"))],
    );
    let point = |of: &Estimate| {
        let (y, interval) = in_percent(of);
        let tip = format!("{} units: {}", of.count, with_interval(of));
        Point { x: of.count as f64, y, interval: Some(interval), tip }
    };
    for of in found {
        let (value, interval) = percent(of);
        table.row([of.count.to_string(), value, interval]);
    }
    let points: Vec<Point> = found.iter().map(point).collect();
    let x = Axis::spread("units built", "", points.iter().map(|of| of.x));
    let y = Axis::percent_around("yield", points.iter().flat_map(|of| of.interval.into_iter().flatten()));
    let series = vec![Series { name: String::new(), points, drawn: Drawn::Both }];
    let plot = Curve { x, y, series, levels: Vec::new(), uprights: Vec::new() };
    let alt = "The yield after the first 64 units, after twice as many, and so on to all; each interval is narrower than those before.";
    let title = format!("Convergence of the yield after {}, {confidence} intervals", quoted(name));
    Some(Part::chart(title, alt, plot.into(), table))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn far_values_are_not_drawn_where_enough_are_near() {
        let all = [f64::NEG_INFINITY, f64::INFINITY];
        assert_eq!(near(&[0.1, 0.8, 1.0, 1.1, 2.0, 90.0], Some(1.0)), [0.25, 4.0]);
        assert_eq!(near(&[0.1, 1.0, 1.1, 2.0, 90.0], Some(1.0)), all);
        assert_eq!(near(&[1.0; 9], None), all);
        assert_eq!(near(&[-1.0; 9], Some(-1.0)), all);
    }
}
