//! Levels that no channel has: a gain of next to nothing, and a receiver that cannot see what it is to read.

use crate::bench::Calibration;
use crate::chain::{Conditions, Named};
use crate::io::quantity::format;
use crate::io::{Dimension, Findings, Span};
use crate::model::Model;
use crate::study::Study;

/// A channel that gains less than this is none, dB.
const HARDLY_A_CHANNEL: f64 = -60.0;

/// Warns of a chain whose nominal gain is next to nothing at some frequency in use.
pub(super) fn channel_gain(study: &Study, model: &Model, findings: &Findings) {
    let gain = |at: &&Conditions| -> f64 {
        model.chain.blocks().iter().map(|named| named.block.nominal_gain_db(at)).sum()
    };
    let Some(worst) = model.conditions.iter().min_by(|a, b| gain(a).total_cmp(&gain(b))) else { return };
    if gain(&worst) > HARDLY_A_CHANNEL {
        return;
    }
    let of = |named: &&Named| named.block.nominal_gain_db(worst);
    let blocks = model.chain.blocks().iter().zip(&study.written.blocks);
    let Some((most, span)) = blocks.min_by(|a, b| of(&a.0).total_cmp(&of(&b.0))) else { return };
    findings.warning(
        span.clone(),
        format!(
            "a channel has a nominal gain of {} at {}",
            format(rounded(gain(&worst)), Dimension::Level),
            format(worst.frequency, Dimension::Frequency)
        ),
        format!("{} of it in `{}`", format(rounded(of(&most)), Dimension::Level), most.name),
        Some("look at the units of lengths and of losses a length, such as \"2 dB/m\" of \"120 mm\"; a gain that is stated as a loss".into()),
    );
}

/// Warns where the weakest channel of most units reads below a floor of the receiver. `spreads` are the lowest and the highest gain of
/// the channels of some units, dB over nominal, where they are levelled.
pub(super) fn buried(
    model: &Model,
    calibration: &Calibration,
    at: impl Fn() -> Option<Span>,
    spreads: &[(f64, f64)],
    findings: &Findings,
) {
    if calibration.is_none() || calibration.is_over_the_air() {
        return;
    }
    let receiver = model.receiver_for(calibration);
    let floors = [("floor", receiver.floor_db), ("noise_floor", receiver.noise_floor_db)];
    let floor = floors.into_iter().filter_map(|(key, floor)| Some((key, floor?)));
    let Some((key, floor)) = floor.max_by(|a, b| a.1.total_cmp(&b.1)) else { return };
    let mut lowest: Vec<f64> = spreads.iter().map(|(lowest, _)| *lowest).collect();
    lowest.sort_by(f64::total_cmp);
    let weakest = lowest.get(lowest.len() / 2).copied().unwrap_or(0.0).min(0.0);
    if floor >= weakest {
        findings.warning(
            at(),
            format!("the receiver's {key} of {} is above levels that it reads", format(floor, Dimension::Level)),
            format!(
                "over a nominal channel, the weakest has {}",
                format(rounded(weakest), Dimension::Level)
            ),
            Some("a floor below the channels, such as \"-50 dB\": levels count from a nominal channel, not from a milliwatt".into()),
        );
    }
}

/// To a tenth.
fn rounded(db: f64) -> f64 {
    (10.0 * db).round() / 10.0
}
