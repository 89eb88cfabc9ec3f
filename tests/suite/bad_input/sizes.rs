//! Numbers that can be read but not borne: refused in the study, or run to results without a number that is none.

use super::{case, check};
use crate::program::{Folder, SMALL, edited, nulls};

const LAYOUT: &str = "layout = { kind = \"linear\", count = 8, spacing = \"0.5 wavelength\" }";
const LINE: &str = "{ kind = \"linear\"";
const GAIN: &str = "truncated_normal = { sd = \"0.7 dB\", at = \"1.5 dB\" }, scope = \"chip\"";

#[test]
fn arrays_beyond_memory_or_sense() {
    check(&[
        case(
            LAYOUT,
            "layout = { kind = \"rectangular\", columns = 4096, rows = 4096, column_spacing = \"5 mm\", row_spacing = \"5 mm\" }",
            "{ kind",
            &["4096 by 4096 elements are 16777216 channels", "at most 4096 channels"],
        ),
        case(
            LAYOUT,
            "layout = { kind = \"rectangular\", columns = 64, rows = 64, column_spacing = \"300 mm\", row_spacing = \"300 mm\" }",
            "{ kind",
            &["the far field of this array takes", "samples", "fewer elements, or a closer spacing"],
        ),
        // 32 wavelengths at 10 GHz are 32 x 29.9792458 mm; a hundredth of one at 9.8 GHz is 0.30591 mm.
        case(
            LAYOUT,
            "layout = { kind = \"linear\", count = 8, spacing = \"33 wavelengths\" }",
            LINE,
            &[
                "elements cannot stand 989.315 mm apart",
                "0.01 to 32 wavelengths",
                "0.305911 mm to 959.336 mm",
            ],
        ),
        case(
            LAYOUT,
            "layout = { kind = \"linear\", count = 8, spacing = \"1e9 wavelengths\" }",
            LINE,
            &["too wide a lattice"],
        ),
        case(
            LAYOUT,
            "layout = { kind = \"linear\", count = 8, spacing = \"1e300 wavelengths\" }",
            LINE,
            &["too wide a lattice"],
        ),
        case(
            LAYOUT,
            "layout = { kind = \"linear\", count = 8, spacing = \"1e-300 m\" }",
            LINE,
            &["too dense a lattice"],
        ),
        case(
            LAYOUT,
            "layout = { kind = \"linear\", count = 8, spacing = \"1e300 m\" }",
            "\"1e300 m\"",
            &["is too large"],
        ),
    ]);
    // One draw for each of 4096 states of 2048 channels.
    let edits =
        [("count = 8", "count = 2048"), ("bits = 5\nbit_phase_error", "bits = 12\nstate_phase_error")];
    let report = Folder::with(edited(SMALL, &edits)).refused(&["check", "study.toml"]);
    assert!(
        report.contains("tolerances to draw") && report.contains("errors given for each bit"),
        "{report}"
    );
}

#[test]
fn quantities_that_are_slips_of_the_unit() {
    check(&[
        case(
            "sd = \"0.2 mm\"",
            "sd = \"1e6 m\"",
            "\"1e6 m\"",
            &["`1e6 m` is too large", "a length is at most 10000 m"],
        ),
        case(
            GAIN,
            "normal = { sd = \"1e5 dB\" }",
            "\"1e5 dB\"",
            &["is too large", "a level is at most 1000 dB"],
        ),
        case(
            "sd = \"1 deg\"",
            "sd = \"1e300 deg\"",
            "\"1e300 deg\"",
            &["is too large", "an angle is at most 100000 deg"],
        ),
        case(
            "set_up = \"6 min\"",
            "set_up = \"1e300 h\"",
            "\"1e300 h\"",
            &["is too large", "a time is at most 2777.78 h"],
        ),
        case("\"-50 dB\"", "\"-1e308 dB\"", "\"-1e308 dB\"", &["`-1e308 dB` is too large"]),
        case(
            "\"0.1 beamwidth\"",
            "\"1e308 beamwidth\"",
            "\"1e308",
            &["no number of beamwidths", "from 0 to 1000000"],
        ),
        case(
            "velocity_factor = 0.7",
            "velocity_factor = { nominal = 0.7, normal = { sd = 1e300 } }",
            "1e300",
            &["from -1000000 to 1000000"],
        ),
        case("cosine_exponent = 0.5", "cosine_exponent = 1e3", "1e3", &["must be from 0 to 20"]),
        case(
            "\"9.8 GHz\"",
            "\"0.001 Hz\"",
            "\"0.001 Hz\"",
            &["`frequencies` is 0.001 Hz, but must be from 1 Hz to 1e13 Hz"],
        ),
        case(
            "\"9.8 GHz\"",
            "\"1e300 Hz\"",
            "\"1e300 Hz\"",
            &["is too large", "a frequency is at most 10 THz"],
        ),
        case(
            "align = { method = \"fit\", codes = 8, reference = 3 }",
            "align = { method = \"fit\", codes = 8, reference = 1e300 }",
            "1e300",
            &["must be a whole number"],
        ),
    ]);
    let one_bit = [("bits = 5", "bits = 1"), ("codes = 8, ", "")];
    let report = Folder::with(edited(SMALL, &one_bit)).refused(&["check", "study.toml"]);
    assert!(report.contains("3 codes are needed, the shifter has 2"), "{report}");
}

