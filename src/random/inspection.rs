//! What stands between the parts as they are delivered and those that are built in.

use crate::io::survey::Due;
use crate::io::{Check, Dimension, Span, Table};
use crate::math::normal;
use crate::random::{Gauge, Sampling, Stated, Window};

/// An inspection of delivered parts, by a deviation of theirs.
///
/// A part conforms when its deviation lies within the tolerance; it is taken when what the gauge reads lies within the acceptance. The
/// guard band is how far the acceptance lies inside the tolerance. Terms: JCGM 106:2012, clause 3.3.
#[derive(Clone, Debug)]
pub struct Inspection {
    /// What a part has to keep; where only the acceptance is stated, the same.
    pub tolerance: Option<Window>,
    /// What a reading has to keep; `None` where no limit is set and nothing is turned away.
    pub accept: Option<Window>,
    /// How far the acceptance lies inside the tolerance, where it is stated, SI.
    pub guard: Option<f64>,
    /// What reads the deviation.
    pub gauge: Gauge,
    /// How many parts of a lot are gauged; `None` for all.
    pub sampling: Option<Sampling>,
    /// Time to gauge one part, s.
    pub seconds: f64,
    /// Where it stands in the study.
    pub span: Span,
}

impl Inspection {
    /// Key under which a tolerance states it.
    pub const KEY: &'static str = "inspection";

    /// Reads the inspection of a tolerance, if it has one; what is wrong with it is recorded.
    pub(super) fn read(tolerance: &Table, of: &Stated) -> Option<Inspection> {
        tolerance.expects(Self::KEY, || Due::Shared(format!("{}.inspection", of.dimension.name())));
        let table = tolerance.table(Self::KEY)?;
        let gauge = match table.table("gauge") {
            Some(table) => Gauge {
                bias: table.quantity_or("bias", of.dimension, Check::Any, 0.0),
                sd: table.quantity_or("sd", of.dimension, Check::NonNegative, 0.0),
            },
            None => Gauge::default(),
        };
        let guard = read_guard(&table, of.dimension, gauge);
        let tolerance_of_part = Window::read(&table, "tolerance", of.dimension);
        let accept = Window::read(&table, "accept", of.dimension);
        let (due, accept) = limits(&table, tolerance_of_part, accept, guard);
        Some(Inspection {
            tolerance: due,
            accept,
            guard,
            gauge,
            sampling: table.table("sample").and_then(|table| Sampling::read(&table)),
            seconds: table.quantity_or("time", Dimension::Time, Check::NonNegative, 0.0),
            span: table.span(),
        })
    }

    /// Whether anything is turned away.
    pub fn is_in_place(&self) -> bool {
        self.accept.is_some()
    }
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
            guard.silence();
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
