//! Prices and offers that cannot be.

use super::{case, check};
use crate::program::{Folder, SMALL, edited};

const BENCH: &str = "[bench]\n";

/// A case of a table of prices with this in it.
macro_rules! priced {
    ($text:literal, $at:literal, $says:expr) => {
        case(
            BENCH,
            concat!(
                "[cost]\ncurrency = \"EUR\"\nunits_a_year = 300\nchannel = 40\nbench_minute = 2\n",
                $text,
                "\n[bench]\n"
            ),
            $at,
            $says,
        )
    };
}

/// A case of a table of prices that is this.
macro_rules! prices {
    ($text:literal, $at:literal, $says:expr) => {
        case(BENCH, concat!("[cost]\n", $text, "\n[bench]\n"), $at, $says)
    };
}

/// A case of an offer that is this.
macro_rules! offered {
    ($text:literal, $at:literal, $says:expr) => {
        case(BENCH, concat!("[[offer]]\n", $text, "\n[bench]\n"), $at, $says)
    };
}

#[test]
fn required_prices() {
    check(&[
        prices!("units_a_year = 300\nchannel = 40\nbench_minute = 2", "[cost]", &["`currency`"]),
        prices!(
            "currency = \"EUR\"\nchannel = 40\nbench_minute = 2",
            "[cost]",
            &["`units_a_year`", "add, for example"]
        ),
        prices!("currency = \"EUR\"\nunits_a_year = 300\nbench_minute = 2", "[cost]", &["`channel`"]),
        prices!("currency = \"EUR\"\nunits_a_year = 300\nchannel = 40", "[cost]", &["`bench_minute`"]),
        prices!(
            "currency = \" \"\nunits_a_year = 300\nchannel = 40\nbench_minute = 2",
            "\" \"",
            &["no currency is named", "such as \"EUR\""]
        ),
        prices!(
            "currency = 3\nunits_a_year = 300\nchannel = 40\nbench_minute = 2",
            "3\nunits",
            &["a number where a text is expected"]
        ),
        prices!(
            "currency = \"EUR\"\nunits_a_year = 0\nchannel = 40\nbench_minute = 2",
            "0\nchannel",
            &["`units_a_year` is 0, but must be from 1"]
        ),
        prices!(
            "currency = \"EUR\"\nunits_a_year = 300\nchannel = -40\nbench_minute = 2",
            "-40",
            &["`channel` is -40, but must not be negative"]
        ),
        priced!("discount = 3", "discount", &["unknown key `discount`"]),
        priced!("unit = \"many\"", "\"many\"", &["`many` does not begin with a number"]),
        priced!("gauge_minute = -1", "-1", &["`gauge_minute` is -1, but must not be negative"]),
        priced!("bench_day = \"25 h\"", "\"25 h\"", &["`bench_day` is 25 h, but must be from", "24 h"]),
        priced!("bench_day = 8", "8\n", &["a bare number where a time with its unit is expected"]),
        priced!("days_a_year = -7", "-7", &["`days_a_year` is -7, but must be from 1 to 366"]),
    ]);
}

#[test]
fn ranges_of_prices() {
    check(&[
        priced!("unit = { from = 1, to = 3 }", "{ from", &["`value`"]),
        priced!("unit = { value = 2, from = 1 }", "{ value", &["the range of `unit` has one end", "both"]),
        priced!(
            "unit = { value = 2, from = 3, to = 3 }",
            "3, to",
            &["`unit` is 2, from 3 to 3", "`from` is below `to`"]
        ),
        priced!(
            "unit = { value = 9, from = 1, to = 3 }",
            "9, from",
            &["outside its own range", "a value from 1 to 3, or a range that holds 9"]
        ),
        priced!("unit = { value = 2, from = -1, to = 3 }", "-1", &["`from` is -1, but must not be negative"]),
        priced!("unit = { value = 2, up_to = 3 }", "up_to", &["unknown key `up_to`"]),
    ]);
}

