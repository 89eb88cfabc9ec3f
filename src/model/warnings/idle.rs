//! Limits that let everything pass, by what a figure can be at all.

use crate::figure::{BeamPoint, Figure};
use crate::io::Findings;
use crate::math::scalar;
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
    let (least, most) = attainable(model, column.figure, &model.points[column.point]);
    match limit.bound {
        Bound::AtMost(value) => value >= most,
        Bound::AtLeast(value) => value <= least,
    }
}

/// The least and the most that a figure (its size, where it is signed) can be of a unit that has a beam, in its unit.
fn attainable(model: &Model, figure: Figure, point: &BeamPoint) -> (f64, f64) {
    const HALF_A_TURN: f64 = 180.0;
    match figure {
        _ if figure.is_signed() => (0.0, HALF_A_TURN),
        Figure::ResidualPhaseRms | Figure::ResidualPhaseMax => (0.0, HALF_A_TURN),
        Figure::ResidualAmplitudeRms | Figure::ResidualAmplitudeMax => (0.0, f64::INFINITY),
        // What radiates beside the beam is as high as the beam itself at 0 dB.
        Figure::PeakSideLobe | Figure::MeanSideLobe | Figure::NullDepth => (f64::NEG_INFINITY, 0.0),
        Figure::ArrayGainLoss => (least_loss(model, point), f64::INFINITY),
        _ => (f64::NEG_INFINITY, f64::INFINITY),
    }
}

/// An array without taper gains most: N over the taper's own (sum a)^2/sum a^2 (Cauchy-Schwarz). Where the beam squints no bound is
/// known.
fn least_loss(model: &Model, point: &BeamPoint) -> f64 {
    if point.frequency != model.at_bench.command_frequency {
        return f64::NEG_INFINITY;
    }
    let amplitude = &model.array.amplitude;
    let (sum, squares) = amplitude.iter().fold((0.0, 0.0), |(sum, squares), a| (sum + a, squares + a * a));
    -10.0 * scalar::log10(amplitude.len() as f64 * squares / (sum * sum))
}

/// Why such a limit lets everything pass, and what may have been meant.
fn reason(figure: Figure, bound: Bound) -> (String, String) {
    let unit = figure.unit().symbol();
    match bound {
        Bound::AtLeast(_) => (
            "no unit falls below it".to_owned(),
            "if a highest value is meant, `at_most`; or leave the limit out".to_owned(),
        ),
        Bound::AtMost(value) if is_under_the_beam(figure) => (
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

/// Whether a figure is a level under the beam's.
fn is_under_the_beam(figure: Figure) -> bool {
    matches!(figure, Figure::PeakSideLobe | Figure::MeanSideLobe | Figure::NullDepth)
}
