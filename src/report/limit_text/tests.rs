//! Every answer in words, from searches over units made by hand.

use super::*;
use crate::decide::{Demand, Span, find_limit};
use crate::report::limit_csv::rows;
use crate::report::limit_json::limit_json;
use crate::report::sample;
use crate::study::Parameter;

const UNITS: u64 = 2000;

fn length() -> SearchVariable {
    SearchVariable::Value(Parameter::parse("feed.length.sd").unwrap(), Amount::parse("0.2 mm").unwrap())
}

fn bits() -> SearchVariable {
    SearchVariable::Value(Parameter::parse("shifter.bits").unwrap(), Amount::parse("5").unwrap())
}

/// Searches where of every 64 units, as even as can be, the share `share(value)` passes; stopped after some values.
fn search(span: Span, own: f64, stop: usize, share: impl Fn(f64) -> f64) -> LimitResult {
    let mut tries = 0;
    let demand = Demand { share: 0.9, confidence: 0.95, units: UNITS };
    let found = find_limit(&demand, &span, Some(own), &mut |value, units| {
        tries += 1;
        let passing = |units: u64| (units as f64 * share(value)).round() as u64;
        for first in (0..UNITS).step_by(64).filter(|_| tries <= stop) {
            let last = (first + 64).min(UNITS);
            units.take(last - first, passing(last) - passing(first));
        }
        Ok(())
    });
    found.unwrap()
}

