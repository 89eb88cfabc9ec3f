//! Inspections that cannot be.

use super::{case, check};
use crate::program::{Folder, SMALL, edited};

const LENGTH: &str = "normal = { sd = \"0.2 mm\" } }";

/// A case of the feed's length with this beside its distribution.
macro_rules! beside {
    ($text:literal, $at:literal, $says:expr) => {
        case(LENGTH, concat!("normal = { sd = \"0.2 mm\" }, ", $text, " }"), $at, $says)
    };
}

#[test]
fn limits_guard_bands_and_gauges() {
    check(&[
        beside!("inspection = 3", "3 }", &["a table"]),
        beside!(
            "inspection = { accept = \"-1 mm\" }",
            "\"-1 mm\"",
            &["`accept` is -1 mm, but must be above zero"]
        ),
        beside!("inspection = { accept = [1] }", "[1]", &["a list where"]),
        beside!("inspection = { accept = \"1 dB\" }", "\"1 dB\"", &["dB"]),
        beside!("inspection = { accept = {} }", "{}", &["`accept` has no end", "give `from`, `to`, or both"]),
        beside!(
            "inspection = { accept = { from = \"1 mm\", to = \"-1 mm\" } }",
            "{ from",
            &["nothing is within `accept`", "`from` is below `to`"]
        ),
        beside!(
            "inspection = { accept = { form = \"1 mm\", to = \"2 mm\" } }",
            "form",
            &["unknown key `form`", "did you mean `from`?"]
        ),
        beside!("inspection = { accept = \"1 mm\", limit = 3 }", "limit", &["unknown key `limit`"]),
        beside!("inspection = { accept = \"1 mm\", gauge = \"0.1 mm\" }", "\"0.1 mm\"", &["a table"]),
        beside!(
            "inspection = { accept = \"1 mm\", gauge = { sd = \"-0.1 mm\" } }",
            "\"-0.1 mm\"",
            &["`sd` is -0.1 mm, but must"]
        ),
        beside!(
            "inspection = { accept = \"1 mm\", time = \"-3 s\" }",
            "\"-3 s\"",
            &["`time` is -3 s, but must"]
        ),
        beside!(
            "inspection = { accept = \"1 mm\", tolerance = \"1.2 mm\", guard = \"0.2 mm\" }",
            "\"0.2 mm\" } }",
            &["`tolerance`, `accept` and `guard` together", "two of them give the third"]
        ),
        beside!(
            "inspection = { tolerance = \"0.2 mm\", guard = \"0.3 mm\" }",
            "\"0.3 mm\"",
            &["the guard band leaves nothing to be taken", "smaller than half the width of the tolerance"]
        ),
        beside!(
            "inspection = { accept = \"0.2 mm\", guard = \"-0.3 mm\" }",
            "\"-0.3 mm\"",
            &["the guard band leaves no tolerance"]
        ),
        beside!(
            "inspection = { accept = \"1 mm\", gauge = { sd = \"0.1 mm\" }, guard = { expanded = 1, conformance = 0.9 } }",
            "{ expanded",
            &["a guard band is stated in one way"]
        ),
        beside!(
            "inspection = { accept = \"1 mm\", gauge = { sd = \"0.1 mm\" }, guard = { conformance = 1 } }",
            "1 }",
            &["`conformance` is 1, but must be from 0.0001 to 0.9999"]
        ),
        beside!(
            "inspection = { accept = \"1 mm\", guard = { expanded = 1 } }",
            "{ expanded",
            &["a guard band against a gauge that does not err", "give the gauge an `sd`"]
        ),
        beside!(
            "inspection = { accept = { from = \"9 mm\" } }",
            "{ accept",
            &["hardly a part in a million passes this inspection", "a wider acceptance"]
        ),
    ]);
}

