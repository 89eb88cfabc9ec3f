//! The effect of a block's draws on a unit, against its definition.

use crate::inside::support;
use beamyield::engine::{Unit, rebuild};
use beamyield::model::Model;

/// Two channels half a wavelength apart with one block that varies, used 10 K above the reference.
fn model(figure: &str, block: &str) -> Model {
    support::model(&format!(
        r#"
title = "block"
seed = 2
trials = 1
frequencies = ["28 GHz"]
temperatures = ["35 degC"]
figures = ["{figure}"]
array = {{ layout = {{ kind = "linear", count = 2, spacing = "0.5 wavelength" }} }}
beam = [{{ name = "ahead", theta = "0 deg" }}]
block = [{{ name = "shifter", kind = "phase_shifter", bits = 4 }}, {{ name = "it", {block} }}]
calibration = [{{ name = "none" }}]
"#
    ))
}

/// The first draw of a unit, and the difference of its two channels.
fn drawn(unit: &Unit) -> (f64, f64) {
    let of = &unit.deviations[0][0];
    (of[0], of.last().map_or(0.0, |last| of[0] - last))
}

#[test]
fn phases_count_in_full() {
    // The two stand half of what is drawn between them off their mean, which the residual phase takes out.
    for (block, for_each) in [
        ("kind = \"divider\", phase = { nominal = \"7 deg\", normal = { sd = \"4 deg\" } }", 1.0),
        ("kind = \"element\", phase = { normal = { sd = \"4 deg\" } }", 1.0),
        (
            "kind = \"amplifier\", gain = \"9 dB\", phase_temperature = { normal = { sd = \"0.5 deg/K\" } }",
            10.0,
        ),
    ] {
        let model = model("residual_phase_rms", block);
        for trial in 0..4 {
            let unit = rebuild(&model, trial);
            let expected = for_each * drawn(&unit).1.abs().to_degrees() / 2.0;
            let found = unit.calibrations[0].values[0];
            assert!((found - expected).abs() < 1e-4, "{block}: {found} {expected}");
            assert!(expected > 1e-3, "{block}");
        }
    }
}

#[test]
fn gains_count_in_full() {
    for (block, for_each) in [
        (
            "kind = \"divider\", gain = { nominal = \"1 dB\", normal = { sd = \"1 dB\" }, scope = \"unit\" }",
            1.0,
        ),
        (
            "kind = \"divider\", loss = { nominal = \"3 dB\", normal = { sd = \"0.3 dB\" }, scope = \"unit\" }",
            -1.0,
        ),
        ("kind = \"element\", gain = { normal = { sd = \"1 dB\" }, scope = \"unit\" }", 1.0),
        (
            "kind = \"amplifier\", gain = \"9 dB\", gain_temperature = { normal = { sd = \"0.1 dB/K\" }, scope = \"unit\" }",
            10.0,
        ),
    ] {
        let model = model("eirp_change", block);
        for trial in 0..4 {
            let unit = rebuild(&model, trial);
            let expected = for_each * drawn(&unit).0;
            let found = unit.calibrations[0].values[0];
            assert!((found - expected).abs() < 1e-5, "{block}: {found} {expected}");
            assert!(expected.abs() > 1e-3, "{block}");
        }
    }
}

#[test]
fn two_elements_that_couple_radiate_one_and_c_times_as_much() {
    // |1 + c|^2 with c = 0.1 at 0, 90 and 180 deg: 0.828, 0.0432 and -0.915 dB. Own derivation.
    for (phase, expected) in [("0 deg", 0.827_854), ("90 deg", 0.043_214), ("180 deg", -0.915_150)] {
        let block = format!("kind = \"element\", coupling = {{ level = \"-20 dB\", phase = \"{phase}\" }}");
        let found = rebuild(&model("eirp_change", &block), 0).calibrations[0].values[0];
        assert!((found - expected).abs() < 1e-5, "{phase}: {found}");
    }
    assert_eq!(rebuild(&model("eirp_change", "kind = \"element\""), 0).calibrations[0].values, [0.0]);
}
