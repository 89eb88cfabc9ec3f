//! Numbers that can be read but not borne: refused in the study, or run to results without a number that is none.

use super::{case, check};
use crate::program::{Folder, SMALL, edited, nulls};

const LAYOUT: &str = "layout = { kind = \"linear\", count = 8, spacing = \"0.5 wavelength\" }";
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
            "layout = { kind = \"rectangular\", columns = 64, rows = 64, column_spacing = \"60 mm\", row_spacing = \"60 mm\" }",
            "{ kind",
            &["the far field of this array takes", "fewer elements, or a closer spacing"],
        ),
        case("0.5 wavelength", "1e9 wavelength", "", &["elements cannot stand", "0.01 to 32 wavelengths at every frequency"])
            .within_layout(),
        case("0.5 wavelength", "33 wavelengths", "", &["elements cannot stand", "959.334 mm"]).within_layout(),
        case("0.5 wavelength", "1e300 wavelengths", "", &["elements cannot stand"]).within_layout(),
        case("0.5 wavelength", "1e-3 wavelengths", "", &["elements cannot stand"]).within_layout(),
        case("\"0.5 wavelength\"", "\"1e-300 m\"", "", &["elements cannot stand"]).within_layout(),
        case(
            "kind = \"phase_shifter\"\nbits = 5\nbit_phase_error",
            "kind = \"phase_shifter\"\nbits = 12\nloss = { normal = { sd = \"1 dB\" } }\nstate_phase_error",
            "",
            &["tolerances to draw", "errors given for each bit"],
        )
        .with_channels_2048(),
        case("side_lobe = \"20 dB\", nbar = 3", "side_lobe = \"15 dB\", nbar = 40", "{ kind", &["leaves an element unfed"])
            .within_taper(),
    ]);
}
