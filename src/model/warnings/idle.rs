//! Limits that let everything pass, by what a figure can be at all.

use crate::figure::Figure;
use crate::io::Findings;
use crate::model::{Limit, Model};
use crate::study::{Bound, Study};

/// Warns of limits that no figure of a beam can miss at any of their beams, frequencies and temperatures.
pub(super) fn idle(study: &Study, model: &Model, findings: &Findings) {
    for (number, of) in study.limits.iter().enumerate() {
        let mut lines = model.limits.iter().filter(|limit| limit.of == number).peekable();
        let Some(first) = lines.peek().map(|limit| limit.bound) else { continue };
        if lines.all(|limit| is_idle(model, limit)) {
            let (reason, help) = reason(of.figure, first);
            findings.warning(
                of.span.clone(),
                format!("this limit on {} binds no unit", of.figure.title()),
                reason,
                Some(help),
            );
        }
    }
}

/// Whether a limit lets every unit pass that has a beam.
pub(super) fn is_idle(model: &Model, limit: &Limit) -> bool {
    let column = model.columns[limit.column];
    let (least, most) = column.figure.attainable(&model.points[column.point]);
    match limit.bound {
        Bound::AtMost(value) => value >= most,
        Bound::AtLeast(value) => value <= least,
    }
}

/// Why such a limit lets everything pass, and what may have been meant.
fn reason(figure: Figure, bound: Bound) -> (String, String) {
    let unit = figure.unit().symbol();
    match bound {
        Bound::AtLeast(_) => (
            "no unit falls below it".to_owned(),
            "if a highest value is meant, `at_most`; or leave the limit out".to_owned(),
        ),
        Bound::AtMost(value) if figure.is_under_peak() => (
            "at 0 dB it is as high as the beam itself".to_owned(),
            if value > 0.0 {
                format!(
                    "what is below the beam is negative: if that is meant, `at_most = \"-{value} {unit}\"`"
                )
            } else {
                "a level below the beam is negative, such as `at_most = \"-12 dB\"`".to_owned()
            },
        ),
        Bound::AtMost(_) => {
            ("no unit exceeds it".to_owned(), "a smaller value; or leave the limit out".to_owned())
        }
    }
}
