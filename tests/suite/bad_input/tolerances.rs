//! Distributions, scopes and correlations that cannot be.

use super::{case, check};
use crate::program::{Folder, SMALL, edited};

const LENGTH: &str = "normal = { sd = \"0.2 mm\" }";
const GAIN: &str = "truncated_normal = { sd = \"0.7 dB\", at = \"1.5 dB\" }";
const SCOPE: &str = "scope = \"chip\"";
const PERMITTIVITY: &str = "effective_permittivity = 2.9";

#[test]
fn log_normal_distributions() {
    check(&[
        case(
            GAIN,
            "log_normal = { geometric_sd = 1.05 }",
            "{ geometric_sd",
            &[
                "a log-normal distribution of a level",
                "a level in dB is a logarithm already",
                "normal = { sd = \"... dB\" }",
            ],
        ),
        case(
            "nominal = \"30 mm\", normal = { sd = \"0.2 mm\" }",
            "nominal = \"0 mm\", log_normal = { geometric_sd = 1.05 }",
            "{ geometric_sd",
            &["a factor on a nominal value, which must not be zero"],
        ),
        case(
            LENGTH,
            "log_normal = { geometric_sd = 0.95 }",
            "0.95",
            &["`geometric_sd` is 0.95, but must be from 1 to 10"],
        ),
    ]);
}

#[test]
fn mixtures() {
    check(&[
        case(
            LENGTH,
            "mixture = { share = 0, first = { normal = { sd = \"0.1 mm\" } }, second = { normal = { sd = \"1 mm\" } } }",
            "0,",
            &["`share` is 0, but must be from"],
        ),
        case(
            LENGTH,
            "mixture = { share = \"30 %\", first = { normal = { sd = \"0.1 mm\" } } }",
            "{ share",
            &["`second`", "add, for example, `second = { offset"],
        ),
        case(
            LENGTH,
            "mixture = { share = 0.3, first = { normal = { sd = \"0.1 mm\" } }, second = { offset = \"1 mm\" } }",
            "{ offset",
            &["no distribution is stated here", "add one of `normal`"],
        ),
    ]);
}

#[test]
fn measured_parts() {
    check(&[
        case(
            LENGTH,
            "empirical = { csv = \"parts.csv\", column = \"length\", about = \"mean\" }",
            "\"parts.csv\"",
            &["parts.csv"],
        ),
        case(
            LENGTH,
            "empirical = { column = \"length\", about = \"median\", csv = \"parts.csv\" }",
            "\"median\"",
            &["unknown reference `median`", "possible: \"nominal\", \"mean\""],
        )
        .with_errors(2),
    ]);
    let study = edited(
        SMALL,
        &[(LENGTH, "empirical = { csv = \"parts.csv\", column = \"length\", about = \"nominal\" }")],
    );
    for (parts, place, says) in [
        (
            "length_mm\n29.9\n30.1\n30\n30.2\n",
            "parts.csv:5:1",
            "4 measured parts are too few for a distribution",
        ),
        ("length_mm\n29.9\n30.1\nlong\n30.2\n30\n", "parts.csv:4:1", "`long` is no number"),
        ("width_mm\n29.9\n30.1\n30\n30.2\n30\n", "parts.csv:1:1", "no column `length` with its unit"),
    ] {
        let folder = Folder::with(&study);
        folder.put("parts.csv", parts);
        let report = folder.refused(&["check", "study.toml"]);
        assert!(report.contains(place) && report.contains(says), "{report}");
    }
    let folder = Folder::with(&study);
    folder.put("parts.csv", "length_mm\n29.9\n30.1\n30\n30.2\n29.8\n");
    assert!(folder.done(&["check", "study.toml"]).contains("empirical, sd 0.1"));
}

