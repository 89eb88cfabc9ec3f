//! Shifters and attenuators without rounding.

use super::{cause, first_column};
use crate::inside::check_values::case::{Beam, Case, any_phase, each_unit, line, mean};
use beamyield::figure::Figure;
use beamyield::model::vary::{causes, without};

/// Mean array-gain loss, dB, of units whose phases are found exactly, with the shifter's rounding and without.
fn losses(offsets: &str) -> [f64; 2] {
    let case = Case {
        array: line(256),
        bits: 3,
        trials: 40,
        figures: &[Figure::ArrayGainLoss],
        // Spread over the scan, so that the rounding of their commands is spread evenly.
        beams: (0..16).map(|i| Beam { u: 0.051 + 0.0567 * f64::from(i), null: None }).collect(),
        ..Case::default()
    };
    let model = any_phase(case, offsets).model();
    let perfect = without(&model, cause(&causes(&model), "shifter.rounding"));
    [model, perfect].map(|model| {
        let mut losses = Vec::new();
        each_unit(&model, |values| losses.extend_from_slice(values));
        mean(losses.into_iter())
    })
}

/// A1.2 (published): 0.2244 dB at 3 bits, many elements; two roundings cost twice (A1.9, derived). Without rounding nothing is
/// left, but for single precision.
#[test]
fn without_the_shifters_rounding_no_gain_is_lost() {
    for (offsets, expected) in [("phases", 0.2244), ("codes", 2.0 * 0.2244)] {
        let [rounded, exact] = losses(offsets);
        assert!((rounded - expected).abs() < 0.05 * expected, "{offsets}: {rounded} not {expected}");
        assert!(exact.abs() < 1e-6, "{offsets}: {exact}");
    }
}

/// Largest residual amplitude of the units, dB, with the attenuator's rounding and without.
fn residuals(array: &str, blocks: &str, calibration: &str) -> [f64; 2] {
    let attenuator = "[[block]]\nname = \"attenuator\"\nkind = \"attenuator\"\nbits = 5\nstep = \"0.5 dB\"\n";
    let case = Case {
        trials: 100,
        figures: &[Figure::ResidualAmplitudeMax],
        array: array.into(),
        gain: "{ nominal = \"0 dB\", uniform = { half_width = \"3 dB\" } }".into(),
        blocks: format!("{attenuator}{blocks}"),
        calibration: calibration.into(),
        ..Case::default()
    };
    let model = case.model();
    let perfect = without(&model, cause(&causes(&model), "attenuator.rounding"));
    [model, perfect].map(|model| {
        let mut largest = 0.0f64;
        each_unit(&model, |values| largest = largest.max(values[0]));
        largest
    })
}

/// Levelled exactly, channels differ by the rounding of half a step at most either way, and without it by nothing (definition).
#[test]
fn without_the_attenuators_rounding_all_levels_are_reached() {
    let tapered = format!(
        "{}\ntaper = {{ kind = \"taylor\", side_lobe = \"20 dB\", nbar = 3, set_by = \"attenuators\" }}",
        line(16)
    );
    let errors = "bit_gain_error = { uniform = { half_width = \"0.2 dB\" } }";
    for (what, array, blocks, calibration) in [
        ("the weakest", &line(16), "", "level = { toward = \"weakest\" }"),
        ("the next lower step", &line(16), "", "level = { toward = \"weakest\", rounding = \"next_lower\" }"),
        ("a taper", &tapered, "", "level = { toward = \"weakest\" }"),
        (
            "twice",
            &line(16),
            "",
            "level = { toward = \"weakest\" }\nalign = { method = \"fit\" }\npasses = 2\nrelevel = true",
        ),
        (
            "measured attenuations",
            &line(16),
            errors,
            "characterise = { attenuator = true }\nlevel = { toward = \"weakest\" }",
        ),
    ] {
        let [rounded, exact] = residuals(array, blocks, calibration);
        assert!((0.15..1.0).contains(&rounded), "{what}: {rounded}");
        assert!(exact < 1e-4, "{what}: {exact}");
    }
    // Errors that nobody measured stay.
    let [_, exact] = residuals(&line(16), errors, "level = { toward = \"weakest\" }");
    assert!(exact > 0.1, "{exact}");
}

/// A taper that the attenuators make without any levelling: its rounding alone is left of ideal hardware.
#[test]
fn without_rounding_attenuators_make_a_taper_exactly() {
    let taper = "taper = { kind = \"taylor\", side_lobe = \"25 dB\", nbar = 4, set_by = \"attenuators\" }";
    let case = Case {
        figures: &[Figure::ResidualAmplitudeMax],
        array: format!("{}\n{taper}", line(16)),
        blocks: "[[block]]\nname = \"attenuator\"\nkind = \"attenuator\"\nbits = 5\nstep = \"0.5 dB\"".into(),
        beams: vec![Beam::default()],
        ..Case::default()
    };
    let model = case.model();
    let [rounded] = first_column(&model)[..] else { panic!("one unit") };
    let perfect = without(&model, cause(&causes(&model), "attenuator.rounding"));
    let [exact] = first_column(&perfect)[..] else { panic!("one unit") };
    assert!(rounded > 0.1 && exact < 1e-4, "{rounded} {exact}");
}

/// Where states were measured, a wanted phase is set by the measured states: the errors of the state go with the
/// rounding. What is left is what measuring against a reference with errors of its own leaves.
#[test]
fn without_rounding_measured_states_are_reached() {
    let case = Case {
        bits: 4,
        trials: 50,
        figures: &[Figure::ResidualPhaseRms],
        blocks: "bit_phase_error = { normal = { sd = \"3 deg\" } }".into(),
        ..Case::default()
    };
    let mut case = any_phase(case, "phases");
    let rms = |case: &Case| {
        let model = case.model();
        let perfect = without(&model, cause(&causes(&model), "shifter.rounding"));
        [model, perfect].map(|model| mean(first_column(&model).into_iter()))
    };
    let [_, stays] = rms(&case);
    case.calibration.push_str("\ncharacterise = { shifter = true, codes = 16 }");
    let [rounded, exact] = rms(&case);
    // LSB/sqrt(12) = 6.5 deg (A1.1), and errors of up to four bits of 3 deg each.
    assert!((5.0..8.0).contains(&rounded), "{rounded}");
    assert!(exact < 0.3 * rounded && exact < 0.5 * stays, "{exact} {rounded} {stays}");
}
