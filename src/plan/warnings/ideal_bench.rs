//! A bench that errs in nothing.

use crate::io::Findings;
use crate::plan::Plan;
use crate::study::Study;

/// Warns where a plan reads and neither the receiver nor the cables err at all.
pub(super) fn ideal_bench(study: &Study, plan: &Plan, findings: &Findings) {
    let receiver = &plan.receiver;
    let is_ideal = !receiver.is_noisy()
        && receiver.resolution_db == 0.0
        && [receiver.floor_db, receiver.saturation_db].iter().all(Option::is_none)
        && plan.stability.is_ideal()
        && plan.fixture.is_ideal()
        && plan.fixture.probe_gain.is_zero()
        && plan.fixture.probe_phase.is_zero();
    let Some(first) = plan.calibrations.iter().find(|of| !of.is_none()).filter(|_| is_ideal) else { return };
    findings.warning(
        study.place_of_calibration(&first.name),
        "the bench of this study errs in nothing: no noise, no display, no cable that is moved",
        "what it leaves is rounding alone",
        Some("state it, such as `receiver = { noise = \"0.03 dB\", resolution = \"0.01 dB\" }` and `reconnection = { phase = { normal = { sd = \"0.5 deg\" } } }` in [bench]".into()),
    );
}