#[test]
fn inspections() {
    check(&[
        case(
            LENGTH,
            "screened = { of = { uniform = { half_width = \"0.1 mm\" } }, at = \"0.1 mm\" }",
            "{ of",
            &["`gauge`", "add, for example, `gauge = { sd"],
        ),
        case(
            LENGTH,
            "screened = { at = \"0.1 mm\", gauge = { sd = \"0 mm\" } }",
            "{ at",
            &["`of`", "add, for example, `of = { normal"],
        ),
        case(
            LENGTH,
            "screened = { of = { uniform = { half_width = \"0.1 mm\" } }, at = \"-0.1 mm\", gauge = { sd = \"0 mm\" } }",
            "\"-0.1 mm\"",
            &["`at` is -0.1 mm, but must be above zero"],
        ),
        case(
            LENGTH,
            "screened = { of = { uniform = { half_width = \"0.1 mm\" } }, at = \"0.1 mm\", gauge = { bias = \"5 mm\", sd = \"0.01 mm\" } }",
            "{ of",
            &["hardly a part in a million passes this inspection"],
        ),
    ]);
}

#[test]
fn plus_or_minus() {
    check(&[
        case(
            LENGTH,
            "plus_or_minus = { limit = \"0.2 mm\" }",
            "{ limit",
            &["`shape`", "add, for example, `shape = \"normal\"`"],
        ),
        case(
            LENGTH,
            "plus_or_minus = { limit = \"0.2 mm\", shape = \"normal\" }",
            "{ limit",
            &["`sigmas`", "add, for example, `sigmas = 3`"],
        ),
        case(
            LENGTH,
            "plus_or_minus = { limit = \"0.2 mm\", shape = \"uniform\", sigmas = 3 }",
            "3",
            &["`sigmas` without a normal distribution", "this distribution ends at the limit"],
        ),
        case(
            LENGTH,
            "plus_or_minus = { limit = \"0.2 mm\", shape = \"gauss\", sigmas = 3 }",
            "\"gauss\"",
            &["unknown shape `gauss`", "possible: \"normal\", \"truncated_normal\""],
        ),
        case(
            LENGTH,
            "plus_or_minus = { limit = \"0 mm\", shape = \"uniform\" }",
            "\"0 mm\"",
            &["`limit` is 0 mm, but must be above zero"],
        ),
    ]);
}

#[test]
fn scopes() {
    check(&[
        case("chip = 2", "chip = 3", "3", &["3 channels a chip do not divide the 8 of a unit", "such as 2"]),
        case(
            "chip = 2",
            "chip = 2\nboard = 6",
            "6",
            &["6 channels a board do not divide the 8 of a unit", "the last board would not be full"],
        ),
        case("chip = 2", "chip = 4\nboard = 2", "4", &["4 channels a chip do not divide the 2 of a board"]),
        case("chip = 2", "chip = 2\nboard = 0", "0", &["`board` is 0, but must be from 1 to 8"]),
        case("seed = 3", "seed = 3\nlot = 0", "0", &["`lot` is 0, but must be from 1"]),
        case(
            SCOPE,
            "scope = \"board\"",
            "\"board\"",
            &["the study does not say how large a board is", "add `board = 16` to [array]"],
        ),
        case(
            SCOPE,
            "scope = \"lot\"",
            "\"lot\"",
            &["the study does not say how large a lot is", "add `lot = 50` at the top of the study"],
        ),
        case(
            LENGTH,
            "normal = { sd = \"0.2 mm\" }, and = { normal = { sd = \"0.1 mm\" }, scope = \"lot\" }",
            "\"lot\"",
            &["the study does not say how large a lot is"],
        ),
    ]);
}

#[test]
fn second_distributions() {
    check(&[
        case(
            LENGTH,
            "normal = { sd = \"0.2 mm\" }, and = { normal = { sd = \"0.1 mm\" }, scope = \"channel\" }",
            "\"channel\"",
            &["both distributions have scope channel", "add their variances"],
        ),
        case(
            LENGTH,
            "normal = { sd = \"0.2 mm\" }, and = { normal = { sd = \"0.1 mm\" } }",
            "{ normal = { sd = \"0.1 mm\" } }",
            &["`scope`", "add, for example, `scope = \"lot\"`"],
        ),
        case(
            LENGTH,
            "normal = { sd = \"0.2 mm\" }, and = { scope = \"unit\" }",
            "{ scope",
            &["no distribution is stated here"],
        ),
        case(
            LENGTH,
            "and = { normal = { sd = \"0.1 mm\" }, scope = \"unit\" }",
            "{ normal",
            &["a second distribution without a first", "outside of `and`"],
        ),
        // Variations of the bench have a fixed scope.
        case(
            "nominal = \"3 deg\", normal = { sd = \"1 deg\" }",
            "nominal = \"3 deg\", normal = { sd = \"1 deg\" }, and = { normal = { sd = \"1 deg\" }, scope = \"chip\" }",
            "and",
            &["unknown key `and`"],
        ),
    ]);
}

