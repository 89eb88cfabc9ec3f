//! Impossible benches and calibration plans.

use super::{case, check};

const RECEIVER: &str = "receiver = { noise = \"0.03 dB\", resolution = \"0.01 dB\", floor = \"-50 dB\" }";
const CLIMB: &str = "align = { method = \"climb\" }";
const CHIP: &str = "chip = 2\n";
const SHIFTER: &str = "bits = 5\nbit_phase_error = { normal = { sd = \"1 deg\" } }";
const ATTENUATOR: &str = "[[block]]\nname = \"attenuator\"\nkind = \"attenuator\"\nbits = 5\nstep = \"0.5 dB\"\nbit_gain_error = { uniform = { half_width = \"0.1 dB\" } }\n";

#[test]
fn characterising() {
    check(&[
        case(
            CLIMB,
            "align = { method = \"climb\" }\ncharacterise = { attenuator = true }",
            "{ attenuator = true }",
            &["measured attenuations serve nothing", "the plan has no `level`", "add `level = { ... }`"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\ncharacterise = { shifter = true }",
            "{ shifter",
            &["offsets in whole codes know no measured phases", "add `offsets = \"phases\"`"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\noffsets = \"phases\"\ncharacterise = { shifter = true, codes = 33 }",
            "33",
            &["`codes` is 33, but must be from 3 to 32"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\noffsets = \"phases\"\ncharacterise = { shifter = true, codes = 2 }",
            "2 }",
            &["`codes` is 2, but must be from 3 to 32"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\ncharacterise = { attenuator = false }",
            "{ attenuator",
            &["nothing is characterised", "`attenuator = true`, `shifter = true`, or both"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\ncharacterise = { attenuators = true }",
            "attenuators",
            &["unknown key `attenuators`", "attenuator"],
        )
        .with_errors(2),
        case(
            CLIMB,
            "align = { method = \"climb\" }\ncharacterise = { attenuator = \"yes\" }",
            "\"yes\"",
            &["a text where `true` or `false` is expected"],
        ),
        case(
            SHIFTER,
            "bits = 1",
            "\"fit\", codes",
            &["the shifter has too few codes for this method", "a shifter of 2 bits or more"],
        ),
    ]);
}

#[test]
fn passes_and_levels() {
    check(&[
        case(
            CLIMB,
            "align = { method = \"climb\" }\nrelevel = true",
            "true",
            &["nothing to level again by", "the plan has no `level`", "leave `relevel` out"],
        ),
        case(
            CLIMB,
            "level = { toward = \"weakest\" }\npasses = 2",
            "2",
            &["a second pass begins from phases", "the plan has no `align`", "leave `passes` out"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\npasses = 0",
            "0",
            &["`passes` is 0, but must be from 1 to 16"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\npasses = 17",
            "17",
            &["`passes` is 17, but must be from 1 to 16"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\nrelevel = 1",
            "1",
            &["a number where `true` or `false` is expected"],
        ),
        case(
            CLIMB,
            "level = { toward = \"target\" }",
            "{ toward",
            &["missing key `target`", "add, for example, `target = "],
        ),
    ]);
}

#[test]
fn ways_to_phase() {
    check(&[
        case(
            CLIMB,
            "align = { method = \"climbing\" }",
            "\"climbing\"",
            &["unknown method", "did you mean \"climb\"?"],
        ),
        case(
            CLIMB,
            "align = { method = \"peak\", pairing = \"stars\" }",
            "\"stars\"",
            &["unknown pairing", "did you mean \"star\"?"],
        ),
        case(
            CLIMB,
            "align = { method = \"peak\", swap_arms = \"yes\" }",
            "\"yes\"",
            &["a text where `true` or `false` is expected"],
        ),
        case(
            CLIMB,
            "align = { method = \"peak\", reference = 8 }",
            "8",
            &["`reference` is 8, but must be from 0 to 7"],
        ),
        case(CLIMB, "align = { method = \"peak\", codes = 8 }", "codes", &["unknown key `codes`"]),
        case(
            CLIMB,
            "align = { method = \"coarse_fine\", codes = 33 }",
            "33",
            &["`codes` is 33, but must be from 3 to 32"],
        ),
        case(
            CLIMB,
            "align = { method = \"rotating_element\", codes = 33 }",
            "33",
            &["`codes` is 33, but must be from 3 to 32"],
        ),
        case(
            CLIMB,
            "align = { method = \"rotating_element\", pairing = \"star\" }",
            "pairing",
            &["unknown key `pairing`"],
        ),
        case(
            CLIMB,
            "align = { method = \"coded_toggling\", swap_arms = true }",
            "swap_arms",
            &["unknown key `swap_arms`"],
        ),
    ]);
}

#[test]
fn tables() {
    check(&[
        case(
            CLIMB,
            "align = { method = \"climb\" }\neach_beam = true",
            "true",
            &[
                "a table for each beam needs a probe that stands in its direction",
                "the plan joins pairs by cable",
                "a method over the air, or leave `each_beam` out",
            ],
        ),
        case(
            CLIMB,
            "each_beam = true",
            "true",
            &["a table for each beam needs a probe that stands in its direction"],
        ),
        case(
            CLIMB,
            "align = { method = \"coded_toggling\" }\neach_beam = true\nfrequencies = [\"9.8 GHz\"]",
            "true",
            &["tables for each beam and for several frequencies", "leave one out"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\nfrequencies = [\"9.8 mm\"]",
            "\"9.8 mm\"",
            &["`9.8 mm` is a length, a frequency is expected here"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\nfrequencies = []",
            "[]",
            &["`frequencies` is empty, but needs at least one entry"],
        ),
    ]);
}

/// A value that depends on a broken one is no second error.
#[test]
fn one_slip_of_a_plan_is_one_error() {
    check(&[
        case(
            CLIMB,
            "align = { method = \"rotating\" }\neach_beam = true\npasses = 2",
            "\"rotating\"",
            &["unknown method"],
        ),
        case(CLIMB, "align = \"climb\"\npasses = 2", "\"climb\"", &["a text where a table is expected"]),
        case(
            CLIMB,
            "align = { method = \"climb\" }\nlevel = \"weakest\"\nrelevel = true\ncharacterise = { attenuator = true }",
            "\"weakest\"",
            &["a text where a table is expected"],
        ),
        case(
            CLIMB,
            "align = { method = \"climb\" }\noffsets = \"phase\"\ncharacterise = { shifter = true }",
            "\"phase\"",
            &["unknown way to keep offsets", "did you mean \"phases\"?"],
        ),
    ]);
}

#[test]
fn receivers() {
    let receiver = |keys: &'static str, at: &'static str, says: &'static [&'static str]| super::Case {
        from: RECEIVER,
        to: keys,
        at,
        says,
        errors: 1,
    };
    check(&[
        receiver(
            "receiver = { saturation = \"3 dBm\" }",
            "\"3 dBm\"",
            &["`3 dBm` is a power, a level is expected here"],
        ),
        receiver(
            "receiver = { saturation = 3 }",
            "3",
            &["a bare number where a level with its unit is expected"],
        ),
        receiver("receiver = { linearity = 0.7 }", "0.7", &["must be from -0.5 to 0.5"]),
        receiver("receiver = { linearity = \"1 dB\" }", "\"1 dB\"", &["expected"]),
        receiver(
            "receiver = { drift = { warm_up = \"0.3 dB\" } }",
            "{ warm_up",
            &["missing key `warm_up_time`", "add, for example, `warm_up_time = "],
        ),
        receiver(
            "receiver = { drift = { warm_up = \"0.3 dB\", warm_up_time = \"0 s\" } }",
            "\"0 s\"",
            &["`warm_up_time` is 0 s, but must be above zero"],
        ),
        receiver(
            "receiver = { drift = { warm_up = \"0.3 dB\", warm_up_time = \"3 dB\" } }",
            "\"3 dB\"",
            &["`3 dB` is a level, a time is expected here"],
        ),
        receiver(
            "receiver = { drift = { walk = \"-0.1 dB\" } }",
            "\"-0.1 dB\"",
            &["`walk` is -0.1 dB, but must not be negative"],
        ),
        receiver("receiver = { drift = { wander = \"0.1 dB\" } }", "wander", &["unknown key `wander`"]),
        receiver("receiver = { averages = 0 }", "0", &["`averages` is 0, but must be from 1 to 1000000"]),
        receiver(
            "receiver = { noise = \"0.03 dB\" }\nprobe = { gain = \"3 deg\" }",
            "\"3 deg\"",
            &["`3 deg` is an angle, a level is expected here"],
        ),
        receiver(
            "receiver = { noise = \"0.03 dB\" }\nprobe = { phase = { nominal = \"3 dB\" } }",
            "\"3 dB\"",
            &["`3 dB` is a level, an angle is expected here"],
        ),
        receiver(
            "receiver = { noise = \"0.03 dB\" }\ntemperature = \"40 dB\"",
            "\"40 dB\"",
            &["`40 dB` is a level, a temperature is expected here"],
        ),
    ]);
}

#[test]
fn arrays_and_temperatures() {
    check(&[
        case(
            "trials = 130\n",
            "trials = 130\ntemperatures = [\"25 degC\", \"60 degC\", \"25 degC\"]\n",
            "\"25 degC\"]",
            &["a temperature stands twice", "leave one of the two out"],
        ),
        case(
            "trials = 130\n",
            "trials = 130\ntemperatures = [\"-300 degC\"]\n",
            "\"-300 degC\"",
            &["must be from"],
        ),
        case(
            "trials = 130\n",
            "trials = 130\ntemperatures = []\n",
            "[]",
            &["`temperatures` is empty, but needs at least one entry"],
        ),
        case(
            "trials = 130\n",
            "trials = 130\nreference_temperature = \"25 dB\"\n",
            "\"25 dB\"",
            &["`25 dB` is a level, a temperature is expected here"],
        ),
        case(
            CHIP,
            "chip = 2\ndead_channel = { probability = 2 }\n",
            "2 }",
            &["`probability` is 2, but must be from 0 to 0.5"],
        ),
        case(CHIP, "chip = 2\ndead_channel = { allowed = 1 }\n", "{ allowed", &["missing key `probability`"]),
        case(
            CHIP,
            "chip = 2\ndead_channel = { probability = 0.01, allowed = 9 }\n",
            "9",
            &["`allowed` is 9, but must be from 0 to 8"],
        ),
        case(
            "[bench]\n",
            "[bench]\ndead_below = \"3 dB\"\n",
            "\"3 dB\"",
            &["`dead_below` is 3 dB, but must be from -200 dB to 0 dB"],
        ),
        case(
            CHIP,
            "chip = 2\ndrive = \"3 dB\"\n",
            "\"3 dB\"",
            &["`3 dB` is a level, a power is expected here"],
        ),
        case(
            "[[block]]\nname = \"driver\"\nkind = \"amplifier\"\n",
            "[[block]]\nname = \"driver\"\nkind = \"amplifier\"\ncompression = { saturation = \"20 dBm\" }\n",
            "[[block]]",
            &["`driver` compresses, but nothing says how far it is driven", "add, for example, `drive = "],
        ),
        case(
            "nbar = 3 }",
            "nbar = 3, set_by = \"hand\" }",
            "\"hand\"",
            &["unknown way to set a taper", "\"divider\""],
        ),
    ]);
}

#[test]
fn a_taper_without_attenuators() {
    // The plan that levels and the reference plane depend on the attenuator too, so those go first.
    let study = crate::program::edited(
        crate::program::SMALL,
        &[
            (ATTENUATOR, ""),
            ("reference_plane = { after = \"attenuator\" }\n", ""),
            ("level = { toward = \"weakest\" }\n", ""),
        ],
    );
    crate::program::Folder::with(&study).done(&["check", "study.toml"]);
    let set = crate::program::edited(&study, &[("nbar = 3 }", "nbar = 3, set_by = \"attenuators\" }")]);
    let report = crate::program::Folder::with(&set).refused(&["check", "study.toml"]);
    for words in [
        "nothing to set the taper with",
        "the chain has no attenuator that is stepped",
        "or let the divider set it",
        "1 error in",
    ] {
        assert!(report.contains(words), "{words}\n{report}");
    }
    let at = set.find("taper = {").expect("the taper");
    let line = set[..at].matches('\n').count() + 1;
    assert!(report.contains(&format!("--> study.toml:{line}:")), "{report}");
}
