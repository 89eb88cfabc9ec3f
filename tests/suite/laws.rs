//! Shared draws as the program lists them.

use crate::program::Folder;

#[test]
fn the_program_says_what_shares_a_draw() {
    let folder = Folder::with(include_str!("../data/tolerances.toml"));
    folder.put("cables.csv", include_str!("../data/cables.csv"));
    // Lines are wrapped, so words are compared with single spaces between them.
    let shown = |arguments: &[&str]| folder.done(arguments).split_whitespace().collect::<Vec<_>>().join(" ");
    let (check, unit) = (shown(&["check", "study.toml"]), shown(&["unit", "study.toml", "50"]));
    for words in [
        "within +/-0.002; drawn for each board of 6 channels",
        "drawn for each channel; and normal, sd 0.1 mm; drawn once for each lot of 50 units",
        "length and attenuation: correlated by 0.6",
        "gain: 18 dB, screened, mean off by",
        "of parts rejected; drawn for each chip of 2 channels",
        "sd 0.02 dB; drawn for each board of 6 channels, each of 4 bits",
    ] {
        assert!(check.contains(words), "{words}\n{check}");
    }
    assert!(
        unit.contains("length, lot (mm): ") && unit.contains("; drawn once for each lot of 50 units"),
        "{unit}"
    );
}