#[test]
fn correlations() {
    check(&[
        case(
            PERMITTIVITY,
            "effective_permittivity = { nominal = 2.9, normal = { sd = 0.02 } }\ncorrelation = [{ between = [\"length\", \"effective_permittivity\"], coefficient = 1.5 }]",
            "1.5",
            &["`coefficient` is 1.5, but must be from -1 to 1"],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = { nominal = 2.9, normal = { sd = 0.02 } }\ncorrelation = [{ between = [\"length\", \"effective_permitivity\"], coefficient = 0.5 }]",
            "\"effective_permitivity\"",
            &["this part has no parameter `effective_permitivity`", "`effective_permittivity`"],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = 2.9\ncorrelation = [{ between = [\"length\", \"effective_permittivity\"], coefficient = 0.5 }]",
            "\"effective_permittivity\"",
            &["`effective_permittivity` does not vary", "give it a distribution"],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = { nominal = 2.9, normal = { sd = 0.02 }, scope = \"unit\" }\ncorrelation = [{ between = [\"length\", \"effective_permittivity\"], coefficient = 0.5 }]",
            "[\"length\"",
            &[
                "`length` has scope channel, `effective_permittivity` has scope unit",
                "the same scope for both",
            ],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = { nominal = 2.9, normal = { sd = 0.02 }, and = { normal = { sd = 0.01 }, scope = \"unit\" } }\ncorrelation = [{ between = [\"length\", \"effective_permittivity\"], coefficient = 0.5 }]",
            "\"effective_permittivity\"",
            &["`effective_permittivity` is drawn on two scopes"],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = 2.9\ncorrelation = [{ between = [\"length\", \"length\"], coefficient = 0.5 }]",
            "[\"length\"",
            &["`length` with itself"],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = 2.9\ncorrelation = [{ between = [\"length\"], coefficient = 0.5 }]",
            "[\"length\"]",
            &["`between` names 1 parameters", "expected two"],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = 2.9\ncorrelation = [{ coefficient = 0.5 }]",
            "{ coefficient",
            &["`between`"],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = { nominal = 2.9, normal = { sd = 0.02 } }\ncorrelation = [{ between = [\"length\", \"effective_permittivity\"], coefficient = 0.5 }, { between = [\"effective_permittivity\", \"length\"], coefficient = 0.4 }]",
            "[\"effective_permittivity\", \"length\"]",
            &["a pair stands twice"],
        ),
        case(
            PERMITTIVITY,
            "effective_permittivity = { nominal = 2.9, normal = { sd = 0.02 } }\nattenuation = { nominal = \"10 dB/m\", normal = { sd = \"1 dB/m\" } }\ncorrelation = [{ between = [\"length\", \"effective_permittivity\"], coefficient = 0.9 }, { between = [\"length\", \"attenuation\"], coefficient = 0.9 }, { between = [\"attenuation\", \"effective_permittivity\"], coefficient = -0.9 }]",
            "[{ between",
            &["no parts can be correlated like this", "not positive definite"],
        ),
        case(
            "bit_gain_error = { uniform = { half_width = \"0.1 dB\" } }",
            "loss = { normal = { sd = \"0.1 dB\" } }\nbit_gain_error = { uniform = { half_width = \"0.1 dB\" } }\ncorrelation = [{ between = [\"loss\", \"bit_gain_error\"], coefficient = 0.5 }]",
            "[\"loss\"",
            &["`loss` has 1 draws in each channel, `bit_gain_error` has 5"],
        ),
    ]);
}
