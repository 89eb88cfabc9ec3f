//! Each warning by a line of a study that raises it, and by a near twin that does not.

use crate::inside::folder::edited;
use beamyield::io::{Diagnostic, SourceText, render};
use beamyield::{model, study};

/// A study of which nothing is warned.
const SOUND: &str = r#"
title = "Weighbridge link: 8 elements at 10 GHz"
seed = 7
trials = 300
frequencies = ["10 GHz"]

[array]
layout = { kind = "linear", count = 8, spacing = "0.5 wavelength" }
taper = { kind = "uniform" }

[[beam]]
name = "ahead"
theta = "0 deg"

[[block]]
name = "driver"
kind = "amplifier"
gain = { nominal = "20 dB", normal = { sd = "0.4 dB" } }
phase = { uniform = { half_width = "20 deg" } }

[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 5
bit_phase_error = { normal = { sd = "1 deg" } }

[[block]]
name = "attenuator"
kind = "attenuator"
bits = 5
step = "0.5 dB"

[[block]]
name = "jumper"
kind = "cable"
length = { nominal = "60 mm", normal = { sd = "0.2 mm" } }
velocity_factor = 0.7
attenuation = "2 dB/m"

[bench]
reference_plane = { after = "attenuator" }
receiver = { noise = "0.03 dB", averages = 4, resolution = "0.01 dB", noise_floor = "-55 dB" }
reconnection = { phase = { normal = { sd = "0.5 deg" } } }

[[calibration]]
name = "none"

[[calibration]]
name = "fit"
level = { toward = "weakest" }
align = { method = "fit", codes = 16 }
offsets = "phases"

[[limit]]
figure = "peak_side_lobe"
at_most = "-10 dB"
"#;

fn warned(text: &str) -> Vec<Diagnostic> {
    let source = SourceText { name: "weighbridge.toml".into(), text: text.into() };
    let study =
        study::parse(&source).unwrap_or_else(|findings| panic!("{}", render(&source, &findings, false)));
    model::warnings(&study, &model::compile(&study, text))
}

/// The one warning of the study with edits that says so, and none of its twin.
fn one(edits: &[(&str, &str)], said: &str, twin: &[(&str, &str)]) -> Diagnostic {
    let text = edited(SOUND, edits);
    let found = warned(&text);
    assert_eq!(found.len(), 1, "{said}: {found:#?}");
    assert!(found[0].message.contains(said), "{said}: {found:#?}");
    assert!(found[0].help.is_some(), "without a remedy: {found:#?}");
    let of_twin = warned(&edited(SOUND, twin));
    assert!(of_twin.is_empty(), "{said}: {of_twin:#?}");
    found[0].clone()
}

/// What stands where a warning points.
fn place<'t>(text: &'t str, of: &Diagnostic) -> &'t str {
    &text[of.span.clone().expect("a place")]
}

#[test]
fn nothing_is_warned_of_a_sound_study() {
    assert_eq!(warned(SOUND), []);
}

const LIMIT: &str = "figure = \"peak_side_lobe\"\nat_most = \"-10 dB\"";

