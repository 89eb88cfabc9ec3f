//! Values of the wrong type, unit or size.

use super::{case, check};

const SD: &str = "sd = \"0.2 mm\"";

#[test]
fn types_and_units() {
    check(&[
        case("seed = 3", "seed = \"3\"", "\"3\"", &["a text where a whole number is expected"]),
        case("title = \"small\"", "title = 5", "5", &["a number where a text is expected"]),
        case(SD, "sd = true", "true", &["`true` where a length with its unit is expected", "\"38 mm\""]),
        case(
            SD,
            "sd = \"0.2 dB\"",
            "\"0.2 dB\"",
            &["`0.2 dB` is a level, a length is expected here", "such as \"38 mm\""],
        ),
        case(
            SD,
            "sd = \"0.2 furlong\"",
            "\"0.2 furlong\"",
            &["unknown unit `furlong`", "a length can be in m, cm, mm"],
        ),
        case(SD, "sd = \"0.2\"", "\"0.2\"", &["a unit is expected after 0.2"]),
        case(SD, "sd = \"0,2 mm\"", "\"0,2 mm\"", &["comma", "use a point for decimals"]),
        case(
            SD,
            "sd = 0.2",
            "0.2",
            &["a bare number where a length with its unit is expected", "such as \"0.2 mm\""],
        ),
        case(
            "theta = \"0 deg\"",
            "theta = 0",
            "0",
            &["a bare number where an angle with its unit is expected"],
        ),
        case(
            "at_most = \"0.4 dB\"",
            "at_most = \"0.4 deg\"",
            "\"0.4 deg\"",
            &["is an angle, a level is expected here"],
        ),
        case(
            "align = { method = \"climb\" }",
            "align = \"climb\"",
            "\"climb\"",
            &["a text where a table is expected"],
        ),
        case(
            "frequencies = [\"9.8 GHz\", \"10 GHz\"]",
            "frequencies = \"10 GHz\"",
            "\"10 GHz\"",
            &["a text where a list is expected"],
        ),
    ]);
}

#[test]
fn numbers_that_are_none() {
    check(&[
        case("velocity_factor = 0.7", "velocity_factor = nan", "nan", &["is nan, but must be finite"]),
        case("velocity_factor = 0.7", "velocity_factor = inf", "inf", &["is inf, but must be finite"]),
        case("velocity_factor = 0.7", "velocity_factor = -inf", "-inf", &["is -inf, but must be finite"]),
        case(SD, "sd = nan", "nan", &["a bare number where a length"]),
        case(SD, "sd = \"nan mm\"", "\"nan mm\"", &["`nan mm` does not begin with a number"]),
        case(SD, "sd = \"inf mm\"", "\"inf mm\"", &["`inf mm` does not begin with a number"]),
        case(
            SD,
            "sd = \"1e999 mm\"",
            "\"1e999 mm\"",
            &["`1e999 mm` is too large", "a length is at most 10000 m"],
        ),
        case(
            "chip = 2",
            "chip = 9223372036854775808",
            "9223372036854775808",
            &["`chip` is 9223372036854775808, but must be from 1 to 8"],
        ),
    ]);
}

