//! An inspection on one page.

use crate::decide::inspect::{BuiltUnits, Choice, Parts, Question, SettingResult};
use crate::report::inspect_verdict::{
    answer, currency, gauges, question, shares, suppliers, total, units_sentence,
};
use crate::report::inspect_words::{offers, percent_of, setting};
use crate::report::money::money;
use crate::report::number::{percent, points};
use crate::report::{Brief, BriefFigure, InspectRun};
use crate::stats::Estimate;

/// Most other suppliers on the page.
const SUPPLIERS: usize = 4;

/// The decision about an inspection on one page.
pub(crate) fn inspect_brief(run: &InspectRun) -> Brief {
    let own = run.own();
    let mut recommendation = vec![answer(run)];
    recommendation.extend(own.parts.as_ref().map(shares));
    recommendation.extend(own.units.as_ref().map(|units| units_sentence(run, units)));
    if run.is_partial {
        recommendation.push("The run was stopped early, so some of it is missing.".to_owned());
    }
    Brief {
        question: question_sentence(run),
        recommendation: recommendation.join(" "),
        figures: figures(run, own),
        assumptions: assumptions(run, own),
        would_change: would_change(run),
        again: run.again.to_owned(),
    }
}

/// The question as a sentence.
fn question_sentence(run: &InspectRun) -> String {
    let what = question(run);
    match run.question {
        Question::Stated => format!("What does {what} do?"),
        Question::Widest(_) | Question::Cheapest => format!("Which is {what}?"),
    }
}

fn exact(name: &str, value: String) -> BriefFigure {
    BriefFigure { name: name.to_owned(), value, interval: String::new(), estimate: None }
}

fn figures(run: &InspectRun, own: &SettingResult) -> Vec<BriefFigure> {
    let mut figures = Vec::new();
    if let Some(parts) = &own.parts {
        figures.push(exact("acceptance", run.acceptance(parts)));
        figures.extend(shares_of(parts));
    }
    if let Some(units) = &own.units {
        figures.extend(made(run, "of units from parts as delivered", &units.without));
        figures.extend(units.with.iter().flat_map(|with| made(run, "of units from accepted parts", with)));
        if let Some(gain) = units.gain() {
            let (value, interval) = points(&gain);
            figures.push(estimated(
                "yield gain by the inspection",
                format!("{value} points"),
                interval,
                &gain,
            ));
        }
        if let Some(saving) = units.saving() {
            let (value, interval) = money(&saving, &currency(run));
            figures.push(estimated("saving on a good unit", value, interval, &saving));
        }
    }
    for offer in offers(run).take(SUPPLIERS) {
        let name = format!("of units from {}", setting(&offer.setting));
        figures.extend(offer.made().into_iter().flat_map(|of| made(run, &name, of)));
    }
    figures
}

fn shares_of(parts: &Parts) -> Vec<BriefFigure> {
    let Some(of) = parts.conformity else { return Vec::new() };
    vec![
        exact(
            if parts.operating.is_some() { "lots turned away" } else { "parts turned away" },
            percent_of(1.0 - parts.taken()),
        ),
        exact("consumer's risk", percent_of(of.consumer_risk)),
        exact("producer's risk", percent_of(of.producer_risk)),
    ]
}

fn made(run: &InspectRun, of: &str, made: &BuiltUnits) -> Vec<BriefFigure> {
    let (value, interval) = percent(&made.yield_);
    let mut figures = vec![estimated(&format!("yield {of}"), value, interval, &made.yield_)];
    if let Some(total) = total(made) {
        let (value, interval) = money(total, &currency(run));
        figures.push(estimated(&format!("cost {of}"), value, interval, total));
    }
    figures
}

fn estimated(name: &str, value: String, interval: String, estimate: &Estimate) -> BriefFigure {
    BriefFigure { name: name.to_owned(), value, interval, estimate: Some(estimate.clone()) }
}

fn assumptions(run: &InspectRun, own: &SettingResult) -> Vec<String> {
    let mut all = vec![
        format!("The delivered parts follow the distribution that the study states for {}.", run.source),
        "The gauge's error is normal, and independent of the part and of other readings.".to_owned(),
    ];
    match own.parts.as_ref().map(|parts| &parts.operating) {
        Some(Some(_)) => all.push(
            "Lots are large beside the sample, and a lot that is not accepted goes back whole.".to_owned(),
        ),
        Some(None) => all.push(
            "Every part is gauged once, and parts turned away are replaced by the same supplier.".to_owned(),
        ),
        None => {}
    }
    all.push("All other tolerances, the bench and the spec are as the study states them.".to_owned());
    if run.cost.is_some() {
        all.push("Prices are those of the study's [cost] table.".to_owned());
    }
    all
}

fn would_change(run: &InspectRun) -> Vec<String> {
    let mut all: Vec<String> = gauges(run).into_iter().chain(suppliers(run)).collect();
    all.push(match run.own().search.choice() {
        Choice::NoInspection => "Parts that spread more than is stated would call for an inspection.".to_owned(),
        _ => "Parts that spread more than is stated: more of them would be turned away, and more would slip through.".to_owned(),
    });
    if run.cost.is_some() {
        all.push(
            "Other prices of a part that is turned away, of a minute at the gauge, of a unit that fails."
                .to_owned(),
        );
    }
    all
}
