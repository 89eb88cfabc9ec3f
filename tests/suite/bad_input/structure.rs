//! Parts of a study that do not fit each other, and several errors at once.

use super::{case, check, line_and_column};
use crate::program::{Folder, SMALL, edited};

const SHIFTER: &str = "kind = \"phase_shifter\"\nbits = 5\nbit_phase_error = { normal = { sd = \"1 deg\" } }";
const JUMPER: &str = "[[block]]\nname = \"jumper\"\nkind = \"cable\"\nlength = { nominal = \"60 mm\", triangular = { half_width = \"0.2 mm\" } }\n\
                      velocity_factor = 0.7";

#[test]
fn tolerances() {
    let two = "normal = { sd = \"0.2 mm\" }, uniform = { half_width = \"1 mm\" }";
    check(&[
        case(
            "normal = { sd = \"0.2 mm\" }",
            two,
            "{ half_width",
            &["both `normal` and `uniform`", "has one distribution"],
        ),
        case(
            "bit_phase_error",
            "state_gain_error = \"0 dB\"\nbit_phase_error",
            "{ normal = { sd = \"1 deg\"",
            &[
                "errors are given for each bit and for each state",
                "keep the `bit_...` keys or the `state_...` keys",
            ],
        ),
    ]);
}

#[test]
fn the_chain() {
    check(&[
        case(
            "reference_plane = { after = \"attenuator\" }",
            "reference_plane = { after = \"shifter\" }",
            "\"shifter\"",
            &[
                "the bench cannot see `attenuator`, which it has to step",
                "after `attenuator` or a later block",
            ],
        ),
        case(
            "after = \"attenuator\"",
            "after = \"driver\"",
            "\"driver\"",
            &["the bench cannot see `shifter`", "the bench cannot see `attenuator`", "stands before it"],
        )
        .with_errors(2),
        case(
            SHIFTER,
            "kind = \"amplifier\"\ngain = \"1 dB\"",
            "",
            &["no phase shifter to steer with", "add a `[[block]]`"],
        ),
        case(
            SHIFTER,
            "kind = \"phase_shifter\"\nbits = 5\nstands_at = 1",
            "",
            &["no phase shifter to steer with"],
        ),
        case(
            "[[block]]\nname = \"jumper\"\nkind = \"cable\"",
            "[[block]]\nname = \"second\"\nkind = \"phase_shifter\"\nbits = 4\n\n[[block]]\nname = \"jumper\"\nkind = \"cable\"",
            "[[block]]",
            &["two blocks of kind phase_shifter are stepped", "`shifter` is stepped too", "`stands_at = 0`"],
        ),
        case(
            "step = \"0.5 dB\"",
            "step = \"0.5 dB\"\nstands_at = 0",
            "{ toward = \"weakest\" }",
            &["nothing to level with", "no attenuator that is stepped"],
        ),
        case(
            JUMPER,
            "[[block]]\nname = \"jumper\"\nkind = \"cable\"",
            "[[block]]",
            &["missing key `length`", "missing key `velocity_factor`"],
        )
        .with_errors(2),
    ]);
}

#[test]
fn lines_have_one_scan_plane_and_names_differ() {
    check(&[
        case(
            "theta = \"-25 deg\"",
            "theta = \"-25 deg\"\nphi = \"10 deg\"",
            "\"10 deg\"",
            &["a line scans in one plane", "leave `phi` out"],
        ),
        case(
            "name = \"aside\"",
            "name = \"ahead\"",
            "\"ahead\"",
            &["two things of kind beam are named `ahead`", "a name of its own"],
        ),
        case(
            "name = \"driver\"",
            "name = \"feed\"",
            "\"feed\"",
            &["two things of kind block are named `feed`"],
        ),
        case(
            "name = \"climb\"",
            "name = \"fit\"",
            "\"fit\"",
            &["two things of kind calibration are named `fit`"],
        ),
        case(
            "name = \"feed\"",
            "name = \"fe.ed\"",
            "\"fe.ed\"",
            &["`fe.ed` cannot name a block", "holds no point"],
        ),
        case("name = \"aside\"", "name = \"\"", "\"\"", &["`` cannot name a beam", "a name is not empty"]),
        case("name = \"climb\"", "name = \"a=b\"", "\"a=b\"", &["`a=b` cannot name a calibration"]),
        case(
            "[\"9.8 GHz\", \"10 GHz\"]",
            "[\"10 GHz\", \"10000 MHz\"]",
            "\"10000 MHz\"",
            &["a frequency stands twice", "leave one"],
        ),
        case(
            "trials = 130",
            "trials = 130\nfigures = [\"null_depth\", \"null_depth\"]",
            "\"null_depth\"]",
            &["`null_depth` stands twice"],
        ),
    ]);
}

