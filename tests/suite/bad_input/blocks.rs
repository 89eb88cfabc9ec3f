//! Impossible blocks, and blocks at impossible places.

use super::{case, check};

const AMPLIFIER: &str = "gain = { nominal = \"18 dB\", truncated_normal = { sd = \"0.7 dB\", at = \"1.5 dB\" }, scope = \"chip\" }";
const JUMPER: &str = "velocity_factor = 0.7\n";

#[test]
fn coupling() {
    check(&[
        case(
            "[[block]]\nname = \"feed\"",
            "[[block]]\nname = \"patch\"\nkind = \"element\"\ncoupling = { level = \"-20 dB\" }\n[[block]]\nname = \"feed\"",
            "[[block]]",
            &["`patch` couples to its neighbours, but is not the end of the channel", "be the last"],
        ),
        case(
            JUMPER,
            "velocity_factor = 0.7\n[[block]]\nname = \"first\"\nkind = \"element\"\ncoupling = { level = \"-20 dB\" }\n[[block]]\nname = \"patch\"\nkind = \"element\"\ncoupling = { level = \"-20 dB\" }\n",
            "[[block]]\nname = \"first\"",
            &["two blocks have a coupling", "`patch` has one too"],
        ),
        case(
            JUMPER,
            "velocity_factor = 0.7\n[[block]]\nname = \"patch\"\nkind = \"element\"\ncoupling = { phase = \"3 deg\" }\n",
            "{ phase",
            &["missing key `level`"],
        ),
        case(
            JUMPER,
            "velocity_factor = 0.7\n[[block]]\nname = \"patch\"\nkind = \"element\"\ncoupling = { level = \"3 dB\" }\n",
            "\"3 dB\"",
            &["`level` is 3 dB, but must be from -200 dB to 0 dB"],
        ),
    ]);
}

#[test]
fn compression() {
    check(&[
        case(
            "[[block]]\nname = \"driver\"\nkind = \"amplifier\"\n",
            "[[block]]\nname = \"driver\"\nkind = \"amplifier\"\ncompression = { saturation = \"20 dBm\" }\n",
            "[[block]]",
            &["`driver` compresses, but nothing says how far it is driven", "drive = \"-8 dBm\""],
        ),
        case(
            AMPLIFIER,
            "gain = \"18 dB\"\ncompression = { saturation = \"20 dB\" }",
            "\"20 dB\"",
            &["`20 dB` is a level, a power is expected here"],
        )
        .with_errors(2),
    ]);
}

#[test]
fn cables_strips_and_connectors() {
    check(&[
        case(
            JUMPER,
            "velocity_factor = 0.7\nphase_step = { size = \"-800 ppm\", from = \"23 degC\", to = \"17 degC\" }\n",
            "\"17 degC\"",
            &["the step ends before it begins", "not above `from`"],
        ),
        case(
            JUMPER,
            "velocity_factor = 0.7\n[[block]]\nname = \"strip\"\nkind = \"microstrip\"\nlength = \"9 mm\"\nwidth = \"50 mm\"\nheight = \"0.2 mm\"\npermittivity = 3\n",
            "\"50 mm\"",
            &["the strip is 250.0000 times as wide as it is high above ground", "0.01 to 100 times `height`"],
        ),
        case(
            JUMPER,
            "velocity_factor = 0.7\n[[block]]\nname = \"joint\"\nkind = \"connector\"\nvswr_in = 0.9\nvswr_out = 1.2\n",
            "0.9",
            &["`vswr_in` is 0.9, but must be from 1 to 1000000"],
        ),
        case(
            JUMPER,
            "velocity_factor = 0.7\n[[block]]\nname = \"joint\"\nkind = \"connector\"\nvswr_in = 1.1\nvswr_out = 1.2\nlength = \"9 mm\"\n",
            "[[block]]\nname = \"joint\"",
            &["missing key `velocity_factor`"],
        ),
    ]);
}