#[test]
fn prices_by_name() {
    check(&[
        priced!(
            "set_up = { fitt = 900 }",
            "900",
            &["there is no calibration plan `fitt`", "did you mean `fit`?"]
        ),
        priced!("set_up = { fit = -900 }", "-900", &["`fit` is -900, but must not be negative"]),
        priced!("set_up = [900]", "[900]", &["a list where"]),
        priced!(
            "rejected_part = { \"jumper.length\" = 4 }",
            "4 }",
            &[
                "`jumper.length` has no inspection that could turn a part away",
                "or leave `rejected_part` out"
            ]
        ),
        priced!(
            "rejected_part = { \"jumpr.length\" = 4 }",
            "4 }",
            &["`jumpr.length` has no inspection that could turn a part away"]
        ),
    ]);
    // Where the study inspects a source, the message suggests it.
    let inspected = [
        (
            "normal = { sd = \"0.2 mm\" } }",
            "normal = { sd = \"0.2 mm\" }, inspection = { accept = \"0.3 mm\" } }",
        ),
        (
            BENCH,
            "[cost]\ncurrency = \"EUR\"\nunits_a_year = 300\nchannel = 40\nbench_minute = 2\nrejected_part = { \"fed.length\" = 4 }\n\n[bench]\n",
        ),
    ];
    let report = Folder::with(edited(SMALL, &inspected)).refused(&["check", "study.toml"]);
    assert!(report.contains("`fed.length` is nothing that is inspected"), "{report}");
    assert!(report.contains("did you mean `feed.length`?"), "{report}");
}

#[test]
fn scrap_and_rework() {
    check(&[
        priced!("scrap = 50", "50", &["a number where a table is expected"]),
        priced!("scrap = { recovered = -1 }", "-1", &["`recovered` is -1, but must not be negative"]),
        // By hand: 8 channels for 40.
        priced!(
            "scrap = { recovered = 321 }",
            "321",
            &["a scrapped unit brings 321, but its parts cost 320", "at most 320"]
        ),
        priced!("rework = { time = \"5 min\" }", "{ time", &["`success`"]),
        priced!("rework = { success = 0.5 }", "{ success", &["`time`"]),
        priced!(
            "rework = { replaces = [\"jumpr\"], time = \"5 min\" }",
            "\"jumpr\"",
            &["there is no block `jumpr` to replace", "did you mean `jumper`?"]
        ),
        // No channel of this study dies.
        priced!(
            "rework = { replaces = [\"dead_channel\"], time = \"5 min\" }",
            "\"dead_channel\"",
            &["there is no block `dead_channel` to replace"]
        ),
        priced!(
            "rework = { replaces = [\"jumper\"], success = 0.77, time = \"5 min\" }",
            "0.77",
            &["both `success` and `replaces`", "leave `success` out"]
        ),
        priced!(
            "rework = { success = 0.5, attempts = 17, time = \"5 min\" }",
            "17",
            &["attempts are counted where parts are replaced", "add `replaces = "]
        ),
        priced!(
            "rework = { replaces = [\"jumper\"], attempts = 21, time = \"5 min\" }",
            "21",
            &["`attempts` is 21, but must be from 1 to 20"]
        ),
        priced!(
            "rework = { success = 1.2, time = \"5 min\" }",
            "1.2",
            &["`success` is 1.2, but must be from 0 to 1"]
        ),
        priced!(
            "rework = { success = \"120 %\", time = \"5 min\" }",
            "\"120 %\"",
            &["`success` is 120 %, but must be"]
        ),
        priced!(
            "rework = { success = 0.5, time = \"-5 min\" }",
            "\"-5 min\"",
            &["`time` is -5 min, but must not be negative"]
        ),
        priced!(
            "rework = { success = { value = 0.5, from = 0.2, to = 1.5 }, time = \"5 min\" }",
            "1.5",
            &["`to` is 1.5, but must be from 0 to 1"]
        ),
    ]);
}