#[test]
fn limits() {
    check(&[
        case(
            "[[limit]]\nfigure = \"array_gain_loss\"\nat_most = \"0.4 dB\"",
            "[[limit]]\nfigure = \"array_gain_loss\"",
            "[[limit]]",
            &[
                "a limit without a bound",
                "one of `at_most` and `at_least` is expected",
                "`at_most = \"0.5 dB\"`",
            ],
        ),
        case(
            "[[limit]]\nfigure = \"array_gain_loss\"",
            "[[limit]]\nat_least = \"0 dB\"\nfigure = \"array_gain_loss\"",
            "[[limit]]",
            &["two bounds in one limit", "one of `at_most` and `at_least` is expected"],
        ),
    ]);
}

#[test]
fn what_a_study_cannot_do_without() {
    let without = |part: &str| {
        let from = SMALL.find(part).expect("the part");
        let kept = SMALL.lines().scan(false, |inside, line| {
            if line.starts_with('[') {
                *inside = line == part;
            }
            Some((!*inside).then_some(line))
        });
        assert!(from > 0);
        let kept: Vec<&str> = kept.flatten().collect();
        Folder::with(kept.join("\n")).refused(&["check", "study.toml"])
    };
    for (part, says) in [
        ("[[beam]]", ["error: no beam", "add `[[beam]]` with `name` and `theta`"]),
        ("[[block]]", ["error: no block", "add `[[block]]` with `name` and `kind`"]),
        ("[[calibration]]", ["error: no calibration plan", "add `[[calibration]]` with `name`"]),
        ("[array]", ["missing key `array`", "add, for example, `array = "]),
    ] {
        let report = without(part);
        assert!(says.iter().all(|words| report.contains(words)), "{part}\n{report}");
    }
}

#[test]
fn six_errors_come_out_at_once_in_their_order() {
    let edits = [
        ("seed = 3", "seed = -3"),
        ("\"linear\"", "\"liner\""),
        ("theta = \"-25 deg\"", "theta = \"-25 mm\""),
        ("bits = 5", "bits = 13"),
        ("method = \"climb\"", "method = \"clime\""),
        ("at_most = \"0.1 beamwidth\"", "at_mots = \"0.1 beamwidth\""),
    ];
    // Where each of them points; the last, a limit without a bound, points at its header as well.
    let at = [
        "-3",
        "\"liner\"",
        "\"-25 mm\"",
        "13\nbit",
        "\"clime\"",
        "[[limit]]\nfigure = \"pointing_error\"",
        "at_mots",
    ];
    let study = edited(SMALL, &edits);
    let report = Folder::with(&study).refused(&["run", "study.toml"]);
    let found: Vec<&str> =
        report.lines().filter_map(|line| line.trim().strip_prefix("--> study.toml:")).collect();
    let expected: Vec<String> =
        at.iter().map(|at| line_and_column(&study, study.find(at).expect("a place"))).collect();
    assert_eq!(found, expected, "{report}");
    assert!(report.ends_with("7 errors in study.toml\n"), "{report}");
}

#[test]
fn syntax_errors_come_out_at_once() {
    let edits = [("seed = 3", "seed = = 3"), ("chip = 2", "chip = "), ("bits = 5", "bits = ")];
    let report = Folder::with(edited(SMALL, &edits)).refused(&["check", "study.toml"]);
    for line in ["study.toml:3:", "study.toml:12:", "study.toml:37:"] {
        assert!(report.contains(line), "{line}\n{report}");
    }
    // Errors that follow from half a text would be guesswork.
    assert!(report.ends_with("3 errors in study.toml\n"), "{report}");
}