#[test]
fn limits_that_let_everything_pass() {
    let limit = |line: &'static str| [(LIMIT, line)];
    let sign = limit("figure = \"peak_side_lobe\"\nat_most = \"12 dB\"");
    let found = one(
        &sign,
        "peak side lobe binds no unit",
        &limit("figure = \"peak_side_lobe\"\nat_most = \"-12 dB\""),
    );
    assert!(found.help.as_ref().is_some_and(|help| help.contains("at_most = \"-12 dB\"")), "{found:?}");
    assert_eq!(place(&edited(SOUND, &sign), &found), "\"12 dB\"");
    for (idle, title, twin) in [
        (
            "figure = \"array_gain_loss\"\nat_least = \"-0.5 dB\"",
            "array-gain loss binds no unit",
            "figure = \"array_gain_loss\"\nat_most = \"0.5 dB\"",
        ),
        (
            "figure = \"residual_phase_max\"\nat_most = \"190 deg\"",
            "binds no unit",
            "figure = \"residual_phase_max\"\nat_most = \"90 deg\"",
        ),
        (
            "figure = \"residual_amplitude_rms\"\nat_least = \"0 dB\"",
            "binds no unit",
            "figure = \"residual_amplitude_rms\"\nat_most = \"1 dB\"",
        ),
        (
            "figure = \"pointing_error\"\nat_most = \"180 deg\"",
            "binds no unit",
            "figure = \"pointing_error\"\nat_most = \"2 deg\"",
        ),
        (
            "figure = \"mean_side_lobe\"\nat_most = \"0 dB\"",
            "binds no unit",
            "figure = \"mean_side_lobe\"\nat_most = \"-12 dB\"",
        ),
    ] {
        one(&limit(idle), title, &limit(twin));
    }
}

#[test]
fn limits_that_the_error_free_array_misses_have_a_remedy() {
    let limit = |line: &'static str| [(LIMIT, line)];
    let found = one(
        &limit("figure = \"eirp_change\"\nat_least = \"2 dB\""),
        "no unit can meet",
        &limit("figure = \"eirp_change\"\nat_least = \"-2 dB\""),
    );
    assert!(found.help.is_some_and(|help| help.contains("at_least = \"-2 dB\"")));
    let found = one(
        &limit("figure = \"peak_side_lobe\"\nat_most = \"-20 dB\""),
        "no unit can meet",
        &limit("figure = \"peak_side_lobe\"\nat_most = \"-12 dB\""),
    );
    assert!(found.help.is_some_and(|help| help.contains("a limit above -12.")));
}

#[test]
fn parts_that_a_bench_without_a_reference_plane_sees() {
    let plane = "reference_plane = { after = \"attenuator\" }\n";
    let found = one(
        &[(plane, "")],
        "the bench sees `jumper`, as no reference plane is stated",
        &[(plane, "reference_plane = { after = \"jumper\" }\n")],
    );
    assert!(found.help.as_ref().is_some_and(|help| help.contains("after = \"attenuator\"")), "{found:?}");
    // A cable that does not vary is no matter.
    let exact = ("{ nominal = \"60 mm\", normal = { sd = \"0.2 mm\" } }", "\"60 mm\"");
    assert_eq!(warned(&edited(SOUND, &[(plane, ""), exact])), []);
}

#[test]
fn a_bench_that_errs_in_nothing() {
    let receiver = "receiver = { noise = \"0.03 dB\", averages = 4, resolution = \"0.01 dB\", noise_floor = \"-55 dB\" }\n";
    let reconnection = "reconnection = { phase = { normal = { sd = \"0.5 deg\" } } }\n";
    let said = "the bench of this study errs in nothing";
    one(&[(receiver, ""), (reconnection, "")], said, &[(receiver, "")]);
    // Without any bench, and all that is stepped at the end.
    let bench = format!("[bench]\nreference_plane = {{ after = \"attenuator\" }}\n{receiver}{reconnection}");
    let found = warned(&edited(SOUND, &[(&bench, "")]));
    assert_eq!(found.len(), 2, "{found:#?}");
    assert!(found.iter().any(|of| of.message.contains(said)), "{found:#?}");
}

#[test]
fn temperatures_that_nothing_answers_to() {
    let at = ("seed = 7\n", "seed = 7\ntemperatures = [\"-40 degC\", \"25 degC\", \"85 degC\"]\n");
    let said = "nothing in the study depends on temperature";
    let cable = ("velocity_factor = 0.7\n", "velocity_factor = 0.7\nphase_temperature = \"-40 ppm/K\"\n");
    let found = one(&[at], said, &[at, cable]);
    assert_eq!(place(&edited(SOUND, &[at]), &found), "[\"-40 degC\", \"25 degC\", \"85 degC\"]");
    let warm = ("[bench]\n", "[bench]\ntemperature = \"30 degC\"\n");
    one(&[warm], said, &[("[bench]\n", "[bench]\ntemperature = \"25 degC\"\n")]);
}