#[test]
fn offers() {
    check(&[
        offered!("change = { \"jumper.length.half_width\" = \"0.1 mm\" }", "[[offer]]", &["`name`"]),
        offered!("name = \"tight\"", "[[offer]]", &["`change`", "add, for example"]),
        offered!("name = \"tight\"\nchange = {}", "{}", &["an offer that changes nothing"]),
        offered!("name = \"tight\"\nchange = 3", "3\n", &["a number where a table is expected"]),
        offered!(
            "name = \" \"\nchange = { \"jumper.length.half_width\" = \"0.1 mm\" }",
            "\" \"",
            &["an offer without a name"]
        ),
        offered!(
            "name = \"tight\"\nchange = { \"jumpr.length.half_width\" = \"0.1 mm\" }",
            "{ \"jumpr",
            &["offer `tight`: the study has no `jumpr`", "did you mean `jumper`?"]
        ),
        offered!(
            "name = \"tight\"\nchange = { \"jumper.length.half_width\" = \"-0.1 mm\" }",
            "{ \"jumper",
            &["with offer `tight`: `half_width` is -0.1 mm, but must"]
        ),
        offered!(
            "name = \"tight\"\nchange = { jumper.length.half_width = \"0.1 mm\" }",
            "jumper.length",
            &["`jumper` is no address of a value", "the whole address in quotes"]
        ),
        offered!(
            "name = \"tight\"\nchange = { \"jumper..length\" = \"0.1 mm\" }",
            "\"0.1 mm\"",
            &["addresses nothing"]
        ),
        offered!(
            "name = \"tight\"\nchange = { \"cost.channel\" = 3 }",
            "{ \"cost",
            &["the study has no `cost`"]
        ),
    ]);
    let twice = "[[offer]]\nname = \"tight\"\nchange = { \"shifter.bits\" = 6 }\n\n";
    let study = edited(SMALL, &[(BENCH, &format!("{twice}{twice}{BENCH}"))]);
    let report = Folder::with(study).refused(&["check", "study.toml"]);
    assert!(report.contains("two offers are named `tight`") && report.contains("1 error"), "{report}");
}

#[test]
fn studies_without_a_cost_are_refused() {
    let prices = "[cost]\ncurrency = \"EUR\"\nunits_a_year = 300\nchannel = 40\nbench_minute = 2\n";
    let priced = format!("{SMALL}\n{prices}");
    let offer = |change: &str| format!("{priced}\n[[offer]]\nname = \"other\"\nchange = {{ {change} }}\n");
    let unlimited = format!("{}\n{prices}", &SMALL[..SMALL.find("[[limit]]").expect("limits")]);
    let cases: &[(String, &[&str], &[&str])] = &[
        (SMALL.to_owned(), &[], &["the study states no prices", "`[cost]`", "study.toml"]),
        (unlimited, &[], &["no good unit has a cost", "[[limit]]"]),
        (priced.clone(), &["--calibration", "fitt"], &["there is no calibration plan `fitt`"]),
        (
            priced.clone(),
            &["--set", "cost.channel=-3"],
            &["`channel` is -3", "as changed by cost.channel=-3"],
        ),
        (offer("\"cost.currency\" = \"CHF\""), &[], &["offer `other` changes what costs are weighed by"]),
        (offer("\"cost.units_a_year\" = 3"), &[], &["offer `other` changes what costs are weighed by"]),
        (
            priced.clone(),
            &["--report", "page.pdf"],
            &["a summary is a page, a text or JSON", ".html, .txt or .json"],
        ),
        (priced.clone(), &["--report", "c.json", "--json", "c.json"], &["would both go there", "c.json"]),
        (priced.clone(), &["--json", "c.json", "--csv", "c.json"], &["would both go there"]),
        (priced.clone(), &["--csv", "study.toml"], &["study.toml"]),
        (priced, &["--trials", "0"], &["at least one unit"]),
    ];
    for (study, arguments, says) in cases {
        let folder = Folder::with(study);
        let mut all = vec!["cost", "study.toml", "--quiet"];
        all.extend_from_slice(arguments);
        let said = folder.refused(&all).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(says.iter().all(|words| said.contains(words)), "{arguments:?}: {says:?}\n{said}");
    }
}
