//! A costing on one page.

use crate::report::cost_text::{ends, instead};
use crate::report::cost_verdict::{answer, rivals};
use crate::report::cost_words::{most, replaced};
use crate::report::money::{amount, money};
use crate::report::number::{duration, estimate, percent, significant};
use crate::report::{Brief, BriefFigure, CostRun};
use crate::stats::Estimate;
use crate::study::{Rework, Success};

/// Most other plans with their costs on the page.
const OTHERS: usize = 3;

/// Most inputs, and most offers, listed as changing the answer.
const INPUTS: usize = 3;

/// The decision about bench time and parts on one page.
pub(crate) fn cost_brief(run: &CostRun) -> Brief {
    let mut recommendation = vec![match run.costed.cheapest() {
        Some(of) => format!("Calibrate by {}.", run.quoted(of)),
        None => "Build none of these.".to_owned(),
    }];
    recommendation.push(answer(run, 1));
    if run.lacks_ladder || matches!(run.ending, crate::report::Ending::Stopped { .. }) {
        recommendation.push("The run was stopped early, so some of it is missing.".to_owned());
    }
    Brief {
        question: format!(
            "By which calibration plan{} does a good unit cost least, at {}?",
            if run.offers.is_empty() { "" } else { ", and from whose parts," },
            run.rate()
        ),
        recommendation: recommendation.join(" "),
        figures: figures(run),
        assumptions: assumptions(run),
        would_change: would_change(run),
        again: run.again.to_owned(),
    }
}

fn figures(run: &CostRun) -> Vec<BriefFigure> {
    let costed = run.costed;
    let Some(cheapest) = costed.cheapest() else { return Vec::new() };
    let name = run.quoted(cheapest);
    let mut figures = Vec::new();
    figures
        .extend(costed.priced[cheapest].total.iter().map(|of| cost(run, format!("good unit by {name}"), of)));
    figures.extend(costed.compared.yield_of(cheapest).map(|share| {
        let (value, interval) = percent(share);
        estimated("yield".to_owned(), value, interval, share)
    }));
    if costed.compared.seconds(cheapest) > 0.0 {
        figures.push(exact("bench time of a unit", duration(costed.compared.seconds(cheapest))));
    }
    if let Some(found) = costed.throughput(cheapest) {
        let of = &found.a_day;
        let interval = format!("{} to {}", significant(of.low, 3), significant(of.high, 3));
        figures.push(estimated("good units a bench and day".to_owned(), estimate(of), interval, of));
        figures.push(exact(&format!("benches for {}", run.rate()), found.benches.to_string()));
    }
    let others = rivals(run, cheapest);
    let more = others.len().saturating_sub(OTHERS);
    for (of, saving) in others.iter().take(OTHERS) {
        figures.push(cost(run, format!("saved a good unit over {}", run.quoted(*of)), &saving.amount));
    }
    if more > 0 {
        let are_dearer = others[OTHERS..].iter().all(|(_, saving)| saving.pays_off());
        let name = if are_dearer { "other plans, all dearer" } else { "other plans" };
        figures.push(exact(name, more.to_string()));
    }
    figures
}

fn exact(name: &str, value: String) -> BriefFigure {
    BriefFigure { name: name.to_owned(), value, interval: String::new(), estimate: None }
}

fn estimated(name: String, value: String, interval: String, estimate: &Estimate) -> BriefFigure {
    BriefFigure { name, value, interval, estimate: Some(estimate.clone()) }
}

fn cost(run: &CostRun, name: String, of: &Estimate) -> BriefFigure {
    let (value, interval) = money(of, run.currency());
    estimated(name, value, interval, of)
}

fn assumptions(run: &CostRun) -> Vec<String> {
    let cost = &run.costed.costs[0];
    let mut all = vec![
        format!(
            "Prices are as the study states them: {} a channel and {} a unit of parts, {} a bench minute.",
            amount(cost.channel.value, &cost.currency),
            amount(cost.unit.value, &cost.currency),
            amount(cost.bench_minute.value, &cost.currency)
        ),
        format!("{} are built; costs paid once are spread over one year of them.", run.rate()),
        "The yields are predicted from the study's tolerances, bench and spec; no unit has been measured."
            .to_owned(),
    ];
    let brings = match cost.recovered.value {
        0.0 => "brings nothing".to_owned(),
        value => format!("brings {}", amount(value, &cost.currency)),
    };
    all.push(match &cost.rework {
        Some(rework) => format!(
            "A unit that fails is reworked where that is cheaper, {}; what fails for good is scrapped and {brings}.",
            how(rework)
        ),
        None => format!("A unit that fails is scrapped and {brings}."),
    });
    all.extend(run.hopeful(run.costed.all()));
    all.push("A bench works on one unit after the other, and no time is lost between them.".to_owned());
    all
}

/// How rework is done, and where the share that it mends comes from.
fn how(rework: &Rework) -> String {
    let time = duration(rework.seconds);
    match &rework.success {
        Success::Stated(share) => {
            format!(
                "in {time}; {} % of the attempts end well, as stated",
                significant(100.0 * share.value, 3)
            )
        }
        Success::Replacing(replacing) => format!(
            "{}, by {} from the same supply in {time} and another calibration; the share that it mends comes from building the units again",
            most(replacing),
            replaced(replacing)
        ),
    }
}

fn would_change(run: &CostRun) -> Vec<String> {
    let Some(cheapest) = run.costed.cheapest() else {
        return vec!["Tolerances, a plan or a spec by which some unit passes.".to_owned()];
    };
    let swings = run.costed.tornado(cheapest);
    let changing = swings.iter().filter(|swing| swing.instead != [None, None]).take(INPUTS);
    let mut all: Vec<String> = changing
        .map(|swing| {
            let [from, to] = ends(swing);
            format!(
                "{} from {from} to {to}: the cheapest is then {}.",
                run.input(&swing.input),
                instead(run, swing)
            )
        })
        .collect();
    if all.is_empty() && !swings.is_empty() {
        let widest = &swings[0];
        let [from, to] = ends(widest);
        all.push(format!(
            "No input does within its stated range; the cost itself moves most with the {}, from {from} to {to}.",
            run.input(&widest.input)
        ));
    }
    let alike = rivals(run, cheapest).into_iter().filter(|of| !of.1.is_significant());
    all.extend(alike.take(1).map(|(of, saving)| {
        format!("More units than these: {} {}.", run.quoted(cheapest), run.against(&saving, &run.quoted(of)))
    }));
    all.extend(run.costed.offers().iter().take(INPUTS).map(|case| {
        let (most, interval) = money(&case.most, run.currency());
        format!(
            "The offer {} at another price: below {most} ({interval}) a channel it pays, above it does not.",
            run.offer_of(case.design).unwrap_or_default()
        )
    }));
    all
}
