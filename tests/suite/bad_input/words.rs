//! Unknown keys and unknown words: each at its place, with the word that was probably meant.

use super::{case, check};

#[test]
fn unknown_keys() {
    check(&[
        case(
            "seed = 3",
            "sead = 3",
            "sead",
            &["unknown key `sead`", "did you mean `seed`?", "missing key `seed`"],
        )
        .with_errors(2),
        case("chip = 2", "chipp = 2", "chipp", &["unknown key `chipp`", "did you mean `chip`?"]),
        case(
            "count = 8",
            "count = 8, tilt = 2",
            "tilt",
            &["unknown key `tilt`", "takes `kind`, `count`, `spacing`"],
        ),
        case("side_lobe = \"20 dB\"", "side_lobe = \"20 dB\", nbarr = 3", "nbarr", &["unknown key `nbarr`"]),
        case("theta = \"-25", "thata = \"-25", "thata", &["unknown key `thata`", "did you mean `theta`?"])
            .with_errors(2),
        case("bits = 5", "bitz = 5", "bitz", &["unknown key `bitz`", "did you mean `bits`?"]).with_errors(2),
        case("sd = \"0.2 mm\"", "sdd = \"0.2 mm\"", "sdd", &["unknown key `sdd`", "did you mean `sd`?"])
            .with_errors(2),
        case("normal = { sd = \"0.2", "norml = { sd = \"0.2", "norml", &["did you mean `normal`?"]),
        case("noise =", "nois =", "nois", &["unknown key `nois`", "did you mean `noise`?"]),
        case("time =", "tyme =", "tyme", &["unknown key `tyme`", "did you mean `time`?"]),
        case("set_up =", "setup =", "setup", &["unknown key `setup`", "did you mean `set_up`?"]),
        case("offsets =", "offset =", "offset", &["unknown key `offset`", "did you mean `offsets`?"]),
        case("\"weakest\" }", "\"weakest\", runding = 1 }", "runding", &["did you mean `rounding`?"]),
        case("codes = 8", "code = 8", "code", &["unknown key `code`", "did you mean `codes`?"]),
        case("at_most = \"0.4", "at_mots = \"0.4", "at_mots", &["did you mean `at_most`?"]).with_errors(2),
        case("[bench]", "[benhc]", "benhc", &["unknown key `benhc`", "did you mean `bench`?"]),
    ]);
}

#[test]
fn unknown_kinds() {
    check(&[
        case(
            "\"trace\"",
            "\"trase\"",
            "\"trase\"",
            &["unknown kind of block `trase`", "did you mean \"trace\"?"],
        ),
        case(
            "\"trace\"",
            "\"waveguide\"",
            "\"waveguide\"",
            &["possible: \"cable\", \"trace\", \"microstrip\""],
        ),
        case(
            "\"linear\"",
            "\"liner\"",
            "\"liner\"",
            &["unknown kind of layout `liner`", "did you mean \"linear\"?"],
        ),
        case(
            "\"taylor\"",
            "\"tailor\"",
            "\"tailor\"",
            &["unknown kind of taper `tailor`", "did you mean \"taylor\"?"],
        ),
        case(
            "method = \"fit\"",
            "method = \"fitt\"",
            "\"fitt\"",
            &["unknown method `fitt`", "did you mean \"fit\"?"],
        ),
        case("toward = \"weakest\"", "toward = \"weak\"", "\"weak\"", &["unknown goal of levelling `weak`"]),
        case("offsets = \"phases\"", "offsets = \"phase\"", "\"phase\"", &["did you mean \"phases\"?"]),
        case(
            "scope = \"chip\"",
            "scope = \"ship\"",
            "\"ship\"",
            &["unknown scope `ship`", "did you mean \"chip\"?"],
        ),
        case(
            "\"array_gain_loss\"",
            "\"array_gain_los\"",
            "\"array_gain_los\"",
            &["did you mean \"array_gain_loss\"?"],
        ),
        case(
            "trials = 130",
            "trials = 130\nfigures = [\"null_deth\"]",
            "\"null_deth\"",
            &["did you mean `null_depth`?"],
        ),
        case("kind = \"trace\"", "kind = 7", "7", &["a number where a kind of block as a text is expected"]),
    ]);
}

#[test]
fn names_that_lead_nowhere() {
    check(&[
        case(
            "beam = \"ahead\"",
            "beam = \"ahed\"",
            "\"ahed\"",
            &["there is no beam `ahed`", "did you mean `ahead`?"],
        ),
        case(
            "beam = \"ahead\"",
            "beam = \"up\"",
            "\"up\"",
            &["there is no beam `up`", "possible: ahead, aside"],
        ),
        case(
            "\nfrequency = \"10",
            "\nfrequency = \"11",
            "\"11",
            &["does not use this frequency", "leave `frequency` out"],
        ),
        case(
            "after = \"attenuator\"",
            "after = \"atenuator\"",
            "\"atenuator\"",
            &["no block `atenuator`", "did you mean `attenuator`?"],
        ),
        case("reference = 3", "reference = 8", "8", &["`reference` is 8, but must be from 0 to 7"]),
    ]);
}
