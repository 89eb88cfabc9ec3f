//! Warning of a bench that cannot distinguish a dead channel from a living one.

use crate::io::quantity::format;
use crate::io::{Dimension, Findings};
use crate::model::Model;
use crate::study::Study;

/// Standard deviations of a reading of noise alone that a dead channel should stand below the level: one reading in 44 is above, two in
/// a row in 2,000.
const CLEAR: f64 = 2.0;

/// Standard deviation of a reading of thermal noise alone, dB: a neper of power.
const OF_NOISE_DB: f64 = 10.0 / std::f64::consts::LN_10;

/// Asks whether a dead channel, which reads no more than the receiver's floor, reads below the level by which it is known.
pub(super) fn dead_channels(study: &Study, model: &Model, findings: &Findings) {
    let rule = model.hardware.dead;
    if !rule.is_looked_for {
        return;
    }
    // Of a taper the weakest channel counts: what it should have is nearest to the floor.
    let weakest = model.hardware.wanted_db.iter().copied().fold(f64::INFINITY, f64::min);
    for calibration in &model.calibrations {
        let receiver = model.receiver_for(calibration);
        let noise = OF_NOISE_DB / f64::from(receiver.averages).sqrt();
        let thermal = receiver.noise_floor_db.map(|floor| floor + CLEAR * noise);
        let most = thermal.into_iter().chain(receiver.floor_db).fold(f64::NEG_INFINITY, f64::max) - weakest;
        if calibration.is_none() || most <= rule.below_db {
            continue;
        }
        findings.warning(
            study.place_of_calibration(&calibration.name),
            "the receiver's floor can make a dead channel read as a living one",
            format!(
                "it reads up to {} over what it should have, and is known by less than {}",
                format(most, Dimension::Level),
                format(rule.below_db, Dimension::Level)
            ),
            Some("`dead_below` of the bench above that, more averages, or a lower floor".into()),
        );
        break;
    }
}