/// The text of a search on one line; checks that no line is too long.
fn worded(sought: &SearchVariable, own: f64, found: &LimitResult) -> String {
    let mut model = sample::model();
    model.calibrations.remove(0);
    let run = LimitRun { model: &model, sought, own: Some(own), found, seconds: 1.5, warnings: 0 };
    let text = limit_text(&run);
    assert!(text.lines().all(|line| line.chars().count() <= 80) && text.ends_with(".\n"), "{text}");
    // The JSON holds finite numbers only.
    let document = serde_json::to_string(&limit_json(&run)).unwrap();
    assert!(!document.contains("null") && !document.contains("NaN"), "{document}");
    let rows = rows(&run);
    assert_eq!(rows.len(), found.probes.len() + 1);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn has(text: &str, parts: &[&str]) {
    for part in parts {
        assert!(text.contains(part), "{part}\n{text}");
    }
}

fn wide() -> Span {
    Span::of_quantities(0.01, 10.0)
}

/// The share falls over a decade about 1 mm.
fn falling(value: f64) -> f64 {
    (1.0 - 0.1 * value * value).clamp(0.0, 1.0)
}

#[test]
fn a_limit_has_its_interval_and_its_paragraph() {
    let found = search(wide(), 0.2, 100, falling);
    let text = worded(&length(), 0.2, &found);
    has(
        &text,
        &[
            "The largest feed.length.sd for a yield of 90 % after \"+fit\"",
            "Best estimate of the limit 1.00 mm, 95 % interval 0.9",
            "Verdict on the largest feed.length.sd at which at least 90 % of the units pass",
            "the limit is between them, best estimate 1.00 mm. Cannot narrow it further with 2000 units; about 8000 would halve",
            "The study's 0.2 mm meets it.",
            "Halving the range would have built",
        ],
    );
}

#[test]
fn factors_are_shown_with_the_value_of_each_parameter() {
    let all = ["feed.length.sd", "tail.length.sd"].map(|of| Parameter::parse(of).unwrap());
    let amounts = ["0.2 mm", "0.1 mm"].map(|of| Amount::parse(of).unwrap());
    let sought = SearchVariable::Factor(all.into_iter().zip(amounts).collect());
    let found = search(wide(), 1.0, 100, falling);
    let Answer::Limit(Limit { meets: Some(meets), .. }) = found.answer else { panic!("{found:?}") };
    let text = worded(&sought, 1.0, &found);
    let amounts = sought.amounts(meets);
    has(
        &text,
        &[
            "The largest factor on feed.length.sd, tail.length.sd for a yield of 90 %",
            &format!(
                "At factor {meets}: feed.length.sd = {}, tail.length.sd = {}",
                amounts[0].1, amounts[1].1
            ),
            "The study as it stands is not shown to meet or to miss it.",
        ],
    );
}

#[test]
fn whole_numbers_have_a_last_one() {
    let span = Span { from: 1.0, to: 9.0, spacing: Spacing::Whole };
    let shares =
        |at_5: f64| move |bits: f64| [0.1, 0.2, 0.4, 0.8, at_5, 0.97, 0.98, 0.99, 0.99][bits as usize - 1];
    let text = worded(&bits(), 5.0, &search(span, 5.0, 100, shares(0.95)));
    has(
        &text,
        &["The smallest shifter.bits", "5 meets it and 4 misses it: it is 5. The study's 5 meets it."],
    );
    // 1.96^2 * 0.9 * 0.1 / 0.005^2 = 13829, rounded up to two digits.
    let text = worded(&bits(), 5.0, &search(span, 5.0, 100, shares(0.895)));
    has(&text, &["6 meets it and 4 misses it; cannot tell 5 with 2000 units. About 14000 would."]);
    // Best inside the range.
    let best = |bits: f64| [0.1, 0.2, 0.4, 0.8, 0.95, 0.99, 0.97, 0.95, 0.9][bits as usize - 1];
    let text = worded(&bits(), 6.0, &search(span, 6.0, 100, best));
    has(
        &text,
        &[
            "5 meets it and 4 misses it",
            "That holds from 6 on; beyond, toward 9, the yield does not keep rising",
        ],
    );
}

#[test]
fn open_ends_are_stated() {
    let text = worded(&length(), 0.2, &search(Span::of_quantities(0.01, 1.0), 0.2, 100, falling));
    has(
        &text,
        &[
            "meets it, and no value of the range is shown to miss it: the range ends, at 1 mm, before the limit's",
        ],
    );
    let text = worded(&length(), 2.0, &search(Span::of_quantities(1.0, 10.0), 2.0, 100, falling));
    has(&text, &["No value of the range is shown to meet it with 2000 units, not even 1 mm;"]);
}

#[test]
fn where_there_is_no_limit_the_text_says_why() {
    let at = |share: f64| worded(&length(), 0.2, &search(wide(), 0.2, 100, move |_| share));
    has(
        &at(1.0),
        &["Every value tried meets it, 100 % of 128 units pass at 0.01 mm", "The limit is beyond the range."],
    );
    has(&at(0.2), &["No value tried meets it,", "This alone does not cause the failures."]);
    has(
        &at(0.905),
        &["Cannot tell with 2000 units: 90.5 % of 2000 units pass at 0.01 mm", "About 14000 would."],
    );
    let inside = |value: f64| if (0.1..1.0).contains(&value) { 1.0 } else { 0.2 };
    let text = worded(&length(), 0.2, &search(wide(), 0.2, 100, inside));
    has(
        &text,
        &["There is no limit, as the yield turns inside the range", "Give a range on one side of the turn."],
    );
}

#[test]
fn a_stopped_search_says_so_first() {
    for stop in 1..6 {
        let text = worded(&length(), 0.2, &search(wide(), 0.2, stop, falling));
        assert!(text.starts_with("PARTIAL: stopped after"), "{text}");
        assert_eq!(text.contains("There is no answer yet."), stop == 1, "{text}");
    }
}

#[test]
fn contradictions_raise_a_warning() {
    let span = Span { from: 1.0, to: 6.0, spacing: Spacing::Whole };
    let dips = |value: f64| [1.0, 0.9, 0.97, 0.6, 0.3, 0.1][value as usize - 1];
    let text = worded(&bits(), 2.0, &search(span, 2.0, 100, dips));
    has(&text, &["Warning: more of the same units pass at 3 than at 2, though it is looser"]);
}
