//! Limits that units miss are counted the same on any number of threads and lanes.

use beamyield::engine::{Control, run_by};
use std::sync::atomic::AtomicBool;

/// Two beams, two frequencies, three temperatures, of which each limit that some units miss depends on its own; a unit in ten has a
/// dead channel.
const STUDY: &str = r#"
title = "Where it fails"
seed = 11
trials = 700
frequencies = ["10 GHz", "10.02 GHz"]
temperatures = ["-40 degC", "25 degC", "85 degC"]

[array]
layout = { kind = "linear", count = 8, spacing = "15 mm" }
dead_channel = { probability = 0.01, allowed = 0 }

[[beam]]
name = "ahead"
theta = "0 deg"

[[beam]]
name = "side"
theta = "30 deg"

[[block]]
name = "amplifier"
kind = "amplifier"
gain = { nominal = "20 dB", normal = { sd = "0.5 dB" } }
phase = { normal = { sd = "8 deg" } }
gain_temperature = { nominal = "0 dB/K", normal = { sd = "0.005 dB/K" } }

[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 4
bit_phase_error = { normal = { sd = "2 deg" } }

[[calibration]]
name = "none"

[[limit]]
figure = "array_gain_loss"
at_most = "0.25 dB"

[[limit]]
figure = "pointing_error"
at_most = "0.9 deg"
beam = "side"

[[limit]]
figure = "peak_side_lobe"
at_most = "-10.5 dB"
"#;

#[test]
fn threads_and_lanes_change_nothing() {
    let model = crate::inside::support::model(STUDY);
    let told =
        |by: &dyn Fn(Control) -> String, threads| by(Control { threads, interrupt: &AtomicBool::new(false) });
    fn by<const W: usize>(model: &beamyield::model::Model, control: Control) -> String {
        let ran = run_by::<W>(std::slice::from_ref(model), control, &mut |_| Ok(())).expect("a run");
        let summary = &ran.summaries.expect("trials")[0].calibrations[0];
        format!("{:?}{:?}", summary.misses, summary.places)
    }
    let one = told(&|control| by::<1>(&model, control), 1);
    assert!(one.contains("MissSummary"));
    for other in [
        told(&|control| by::<1>(&model, control), 3),
        told(&|control| by::<16>(&model, control), 1),
        told(&|control| by::<16>(&model, control), 5),
    ] {
        assert_eq!(one, other);
    }
}
