//! An inspection as study files write it.

use crate::io::survey::Due;
use crate::io::{Check, Dimension, Span, Table};
use crate::math::normal;
use crate::random::{Gauge, Inspection, Sampling, Window};

/// Key under which a tolerance states it.
pub const KEY: &str = "inspection";

/// Reads the inspection of a tolerance whose parts deviate by a `dimension`, if it has one, and where it stands; what is wrong with it is
/// recorded.
pub(super) fn read(tolerance: &Table, dimension: Dimension) -> Option<(Inspection, Span)> {
    tolerance.expects(KEY, || Due::Shared(format!("{}.inspection", dimension.name())));
    let table = tolerance.table(KEY)?;
    let gauge = match table.table("gauge") {
        Some(table) => Gauge {
            bias: table.quantity_or("bias", dimension, Check::Any, 0.0),
            sd: table.quantity_or("sd", dimension, Check::NonNegative, 0.0),
        },
        None => Gauge::default(),
    };
    let guard = read_guard(&table, dimension, gauge);
    let tolerance_of_part = Window::read(&table, "tolerance", dimension);
    let accept = Window::read(&table, "accept", dimension);
    let (due, accept) = limits(&table, tolerance_of_part, accept, guard);
    let inspection = Inspection {
        tolerance: due,
        accept,
        guard,
        gauge,
        sampling: table.table("sample").and_then(|table| read_sampling(&table)),
        seconds: table.quantity_or("time", Dimension::Time, Check::NonNegative, 0.0),
    };
    Some((inspection, table.span()))
}

/// A guard band: as a quantity, as so many times the gauge's expanded uncertainty (twice its sd), or so that what is taken conforms with
/// a stated probability whatever the parts are like (JCGM 106:2012, 8.3: reading and limit differ by that quantile).
fn read_guard(table: &Table, dimension: Dimension, gauge: Gauge) -> Option<f64> {
    if !table.has("guard") {
        return None;
    }
    if !table.is_table("guard") {
        return Some(table.quantity("guard", dimension, Check::Any));
    }
    let guard = table.table("guard")?;
    let is_exact = gauge.is_exact() && (!table.has("gauge") || table.is_sound("gauge"));
    match (guard.has("expanded"), guard.has("conformance")) {
        _ if is_exact => {
            let help = "give the gauge an `sd`, or the guard band as a size".to_owned();
            guard.error(
                guard.span(),
                "a guard band against a gauge that does not err",
                "no error to guard against",
                Some(help),
            );
            // Whatever stands there is not read.
            guard.ignore_unknown();
            None
        }
        (true, false) => Some(2.0 * gauge.sd * guard.number("expanded", Check::Any)),
        (false, true) => {
            let share = guard.number("conformance", Check::Within(0.0001, 0.9999));
            Some(gauge.sd * normal::quantile(share))
        }
        _ => {
            let help =
                "give `expanded`, in expanded uncertainties of the gauge, or `conformance`, a probability"
                    .to_owned();
            guard.error(guard.span(), "a guard band is stated in one way", "one key is due", Some(help));
            None
        }
    }
}

/// Tolerance and acceptance from what is stated of them and of the guard band between them.
fn limits(
    table: &Table,
    tolerance: Option<Window>,
    accept: Option<Window>,
    guard: Option<f64>,
) -> (Option<Window>, Option<Window>) {
    let between = guard.unwrap_or(0.0);
    let refuse = |message: &str, label: &str, help: &str| {
        table.error(table.span_of("guard"), message, label, Some(help.to_owned()));
    };
    match (tolerance, accept) {
        (Some(_), Some(_)) if guard.is_some() => {
            refuse(
                "`tolerance`, `accept` and `guard` together",
                "one too many",
                "leave one of them out: two of them give the third",
            );
            (tolerance, accept)
        }
        (Some(due), None) => {
            let accept = due.narrowed(between);
            if accept.is_none() {
                refuse(
                    "the guard band leaves nothing to be taken",
                    "as wide as the tolerance",
                    "a guard band is smaller than half the width of the tolerance",
                );
            }
            (tolerance, accept)
        }
        (None, Some(taken)) => {
            let due = taken.narrowed(-between);
            if due.is_none() {
                refuse(
                    "the guard band leaves no tolerance",
                    "as wide as the acceptance, to its inside",
                    "a negative guard band is smaller than half the width of the acceptance",
                );
            }
            (due, accept)
        }
        both => both,
    }
}

/// More parts than anybody gauges.
const MOST_PARTS: u64 = 1_000_000;

/// Reads a sampling plan, `{ lot = 500, parts = 80, allowed = 2 }`.
fn read_sampling(table: &Table) -> Option<Sampling> {
    let lot = table.count("lot", 1..=1_000_000_000);
    let parts = table.count("parts", 1..=MOST_PARTS);
    let allowed = table.count_or("allowed", 0..=MOST_PARTS, 0);
    if !["lot", "parts", "allowed"].iter().all(|key| table.is_sound(key)) {
        return None;
    }
    if allowed >= parts {
        table.error(
            table.span_of("allowed"),
            format!("{allowed} of {parts} gauged parts may fail: every lot is taken"),
            "as many as are gauged, or more",
            Some("let fewer fail than are gauged".to_owned()),
        );
        return None;
    }
    if lot < parts {
        table.error(
            table.span_of("parts"),
            format!("{parts} parts are gauged of a lot of {lot}"),
            "more than there are",
            Some("gauge every part: leave `sample` out".to_owned()),
        );
        return None;
    }
    Some(Sampling { lot, parts, allowed })
}
