//! Temperatures that nothing answers to.

use crate::chain::Block;
use crate::io::{Dimension, Findings};
use crate::model::Model;
use crate::study::Study;

/// Warns where the study names a temperature other than that of its nominal values and no part changes with it.
pub(super) fn temperatures(study: &Study, model: &Model, findings: &Findings) {
    let reference = study.reference_temperature;
    let is_other = |kelvin: &f64| (kelvin - reference).abs() > 1e-9;
    let is_asked = study.temperatures.iter().chain([&study.bench_temperature]).any(is_other);
    if !is_asked || model.chain.blocks().iter().any(|named| is_answering(&named.block)) {
        return;
    }
    let at = study.written.temperatures.clone().or(study.written.bench_temperature.clone());
    findings.warning(
        at,
        "nothing in the study depends on temperature: every temperature gives the same",
        "no block has a coefficient",
        Some("give parts what their data sheets say, such as `phase_temperature` of a cable, `gain_temperature` of an amplifier; or leave the temperatures out".into()),
    );
}

fn is_answering(block: &Block) -> bool {
    let is_coefficient = |dimension: Dimension, key: &str| {
        let per_temperature = matches!(
            dimension,
            Dimension::RatioPerTemperature | Dimension::LevelPerTemperature | Dimension::AnglePerTemperature
        );
        per_temperature || key == "phase_step.size"
    };
    block.tolerances().iter().any(|of| is_coefficient(of.dimension, of.key) && !of.tolerance.is_zero())
}