#[test]
fn values_out_of_range() {
    check(&[
        case(SD, "sd = \"-0.2 mm\"", "\"-0.2 mm\"", &["`sd` is -0.2 mm, but must not be negative"]),
        case("half_width = \"0.2 mm\"", "half_width = \"-1 mm\"", "\"-1 mm\"", &["but must not be negative"]),
        case("at = \"1.5 dB\"", "at = \"0 dB\"", "\"0 dB\"", &["`at` is 0 dB, but must be above zero"]),
        case("at = \"1.5 dB\"", "at = \"-1 dB\"", "\"-1 dB\"", &["`at` is -1 dB, but must be above zero"]),
        case("count = 8", "count = 0", "0", &["`count` is 0, but must be from 2 to 4096"]),
        case("count = 8", "count = 1", "1", &["`count` is 1, but must be from 2 to 4096"]),
        case("count = 8", "count = 5000", "5000", &["but must be from 2 to 4096"]),
        case("chip = 2", "chip = 9", "9", &["`chip` is 9, but must be from 1 to 8"]),
        case("bits = 5", "bits = 0", "0", &["`bits` is 0, but must be from 1 to 12"]),
        case("bits = 5", "bits = 13", "13", &["`bits` is 13, but must be from 1 to 12"]),
        case("trials = 130", "trials = 0", "0", &["`trials` is 0, but must be from 1 to"]),
        case("trials = 130", "trials = -4", "-4", &["`trials` is -4, but must be from 1 to"]),
        case("trials = 130", "trials = 1.5", "1.5", &["`trials` is 1.5, but must be a whole number"]),
        case("seed = 3", "seed = -3", "-3", &["`seed` is -3, but must be from 0 to"]),
        case(
            "theta = \"-25 deg\"",
            "theta = \"-95 deg\"",
            "\"-95 deg\"",
            &["outside visible space", "from -90 deg to 90 deg"],
        ),
        case(
            "null_at = \"40 deg\"",
            "null_at = \"91 deg\"",
            "\"91 deg\"",
            &["`null_at` is outside visible space"],
        ),
        case("codes = 8", "codes = 2", "2", &["`codes` is 2, but must be from 3 to 32"]),
        case("codes = 8", "codes = 33", "33", &["`codes` is 33, but must be from 3 to 32"]),
        case("velocity_factor = 0.7", "velocity_factor = 1.2", "1.2", &["must be from 0.1 to 1"]),
        case("cosine_exponent = 0.5", "cosine_exponent = -1", "-1", &["must be from 0 to 20"]),
        case(
            "\"0.5 wavelength\"",
            "\"0 wavelength\"",
            "\"0 wavelength\"",
            &["no number of wavelengths above zero"],
        ),
        case(
            "\"0.5 wavelength\"",
            "\"nan wavelength\"",
            "\"nan wavelength\"",
            &["no number of wavelengths above zero"],
        ),
        case(
            "\"0.1 beamwidth\"",
            "\"-1 beamwidth\"",
            "\"-1 beamwidth\"",
            &["is no number of beamwidths", "0.05 beamwidth"],
        ),
        case("\"0.1 beamwidth\"", "\"inf beamwidth\"", "\"inf beamwidth\"", &["is no number of beamwidths"]),
        case("\"0.1 beamwidth\"", "\"-1 deg\"", "\"-1 deg\"", &["but must not be negative"]),
    ]);
}

/// A stand-in for a broken value is bounded by nothing and bounds nothing: no second error follows from it.
#[test]
fn one_slip_is_one_error() {
    let frequencies = "frequencies = [\"9.8 GHz\", \"10 GHz\"]";
    check(&[
        case(
            frequencies,
            "frequencies = []",
            "[]",
            &["`frequencies` is empty, but needs at least one entry"],
        ),
        case(frequencies, "frequencies = [\"9.8 GHz\", 10]", "10", &["a bare number where a frequency"]),
        case(
            "[[block]]\nname = \"attenuator\"\nkind = \"attenuator\"\nbits = 5\nstep = \"0.5 dB\"",
            "[[block]]\nname = \"attenuator\"\nkind = \"attenuator\"\nbits = 5",
            "[[block]]",
            &["missing key `step`", "add, for example, `step = \"0.5 dB\"`"],
        ),
        case(
            "[[block]]\nname = \"shifter\"\nkind = \"phase_shifter\"\nbits = 5",
            "[[block]]\nname = \"shifter\"\nkind = \"phase_shifter\"",
            "[[block]]",
            &["missing key `bits`", "add, for example, `bits = 6`"],
        ),
        case("[array]\nlayout = {", "[array]\ngrid = {", "[array]", &["missing key `layout`"]).with_errors(2),
    ]);
}
