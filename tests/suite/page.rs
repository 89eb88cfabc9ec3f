//! Reports as pages: their contents, that they are self-contained, and how a browser shows and prints them.

mod browser;
mod shown;
mod structure;

use crate::program::{Folder, SMALL, edited};

/// A title, and names, that would be more than text where one forgot to say that they are none.
pub(super) const HOSTILE: &str = "</title><script>alert('x')</script> \"quoted\" & =1+1";

/// A study whose names are hostile, of which some units of each plan fail.
pub(super) fn hostile() -> String {
    let quoted = format!("'''{HOSTILE}'''");
    edited(
        SMALL,
        &[
            ("title = \"small\"", &format!("title = {quoted}")),
            ("name = \"aside\"", "name = '''+\"><img src onerror>\"'''"),
            ("at_most = \"0.4 dB\"", "at_most = \"0.05 dB\""),
        ],
    )
}

/// Prices of our own.
const PRICES: &str = "
[cost]
currency = \"EUR\"
units_a_year = 300
channel = { value = 40, from = 30, to = 55 }
unit = 80
bench_minute = { value = 2.5, from = 2, to = 4 }
";

/// A study with prices.
pub(super) fn priced() -> String {
    edited(SMALL, &[("at_most = \"0.4 dB\"", "at_most = \"0.05 dB\"")]) + PRICES
}

/// A study of jumpers that are inspected, and one of amplifiers of which lots are inspected by a sample.
pub(super) const INSPECTED: &str = include_str!("../../studies/cable-limit.toml");
pub(super) const SAMPLED: &str = include_str!("../../studies/hare-watch-10.toml");

/// Every command that has a page: its study and its words.
pub(super) fn commands() -> Vec<(&'static str, String, Vec<&'static str>)> {
    vec![
        ("run", hostile(), vec!["run", "study.toml"]),
        ("compare", priced(), vec!["compare", "study.toml"]),
        (
            "sweep",
            hostile(),
            vec!["sweep", "study.toml", "--vary", "jumper.length.half_width=0.1 mm, 0.2 mm, 0.9 mm"],
        ),
        (
            "field",
            hostile(),
            vec![
                "sweep",
                "study.toml",
                "--vary",
                "shifter.bits=3..5",
                "--vary",
                "jumper.length.half_width=0.1 mm..0.9 mm in 4",
            ],
        ),
        (
            "limit",
            INSPECTED.to_owned(),
            vec!["limit", "study.toml", "--find", "jumper.length.sd", "--yield", "0.9", "--trials", "1000"],
        ),
        ("budget", hostile(), vec!["budget", "study.toml", "--trials", "1024"]),
        (
            "inspect",
            INSPECTED.to_owned(),
            vec!["inspect", "study.toml", "--source", "jumper.length", "--cheapest", "--trials", "500"],
        ),
        (
            "sample",
            SAMPLED.to_owned(),
            vec!["inspect", "study.toml", "--source", "driver.gain", "--trials", "500"],
        ),
        ("cost", priced(), vec!["cost", "study.toml"]),
    ]
}

/// The page that a command writes of a study.
pub(super) fn page_of(study: &str, words: &[&str]) -> String {
    let folder = Folder::with(study);
    let mut all = words.to_vec();
    all.extend(["--quiet", "--report", "page.html"]);
    folder.done(&all);
    folder.read("page.html")
}
