//! A bench that errs in nothing.

use crate::io::Findings;
use crate::model::Model;
use crate::study::Study;

/// Warns where a plan reads and neither the receiver nor the cables err at all.
pub(super) fn ideal_bench(study: &Study, model: &Model, findings: &Findings) {
    let receiver = &model.receiver;
    let is_ideal = !receiver.is_noisy()
        && receiver.resolution_db == 0.0
        && [receiver.floor_db, receiver.saturation_db].iter().all(Option::is_none)
        && model.stability.is_ideal()
        && model.fixture.is_ideal()
        && model.fixture.probe_gain.is_zero()
        && model.fixture.probe_phase.is_zero();
    let Some(first) = model.calibrations.iter().find(|of| !of.is_none()).filter(|_| is_ideal) else { return };
    findings.warning(
        study.place_of_calibration(&first.name),
        "the bench of this study errs in nothing: no noise, no display, no cable that is moved",
        "what it leaves is rounding alone",
        Some("state it, such as `receiver = { noise = \"0.03 dB\", resolution = \"0.01 dB\" }` and `reconnection = { phase = { normal = { sd = \"0.5 deg\" } } }` in [bench]".into()),
    );
}
