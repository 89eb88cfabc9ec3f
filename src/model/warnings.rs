//! What a study says that its writer may not have meant, each with what would mend it.

mod ideal_bench;
mod idle;
mod levels;
mod temperatures;
mod tolerances;
mod unseen;

use crate::bench::{Calibration, Caution, Goal};
use crate::chain::{Listed, NEPERS_A_DB, Side};
use crate::io::quantity::format;
use crate::io::{Diagnostic, Dimension, Findings, Span};
use crate::model::dead_channels::dead_channels;
use crate::model::grating_lobes::grating_lobes;
use crate::model::inspections::inspections;
use crate::model::{Limit, Model};
use crate::random::{Scope, Tolerance};
use crate::stats::lots::FEW;
use crate::study::{Bound, Study};

/// Units built to see how far the gains spread, in batches of [`LANES`].
const UNITS: u64 = 256;
const LANES: usize = 16;

/// Looks through a study and its plan.
pub(crate) fn warnings(study: &Study, model: &Model) -> Vec<Diagnostic> {
    let findings = Findings::default();
    grating_lobes(model, &findings);
    inspections(study, &findings);
    dead_channels(study, model, &findings);
    limits(study, model, &findings);
    few_lots(study, model, &findings);
    idle::idle(study, model, &findings);
    tolerances::tolerances(study, &findings);
    temperatures::temperatures(study, model, &findings);
    unseen::unseen(study, model, &findings);
    ideal_bench::ideal_bench(study, model, &findings);
    levels::channel_gain(study, model, &findings);
    let is_levelled = model.calibrations.iter().any(|calibration| calibration.level.is_some());
    let spreads = if is_levelled { gain_spreads(model) } else { Vec::new() };
    for calibration in &model.calibrations {
        let at = || study.place_of_calibration(&calibration.name);
        level_range(model, calibration, at, &spreads, &findings);
        hidden_steps(model, calibration, at, &findings);
        levels::buried(model, calibration, at, &spreads, &findings);
    }
    findings.into_vec()
}

/// Limits that bound nothing, and limits that even the error-free array misses.
fn limits(study: &Study, model: &Model, findings: &Findings) {
    for (number, of) in study.limits.iter().enumerate() {
        let mut lines = model.limits.iter().filter(|limit| limit.of == number).peekable();
        if lines.peek().is_none() {
            findings.warning(
                of.span.clone(),
                format!("this limit on {} bounds nothing", of.figure.title()),
                "no beam of the study has such a figure",
                of.figure.exists_where().map(String::from),
            );
        }
        for limit in lines {
            let point = &model.points[model.columns[limit.column].point];
            let Some(value) = point.error_free_value(of.figure).filter(|value| !limit.is_met_by(*value))
            else {
                continue;
            };
            findings.warning(
                of.span.clone(),
                format!(
                    "no unit can meet this limit at beam `{}`, {}, but by luck",
                    model.beams[point.beam].name,
                    format(point.frequency, Dimension::Frequency)
                ),
                format!("the error-free array has {value:.4} {}", of.figure.unit().symbol()),
                Some(of.figure.instead().map_or_else(|| instead(model, limit, value), String::from)),
            );
            break;
        }
    }
}

/// What may have been meant by a limit that the error-free array misses with a value.
fn instead(model: &Model, limit: &Limit, value: f64) -> String {
    let unit = model.columns[limit.column].figure.unit().symbol();
    let bound = limit.bound.value();
    let mirrored = match limit.bound {
        Bound::AtMost(_) => Bound::AtMost(-bound),
        Bound::AtLeast(_) => Bound::AtLeast(-bound),
    };
    let mirrored = Limit { bound: mirrored, ..*limit };
    let is_forgotten = !limit.on_size && mirrored.is_met_by(value) && !idle::is_idle(model, &mirrored);
    match limit.bound {
        Bound::AtMost(_) if is_forgotten => {
            format!("if the sign is forgotten, `at_most = \"{} {unit}\"`", -bound)
        }
        Bound::AtLeast(_) if is_forgotten => {
            format!("if the sign is forgotten, `at_least = \"{} {unit}\"`", -bound)
        }
        Bound::AtMost(_) => {
            format!("a limit above {value:.4} {unit}, or an array and a taper that have less without errors")
        }
        Bound::AtLeast(_) => {
            format!("a limit below {value:.4} {unit}; if a highest value is meant, `at_most`")
        }
    }
}