#[test]
fn spreads_that_no_part_has() {
    let phase = "phase = { uniform = { half_width = \"20 deg\" } }";
    let turned = |distribution: &'static str| [(phase, distribution)];
    one(
        &turned("phase = { uniform = { half_width = \"200 deg\" } }"),
        "`driver.phase` spreads by 200 deg",
        &turned("phase = { uniform = { half_width = \"180 deg\" } }"),
    );
    // A uniform distribution over a whole turn has 103.9 deg.
    one(
        &turned("phase = { normal = { sd = \"110 deg\" } }"),
        "`driver.phase` spreads by 110 deg",
        &turned("phase = { normal = { sd = \"100 deg\" } }"),
    );
    let length = "length = { nominal = \"60 mm\", normal = { sd = \"0.2 mm\" } }";
    // Phi(-1) = 15.9 %; Phi(-4) = 0.003 %: tables of the normal distribution.
    one(
        &[(length, "length = { nominal = \"0.2 mm\", normal = { sd = \"0.2 mm\" } }")],
        "`jumper.length` is drawn below zero in 16 % of the parts",
        &[(length, "length = { nominal = \"0.8 mm\", normal = { sd = \"0.2 mm\" } }")],
    );
    let gain = "gain = { nominal = \"20 dB\", normal = { sd = \"0.4 dB\" } }";
    one(
        &[(gain, "gain = { nominal = \"20 dB\", truncated_normal = { sd = \"1 dB\", at = \"0.4 dB\" } }")],
        "cut at 0.4 of its standard deviations",
        &[(gain, "gain = { nominal = \"20 dB\", truncated_normal = { sd = \"1 dB\", at = \"0.6 dB\" } }")],
    );
}

#[test]
fn levels_that_no_channel_has() {
    let loss = "attenuation = \"2 dB/m\"";
    // 20 dB - 60 mm of 1500 dB/m: -70 dB; of 1300 dB/m: -58 dB.
    let found = one(
        &[(loss, "attenuation = \"1500 dB/m\"")],
        "a channel has a nominal gain of -70 dB at 10 GHz",
        &[(loss, "attenuation = \"1300 dB/m\"")],
    );
    assert_eq!(found.label, "-90 dB of it in `jumper`");
    let floor = "noise_floor = \"-55 dB\"";
    one(
        &[(floor, "noise_floor = \"3 dB\"")],
        "the receiver's noise_floor of 3 dB is above levels that it reads",
        &[(floor, "noise_floor = \"-20 dB\"")],
    );
    one(&[(floor, "floor = \"0.5 dB\"")], "the receiver's floor of 0.5 dB", &[(floor, "floor = \"-20 dB\"")]);
}

#[test]
fn a_sample_of_lots_that_are_alike() {
    let gain = "gain = { nominal = \"20 dB\", normal = { sd = \"0.4 dB\" } }";
    let inspection = "inspection = { accept = \"0.9 dB\", gauge = { sd = \"0.05 dB\" }, sample = { lot = 200, parts = 20, allowed = 2 } }";
    let alike = format!("gain = {{ nominal = \"20 dB\", normal = {{ sd = \"0.4 dB\" }}, {inspection} }}");
    let lots = format!(
        "gain = {{ nominal = \"20 dB\", normal = {{ sd = \"0.4 dB\" }}, and = {{ normal = {{ sd = \"0.3 dB\" }}, scope = \"lot\" }}, {inspection} }}"
    );
    let of_lots = [(gain, lots.as_str()), ("seed = 7\n", "seed = 7\nlot = 5\n")];
    one(&[(gain, &alike)], "a sample of each lot of `driver.gain` changes nothing", &of_lots);
}
