//! An inspection for people: the parts, the units, the limits tried, other gauges and suppliers.

use crate::decide::inspect::{Parts, Question, Search, SettingResult};
use crate::inspection::Conformity;
use crate::report::InspectRun;
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::inspect_parts_text::parts_text;
use crate::report::inspect_tried_text::tried_text;
use crate::report::inspect_verdict::verdict;
use crate::report::inspect_words::{percent_of, setting};
use crate::report::lots_text;
use crate::report::money::money;
use crate::report::number::{ABSENT, confidence, counted, duration, percent, points};
use crate::report::words::plain;

/// An inspection for people, at most 80 columns wide.
pub(crate) fn inspect_text(run: &InspectRun) -> String {
    let own = run.own();
    let parts = [
        head(run),
        own.parts.as_ref().map_or(String::new(), |parts| parts_text(run, parts)),
        cautions(run),
        units(run, own),
        tried_text(run, own),
        settings(run),
        own.parts.as_ref().map_or(String::new(), |parts| line(run, parts)),
        paragraph(&verdict(run), 0, 0),
    ];
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

fn head(run: &InspectRun) -> String {
    let mut text = String::new();
    if run.is_partial {
        let partial = "PARTIAL: stopped early; only finished results are shown.";
        text.push_str(&paragraph(partial, 0, 0));
    }
    text.push_str(&paragraph(&plain(&run.model.title), 0, 0));
    let units = counted(run.model.trials.most(), "unit");
    let built_from = match run.question {
        Question::Stated if run.model.limits.is_empty() => {
            "The study has no limits, so no units are built.".to_owned()
        }
        Question::Stated => {
            format!("{units} of seed {}, calibrated by \"{}\"", run.model.seed, run.calibration())
        }
        Question::Widest(_) | Question::Cheapest => format!(
            "Up to {units} of seed {} for each limit tried, calibrated by \"{}\"",
            run.model.seed,
            run.calibration()
        ),
    };
    let time = format!("in {}", duration(run.seconds));
    let built_from = if built_from.ends_with('.') { built_from } else { format!("{built_from}, {time}.") };
    let built = if run.model.limits.is_empty() { 0 } else { run.model.trials.most() };
    text + &paragraph(&built_from, 0, 0) + &lots_text::note(run.model, built)
}

/// Warnings about the inspection itself.
fn cautions(run: &InspectRun) -> String {
    let lines = run.cautions().map(|of| {
        let label = if of.label.is_empty() { String::new() } else { format!(": {}", of.label) };
        paragraph(&format!("Warning: {}{label}.", of.message), 0, 2)
    });
    lines.collect()
}

/// Yield and cost with the inspection and without.
fn units(run: &InspectRun, answer: &SettingResult) -> String {
    let Some(units) = &answer.units else { return String::new() };
    let currency = run.cost.map(|cost| plain(&cost.currency));
    let level = confidence(run.model.confidence);
    let mut header = vec![words("Units of parts"), numbers("yield"), numbers(format!("at {level}"))];
    if currency.is_some() {
        header.extend([numbers("a good one costs"), numbers(format!("at {level}"))]);
    }
    let mut grid = Grid::new(&header);
    let rows = [("as delivered", Some(&units.without)), ("as accepted", units.with.as_ref())];
    for (label, made) in rows.into_iter().filter_map(|(label, made)| Some((label, made?))) {
        let (share, interval) = percent(&made.yield_);
        let mut row = vec![label.to_owned(), share, interval];
        if let Some(currency) = &currency {
            let total = made.priced.as_ref().and_then(|priced| priced.total.as_ref());
            let (cost, interval) =
                total.map_or((ABSENT.to_owned(), ABSENT.to_owned()), |total| money(total, currency));
            row.extend([cost, interval]);
        }
        grid.row(row);
    }
    if let Some(gain) = units.gain() {
        let (gain, interval) = points(&gain);
        let mut row = vec!["difference".to_owned(), format!("{gain} points"), interval];
        if let Some(currency) = &currency {
            let more = units.saving().map(|saving| saving.negated());
            let (cost, interval) =
                more.map_or((ABSENT.to_owned(), ABSENT.to_owned()), |more| money(&more, currency));
            row.extend([cost, interval]);
        }
        grid.row(row);
    }
    grid.text()
}

/// The same with other gauges and other suppliers.
fn settings(run: &InspectRun) -> String {
    if run.answers.len() < 2 {
        return String::new();
    }
    let currency = run.cost.map(|cost| plain(&cost.currency));
    let mut header = vec![
        words("Gauge or parts"),
        words(format!("accepted{}", run.unit_behind())),
        numbers("rejected"),
        numbers("consumer"),
        numbers("producer"),
        numbers("yield"),
    ];
    header.extend(currency.as_ref().map(|_| numbers("cost")));
    let mut grid = Grid::new(&header);
    for answer in run.answers {
        let mut row = vec![
            setting(&answer.setting),
            accepts(run, answer),
            answer.parts.as_ref().map_or(ABSENT.to_owned(), |parts| percent_of(1.0 - parts.taken())),
            share_cell(answer, |of| of.consumer_risk),
            share_cell(answer, |of| of.producer_risk),
            answer.made().map_or(ABSENT.to_owned(), |made| percent(&made.yield_).0),
        ];
        if let Some(currency) = &currency {
            let total = answer.made().and_then(|made| made.priced.as_ref()?.total.as_ref());
            row.push(total.map_or(ABSENT.to_owned(), |total| money(total, currency).0));
        }
        grid.row(row);
    }
    let of = if currency.is_some() { " and the cost of a good unit" } else { "" };
    let head = format!(
        "The same with another gauge or other parts: the risks of consumer and producer, the yield{of}."
    );
    format!("{}\n{}", paragraph(&head, 0, 0), grid.text())
}

fn share_cell(answer: &SettingResult, of: fn(Conformity) -> f64) -> String {
    let conformity = answer.parts.as_ref().and_then(|parts| parts.conformity);
    conformity.map_or(ABSENT.to_owned(), |shares| percent_of(of(shares)))
}

/// The acceptance in a setting.
fn accepts(run: &InspectRun, answer: &SettingResult) -> String {
    match (&answer.parts, &answer.search) {
        (Some(parts), _) => run.acceptance(parts).replace(&format!(" {}", run.unit), ""),
        (None, Search::Stated) => "all".to_owned(),
        (None, _) if answer.made().is_some() => "all".to_owned(),
        (None, _) => "none suffices".to_owned(),
    }
}

fn line(run: &InspectRun, parts: &Parts) -> String {
    format!(
        "To put it into the study, as the inspection in the tolerance of {}:\n  {}\n",
        run.source,
        run.keys(&parts.inspected.inspection).join("\n  ")
    )
}