/// The widest allowed values: units that cannot be measured are counted as failed, with a reason, and no output holds
/// a number that is none.
#[test]
fn wide_but_allowed() {
    let wide: &[&[(&str, &str)]] = &[
        &[("sd = \"0.2 mm\"", "sd = \"10000 m\"")],
        &[(GAIN, "normal = { sd = \"1000 dB\" }")],
        &[(GAIN, "normal = { sd = \"100 dB\" }"), ("noise = \"0.03 dB\"", "noise = \"1000 dB\"")],
        &[("\"-50 dB\"", "\"1000 dB\"")],
        &[("floor = \"-50 dB\"", "noise_floor = \"1000 dB\"")],
        &[("floor = \"-50 dB\"", "noise_floor = \"-1000 dB\"")],
        &[("resolution = \"0.01 dB\"", "resolution = \"1000 dB\"")],
        &[("resolution = \"0.01 dB\"", "resolution = \"1e-300 dB\"")],
        &[("step = \"0.5 dB\"", "step = \"1000 dB\"")],
        &[("step = \"0.5 dB\"", "step = \"1e-300 dB\"")],
        &[("sd = \"1 deg\"", "sd = \"100000 deg\""), ("nominal = \"3 deg\"", "nominal = \"100000 deg\"")],
        &[("velocity_factor = 0.7", "velocity_factor = { nominal = 0.7, normal = { sd = 10 } }")],
        &[(
            "effective_permittivity = 2.9",
            "effective_permittivity = { nominal = 2.9, uniform = { half_width = 1e6 } }",
        )],
        &[("reading = \"50 ms\"", "reading = \"1e7 s\"")],
        &[("0.1 beamwidth", "1e6 beamwidth")],
        &[("theta = \"0 deg\"", "theta = \"90 deg\"")],
        &[
            ("theta = \"0 deg\"", "theta = \"-89.9999 deg\""),
            ("cosine_exponent = 0.5", "cosine_exponent = 0"),
        ],
        &[("cosine_exponent = 0.5", "cosine_exponent = 20")],
        &[("0.5 wavelength", "31 wavelength")],
        &[("0.5 wavelength", "0.0103 wavelength")],
        &[("count = 8", "count = 2"), ("reference = 3", "reference = 1")],
        &[
            ("\"9.8 GHz\", \"10 GHz\"", "\"1 Hz\""),
            ("command_frequency = \"10 GHz\"", ""),
            ("\nfrequency = \"10 GHz\"", ""),
        ],
        &[
            ("\"9.8 GHz\", \"10 GHz\"", "\"10 THz\""),
            ("command_frequency = \"10 GHz\"", ""),
            ("\nfrequency = \"10 GHz\"", ""),
        ],
    ];
    for edits in wide {
        let folder = Folder::with(edited(SMALL, edits));
        folder.done(&[
            "run",
            "study.toml",
            "--quiet",
            "--trials",
            "9",
            "--json",
            "run.json",
            "--csv",
            "units.csv",
        ]);
        folder.done(&["unit", "study.toml", "4", "--json", "unit.json"]);
        for document in ["run.json", "unit.json"] {
            assert_eq!(nulls(&folder.json(document)), [""; 0], "{edits:?} {document}");
        }
        let csv = folder.read("units.csv");
        let mut lines = csv.lines().map(|line| line.split(',').collect::<Vec<_>>());
        let header = lines.next().expect("a header");
        for row in lines {
            assert_eq!(row.len(), header.len(), "{edits:?}");
            let (passed, reason) = (row[2], row[6]);
            let values = &row[7..];
            let is_measured = values.iter().all(|value| !value.is_empty());
            let is_number = |value: &&str| value.is_empty() || value.parse().is_ok_and(f64::is_finite);
            assert!(values.iter().all(is_number), "{edits:?} {row:?}");
            assert!(is_measured || (passed == "false" && !reason.is_empty()), "{edits:?} {row:?}");
        }
    }
}

#[test]
fn the_farthest_unit_is_a_unit() {
    let folder = Folder::with(SMALL);
    let text = folder.done(&["unit", "study.toml", "18446744073709551615"]);
    assert!(text.contains("Unit 18446744073709551615 of seed 3"), "{text}");
}