/// Few lots make wide intervals, and a variance that is itself hardly known.
fn few_lots(study: &Study, model: &Model, findings: &Findings) {
    let (Some(lot), Some(scope)) = (model.lot(), lot_scope(study)) else { return };
    let lots = model.trials.most().div_ceil(lot);
    if lots <= FEW {
        let noun = if lots == 1 { "lot is" } else { "lots are" };
        findings.warning(
            scope,
            format!("{lots} {noun} few: every interval is by lots"),
            format!("{} units share the draw of a lot", lot),
            Some(format!(
                "more units, {} or more for 30 lots, or fewer a lot where lots are smaller",
                lot.saturating_mul(30)
            )),
        );
    }
}

/// Where the first distribution that is drawn for each lot states its scope.
fn lot_scope(study: &Study) -> Option<Span> {
    let listed = study.chain.blocks().iter().flat_map(|named| named.block.tolerances());
    let of_lots = |of: Listed<Tolerance>| {
        let mut spreads = of.tolerance.spreads();
        spreads.find(|(spread, _)| spread.scope == Scope::Lot).map(|(_, span)| span.clone())
    };
    listed.filter_map(of_lots).next()
}

/// Builds a few units and gives the lowest and the highest gain (dB over nominal) of the channels of each.
fn gain_spreads(model: &Model) -> Vec<(f64, f64)> {
    let mut draws = model.sources.buffer::<LANES>();
    let mut spreads = Vec::new();
    for batch in 0..UNITS / LANES as u64 {
        model.sources.draw(batch * LANES as u64, &mut draws);
        let mut gain = vec![[0.0; LANES]; model.channels()];
        let mut phase = gain.clone();
        model.chain.add(Side::Before, &model.at_bench, &draws, &mut gain, &mut phase, |_| {});
        spreads.extend((0..LANES).map(|lane| {
            let db = || gain.iter().map(|gain| gain[lane] / NEPERS_A_DB);
            (db().fold(f64::INFINITY, f64::min), db().fold(f64::NEG_INFINITY, f64::max))
        }));
    }
    spreads
}

/// Asks whether the attenuator reaches as far as the units' gains spread.
fn level_range(
    model: &Model,
    calibration: &Calibration,
    at: impl Fn() -> Option<Span>,
    spreads: &[(f64, f64)],
    findings: &Findings,
) {
    let (Some(level), Some(attenuator)) = (&calibration.level, model.chain.attenuator()) else { return };
    let range = attenuator.step_db() * (attenuator.states() - 1) as f64;
    let reach = range + attenuator.step_db() / 2.0;
    let is_beyond = |(lowest, highest): &&(f64, f64)| match level.goal {
        Goal::Weakest => highest - lowest > reach,
        Goal::Target(goal) => highest - goal > reach,
    };
    let out_of_range = spreads.iter().filter(is_beyond).count();
    if out_of_range > 0 {
        findings.warning(
            at(),
            format!(
                "the attenuator's range of {} is too small for the gain spread",
                format(range, Dimension::Level)
            ),
            format!("{out_of_range} of {UNITS} units cannot be levelled"),
            Some("more bits or a coarser step, or a tighter gain".into()),
        );
    }
}

/// Steps that the receiver hides from the method of a plan.
fn hidden_steps(
    model: &Model,
    calibration: &Calibration,
    at: impl Fn() -> Option<Span>,
    findings: &Findings,
) {
    let Some(align) = &calibration.align else { return };
    let caution = align.caution(model.chain.shifter().step(), &model.receiver_for(calibration));
    if let Some(Caution { message, label, help }) = caution {
        findings.warning(at(), message, label, Some(help.into()));
    }
}
