//! An inspection as study files write it.

use crate::io::{
    Accepts, Check, Count, Difference, Dimension, Key, Nested, Optional, Or, Quantity, Span, Special, Table,
    keys,
};
use crate::math::normal;
use crate::random::{Gauge, Inspection, Sampling, Window};

/// Key under which a tolerance states it.
pub(crate) const KEY: &str = INSPECTION.name;

/// The same key with what it takes.
pub(super) const INSPECTION: Key<Special> = Key::special(
    "inspection",
    || Accepts::AboutDifference("inspection", &KEYS),
    "{ accept = \"0.4 mm\", gauge = { sd = \"0.04 mm\" } }",
    "",
);

keys! {
    KEYS: "Incoming inspection of the delivered parts, by their deviation";
    TOLERANCE: Special =
        Window::key("tolerance", "What a part has to keep: a deviation to either side, or from and to");
    ACCEPT: Special =
        Window::key("accept", "What a reading has to keep: a deviation to either side, or from and to");
    GUARD: Special =
        Key::special("guard", || Accepts::AnyOf(vec![Accepts::Difference(Check::Any), Accepts::Table(&GUARD_BAND)]), "0.1 mm",
            "How far acceptance lies inside the tolerance: a size, or by the gauge's uncertainty");
    GAUGE: Nested = Key::table("gauge", &GAUGE_KEYS, "{ sd = \"0.04 mm\" }");
    SAMPLE: Nested = Key::table("sample", &SAMPLE_KEYS, "{ lot = 500, parts = 50, allowed = 1 }");
    TIME: Or<Quantity, f64> =
        Key::quantity("time", Dimension::Time, Check::NonNegative, "40 s", "Time to gauge one part; none where it is left out").or(0.0);
}

keys! {
    GAUGE_KEYS: "What reads the deviation; exact where it is left out";
    BIAS: Optional<Difference> =
        Key::difference("bias", Check::Any, "Added to every reading; 0 where it is left out").optional();
    SD: Optional<Difference> =
        Key::difference("sd", Check::NonNegative, "Standard deviation of a reading of one part; 0 where it is left out").optional();
}

keys! {
    GUARD_BAND: "A guard band by what the gauge errs";
    EXPANDED: Optional<Quantity> =
        Key::number("expanded", Check::Any, "1", "In expanded uncertainties of the gauge, twice its sd").optional();
    CONFORMANCE: Optional<Quantity> =
        Key::number("conformance", Check::Within(0.0001, 0.9999), "0.95",
            "So that a part that just reads as acceptable conforms with this probability").optional();
}

keys! {
    SAMPLE_KEYS: "Lots are taken or turned away by a sample; every part is gauged where it is left out";
    LOT: Count = Key::count("lot", 1..=1_000_000_000, "500", "Parts of a lot");
    PARTS: Count = Key::count("parts", 1..=MOST_PARTS, "50", "Parts of a lot that are gauged");
    ALLOWED: Or<Count, u64> =
        Key::count("allowed", 0..=MOST_PARTS, "1", "Most of them beyond acceptance in a lot that is taken; 0 where it is left out").or(0);
}

/// Reads the inspection of a tolerance whose parts deviate by a `dimension`, if it has one, and where it stands; what is wrong with it is
/// recorded.
pub(super) fn read(tolerance: &Table, dimension: Dimension) -> Option<(Inspection, Span)> {
    let table = tolerance.table(INSPECTION)?;
    let gauge = match table.table(GAUGE) {
        Some(table) => Gauge {
            bias: table.read(&BIAS.of(dimension)).unwrap_or(0.0),
            sd: table.read(&SD.of(dimension)).unwrap_or(0.0),
        },
        None => Gauge::default(),
    };
    let guard = read_guard(&table, dimension, gauge);
    let tolerance_of_part = Window::read(&table, &TOLERANCE, dimension);
    let accept = Window::read(&table, &ACCEPT, dimension);
    let (tolerance_of_part, accept) = limits(&table, tolerance_of_part, accept, guard);
    let inspection = Inspection {
        tolerance: tolerance_of_part,
        accept,
        #[cfg(test)]
        guard,
        gauge,
        sampling: table.table(SAMPLE).and_then(|table| read_sampling(&table)),
        seconds: table.read(&TIME),
    };
    Some((inspection, table.span()))
}

/// A guard band: as a quantity, as so many times the gauge's expanded uncertainty (twice its sd), or so that what is taken conforms with
/// a stated probability whatever the parts are like (JCGM 106:2012, 8.3: reading and limit differ by that quantile).
fn read_guard(table: &Table, dimension: Dimension, gauge: Gauge) -> Option<f64> {
    if !table.has(GUARD) {
        return None;
    }
    if !table.is_table(GUARD) {
        return Some(table.read(&Key::difference(GUARD.name, Check::Any, GUARD.about).of(dimension)));
    }
    let guard = table.table(GUARD)?;
    let is_exact = gauge.is_exact() && (!table.has(GAUGE) || table.is_sound(GAUGE));
    match (guard.has(EXPANDED), guard.has(CONFORMANCE)) {
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
        (true, false) => Some(2.0 * gauge.sd * guard.read(&EXPANDED.required())),
        (false, true) => {
            let share = guard.read(&CONFORMANCE.required());
            Some(gauge.sd * normal::quantile(share))
        }
        _ => {
            let help =
                "give `expanded`, in expanded uncertainties of the gauge, or `conformance`, a probability"
                    .to_owned();
            guard.error(guard.span(), "a guard band is stated in one way", "expected one key", Some(help));
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
        table.error(table.span_of(GUARD), message, label, Some(help.to_owned()));
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
        (Some(stated), None) => {
            let accept = stated.narrowed(between);
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
            let implied = taken.narrowed(-between);
            if implied.is_none() {
                refuse(
                    "the guard band leaves no tolerance",
                    "as wide as the acceptance, to its inside",
                    "a negative guard band is smaller than half the width of the acceptance",
                );
            }
            (implied, accept)
        }
        both => both,
    }
}

/// Most parts of a sample; no inspection gauges more.
const MOST_PARTS: u64 = 1_000_000;

/// Reads a sampling plan, `{ lot = 500, parts = 80, allowed = 2 }`.
fn read_sampling(table: &Table) -> Option<Sampling> {
    let lot = table.read(&LOT);
    let parts = table.read(&PARTS);
    let allowed = table.read(&ALLOWED);
    if ![LOT.name, PARTS.name, ALLOWED.name].iter().all(|key| table.is_sound(key)) {
        return None;
    }
    if allowed >= parts {
        table.error(
            table.span_of(ALLOWED),
            format!("{allowed} of {parts} gauged parts may fail: every lot is taken"),
            "as many as are gauged, or more",
            Some("let fewer fail than are gauged".to_owned()),
        );
        return None;
    }
    if lot < parts {
        table.error(
            table.span_of(PARTS),
            format!("{parts} parts are gauged of a lot of {lot}"),
            "more than there are",
            Some("gauge every part: leave `sample` out".to_owned()),
        );
        return None;
    }
    Some(Sampling { lot, parts, allowed })
}