#[test]
fn samples() {
    check(&[
        beside!("inspection = { accept = \"1 mm\", sample = 20 }", "20", &["a table"]),
        beside!("inspection = { accept = \"1 mm\", sample = { lot = 500 } }", "{ lot", &["`parts`"]),
        beside!("inspection = { accept = \"1 mm\", sample = { parts = 20 } }", "{ parts", &["`lot`"]),
        beside!(
            "inspection = { accept = \"1 mm\", sample = { lot = 500, parts = 0 } }",
            "0 }",
            &["`parts` is 0"]
        ),
        beside!(
            "inspection = { accept = \"1 mm\", sample = { lot = 500, parts = 20, allowed = 20 } }",
            "20 }",
            &["20 of 20 gauged parts may fail: every lot is taken", "let fewer fail than are gauged"]
        ),
        beside!(
            "inspection = { accept = \"1 mm\", sample = { lot = 10, parts = 20 } }",
            "20 }",
            &["20 parts are gauged of a lot of 10", "gauge every part: leave `sample` out"]
        ),
        beside!(
            "inspection = { accept = \"0.01 mm\", sample = { lot = 500, parts = 80 } }",
            "{ accept",
            &["hardly a part in a million passes this inspection"]
        ),
    ]);
}

#[test]
fn distributions_that_an_inspection_cannot_select_from() {
    check(&[
        beside!(
            "inspection = { accept = \"1 mm\" }, and = { normal = { sd = \"0.1 mm\" }, scope = \"unit\" }",
            "{ accept",
            &["every part of a tolerance with two distributions is inspected", "inspect lots by a sample", "or state one distribution"]
        ),
        beside!(
            "inspection = { accept = \"1 mm\", sample = { lot = 500, parts = 20 } }, and = { normal = { sd = \"0.1 mm\" }, scope = \"unit\" }",
            "{ accept",
            &["no distribution beside that of the parts has scope lot", "scope = \"lot\""]
        ),
        case(
            LENGTH,
            "inspection = { accept = \"1 mm\" } }",
            "{ accept",
            &["an inspection of what does not vary", "state the distribution of the delivered parts beside it"],
        ),
        // A distribution that cannot be read is one error, not two.
        case(
            LENGTH,
            "normal = { sd = \"-0.2 mm\" }, inspection = { accept = \"1 mm\" } }",
            "\"-0.2 mm\"",
            &["`sd` is -0.2 mm"],
        ),
        case(
            "bit_phase_error = { normal = { sd = \"1 deg\" } }",
            "bit_phase_error = { normal = { sd = \"1 deg\" }, scope = \"lot\", inspection = { accept = \"2 deg\", sample = { lot = 500, parts = 20 } } }",
            "{ accept",
            &["lots of parts that have several values each", "leave `sample` out"],
        )
        // And the size of a lot is missing.
        .with_errors(2),
    ]);
}

#[test]
fn correlated_parameters_are_not_inspected() {
    let text = edited(
        SMALL,
        &[(
            "length = { nominal = \"60 mm\", triangular = { half_width = \"0.2 mm\" } }\nvelocity_factor = 0.7",
            "length = { nominal = \"60 mm\", triangular = { half_width = \"0.2 mm\" }, inspection = { accept = \"0.1 mm\" } }\n\
             velocity_factor = { nominal = 0.7, normal = { sd = 0.001 } }\n\
             correlation = [{ between = [\"length\", \"velocity_factor\"], coefficient = 0.5 }]",
        )],
    );
    let report = Folder::with(&text).refused(&["check", "study.toml"]);
    for words in
        ["`length` is inspected", "leave out the inspection, or the correlation", "1 error in study.toml"]
    {
        assert!(report.contains(words), "{words}\n{report}");
    }
}

/// The text of a table with its own header is not inside the table that it belongs to; a slip in it is still reported once.
#[test]
fn under_headers_too_a_slip_is_reported_once() {
    let study = include_str!("../../../studies/hare-watch-10.toml");
    for (from, to, expected) in [
        ("parts = 20, allowed = 1", "parts = 20, allowed = 25", "25 of 20 gauged parts may fail"),
        ("gauge = { sd = \"0.1 dB\" }", "gauge = { sd = \"-0.1 dB\" }", "`sd` is -0.1 dB"),
        ("accept = \"1.2 dB\"", "accept = \"1.2 mm\"", "dB"),
    ] {
        let report = Folder::with(edited(study, &[(from, to)])).refused(&["check", "study.toml"]);
        assert!(report.contains(expected) && report.contains("1 error in study.toml"), "{report}");
    }
}
