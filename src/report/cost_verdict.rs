//! The verdict on a costing, in sentences.

use crate::decide::{CostStep, OfferCase, Pareto, Saving};
use crate::report::cost_words::{most, readings, replaced};
use crate::report::money::{amount, money};
use crate::report::number::{share, with_interval};
use crate::report::words::sentences;
use crate::report::{CostRun, cautions};

/// Most offers, and most steps that do not pay, of a verdict.
const NAMED: usize = 3;

/// The basis of all costs.
pub(super) const CAUTION: &str = "Costs are computed from the prices that the study states and from yields that are \
    predicted, not measured.";

/// The answer and its basis.
pub(super) fn verdict(run: &CostRun) -> String {
    format!(
        "Verdict on the same {} of seed {}, intervals at {} confidence, for {}: {}{} {CAUTION}",
        run.units(),
        run.models[0].seed,
        run.confidence(),
        run.rate(),
        answer(run, NAMED),
        cautions::sentence(&run.cautions())
    )
}

/// What to do and why, with at most `named` offers and steps that do not pay.
pub(super) fn answer(run: &CostRun, named: usize) -> String {
    let Some(cheapest) = run.costed.cheapest() else {
        return "no unit is good after any plan, so a good unit has no cost.".to_owned();
    };
    let mut said = vec![of_cheapest(run, cheapest)];
    said.extend(of_mending(run, cheapest));
    said.extend(of_steps(run, named));
    said.extend(of_averages(run));
    let offers = run.costed.offers();
    said.extend(offers.iter().take(named).map(|case| offer(run, case)));
    if offers.len() > named {
        let more = offers.len() - named;
        said.push(format!("offers that save no more, in the tables of `beamyield cost`: {more}"));
    }
    sentences(&said)
}

/// ""fit" makes the cheapest good unit, 1153 EUR (...), with ..."
fn of_cheapest(run: &CostRun, cheapest: usize) -> String {
    let costed = run.costed;
    let total = costed.priced[cheapest].total.as_ref();
    let cost = total.map_or(String::new(), |total| run.with_interval(total));
    let (share, interval) = run.yield_of(cheapest);
    let minutes = match costed.compared.seconds(cheapest) {
        0.0 => "no bench time".to_owned(),
        _ => format!("{} on the bench", run.bench_time(cheapest)),
    };
    let (dearer, alike): (Vec<_>, Vec<_>) = rivals(run, cheapest).into_iter().partition(|of| of.1.pays_off());
    let found = if alike.is_empty() { "" } else { " found" };
    let mut text = format!(
        "{} makes the cheapest good unit{found}, {cost}, with {minutes} and a yield of {share} ({interval})",
        run.quoted(cheapest)
    );
    if let Some((first, saving)) = alike.first() {
        let more = match alike.len() - 1 {
            0 => String::new(),
            more => format!(" (nor from {more} more)"),
        };
        text.push_str(&format!("; it {}{more}", run.against(saving, &run.quoted(*first))));
    }
    // The step that leads to it says this already.
    let is_step = |of: &usize| last_step(run).is_some_and(|step| (step.from, step.to) == (*of, cheapest));
    if let Some((next, saving)) = dearer.first().filter(|of| !is_step(&of.0)) {
        text.push_str(&format!("; it {}", run.against(saving, &run.quoted(*next))));
    }
    text
}

/// The outcome of rework for failing units of a candidate, where that is cheaper than scrapping them.
fn of_mending(run: &CostRun, candidate: usize) -> Option<String> {
    let bill = run.costed.priced[candidate].bill.filter(|bill| bill.reworks)?;
    let mended = run.mended(candidate)?;
    let replacing = run.costed.cost(candidate).rework.as_ref()?.replacing()?;
    Some(format!(
        "{} {} {} of the units that fail then, so that {} of all are good; it costs {} a good unit",
        replaced(replacing),
        if replacing.attempts == 1 { "mend".to_owned() } else { format!("({}) mend", most(replacing)) },
        share(mended.attempts.iter().map(|of| of.mended).sum(), mended.failing()),
        with_interval(&mended.good),
        amount(bill.rework, run.currency())
    ))
}

/// The saving of the cheapest over each other candidate, the nearest first.
pub(super) fn rivals(run: &CostRun, cheapest: usize) -> Vec<(usize, Saving)> {
    let others = run.costed.all().filter(|of| *of != cheapest);
    let mut rivals: Vec<_> = others.filter_map(|of| Some((of, run.costed.saves(cheapest, of)?))).collect();
    rivals.sort_by(|a, b| a.1.amount.value.total_cmp(&b.1.amount.value));
    rivals
}

/// The last step of bench time of the study that pays.
fn last_step(run: &CostRun) -> Option<CostStep> {
    run.costed.steps(0).into_iter().rfind(|step| step.saving.pays_off())
}

/// The last step of bench time of the study that pays, and those after it that do not.
fn of_steps(run: &CostRun, most: usize) -> Vec<String> {
    let steps = run.costed.steps(0);
    let worded = |step: &CostStep| {
        format!("from {} to {}, {}", run.quoted(step.from), run.quoted(step.to), run.step(step))
    };
    let mut said: Vec<String> = last_step(run).iter().map(worded).collect();
    // Dominated plans are in the tables.
    let dominated = run.costed.dominated(Pareto::Minutes);
    let after = steps.iter().rposition(|step| step.saving.pays_off()).map_or(0, |last| last + 1);
    let idle = steps[after..].iter().filter(|step| dominated[step.to].is_none());
    said.extend(idle.take(most).map(worded));
    said
}

/// How far more averaging pays, and the extra cost of the plan's own number of averages.
fn of_averages(run: &CostRun) -> Option<String> {
    let (candidate, ladder) = run.ladder?;
    let pays = ladder.pays_up_to()?;
    let (own, best) = (ladder.averages[ladder.own], ladder.averages[pays]);
    let plan = run.quoted(candidate);
    let stated = match ladder.own == pays {
        true => format!(", and it takes {}", readings(own)),
        false => {
            let saving = ladder.costed.saves(ladder.own, pays)?;
            format!("; as stated, by {}, it {}", readings(own), run.against(&saving, &readings(best)))
        }
    };
    Some(match () {
        _ if best == *ladder.averages.last()? => {
            format!("averaging after {plan} still pays at {}, the most tried{stated}", readings(best))
        }
        _ if pays == 0 => format!("averaging is not shown to pay after {plan}{stated}"),
        _ => format!("averaging is shown to pay after {plan} up to {}{stated}", readings(best)),
    })
}

/// The saving by an offer, and how much its parts may cost.
pub(super) fn offer(run: &CostRun, case: &OfferCase) -> String {
    let stated = amount(run.costed.costs[case.design].channel.value, run.currency());
    let (most, interval) = money(&case.most, run.currency());
    let price = match () {
        _ if case.most.high <= 0.0 => "it pays at no price of a channel's parts".to_owned(),
        _ => format!(
            "it pays while the parts of a channel cost less than {most} ({interval}); their stated price is {stated}"
        ),
    };
    format!("{} {}; {price}", run.quoted(case.candidate), run.against(&case.saving, &run.quoted(case.own)))
}
