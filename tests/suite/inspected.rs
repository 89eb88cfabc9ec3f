//! Inspections as the program lists them.

use crate::program::{Folder, SMALL, edited};

const LENGTH: &str = "length = { nominal = \"30 mm\", normal = { sd = \"0.2 mm\" } }";

/// The small study with another feed.
fn small(length: &str) -> String {
    edited(
        SMALL,
        &[(LENGTH, &format!("length = {{ nominal = \"30 mm\", normal = {{ sd = \"0.2 mm\" }}, {length} }}"))],
    )
}

#[test]
fn check_lists_inspections_and_warns_of_a_gauge_worse_than_the_parts() {
    let shown = |study: &str| {
        let ended = Folder::with(study).run(&["check", "study.toml"]);
        assert_eq!(ended.code, Some(0), "{}", ended.err);
        let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        (one_line(&ended.out), one_line(&ended.err))
    };
    let (out, err) = shown(&small(
        "inspection = { tolerance = \"0.4 mm\", guard = { expanded = 1 }, gauge = { sd = \"0.04 mm\" }, time = \"30 s\" }",
    ));
    for words in [
        "inspection: every part is gauged, sd 40 um, 30 s a part",
        "taken when it reads within +/-0.32 mm",
        "of parts away, and of those taken",
        "(conforming: within +/-0.4 mm)",
    ] {
        assert!(out.contains(words), "{words}\n{out}");
    }
    assert!(!err.contains("exceeds the spread"), "{err}");
    let (out, err) = shown(include_str!("../../studies/hare-watch-10.toml"));
    for words in [
        "and sampled, sd 0.385 dB, 33.6 % of lots rejected; drawn once for each lot of 4 units",
        "20 of each lot of 500 are gauged, sd 0.1 dB, 30 s a part; a lot is taken when no more than 1 reads anywhere but within +/-1.2 dB",
        "turns 33.6 % of lots away, and of the parts of those taken 0.216 % do not conform (conforming: within +/-1.5 dB)",
    ] {
        assert!(out.contains(words), "{words}\n{out}");
    }
    assert!(!err.contains("warning"), "{err}");
    // An exact gauge would take half of the parts within 0.6745 sd; this one takes about as many of any.
    let (_, err) = shown(&small("inspection = { accept = \"0.2 mm\", gauge = { sd = \"0.5 mm\" } }"));
    for words in [
        "the gauge's sd of 0.5 mm exceeds the spread of the parts of `feed.length`, sd 0.2 mm",
        "% of the parts that conform read outside",
        "sd 0.2 mm as delivered",
    ] {
        assert!(err.contains(words), "{words}\n{err}");
    }
    let (out, err) = shown(&small("inspection = { gauge = { bias = \"-0.3 mm\" } }"));
    assert!(err.contains("the gauge's bias of -0.3 mm exceeds"), "{err}");
    assert!(out.contains("no acceptance is set, so nothing is turned away"), "{out}");
}
