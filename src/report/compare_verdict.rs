//! The verdict on a comparison, in sentences.

use crate::decide::{BenchStep, YieldDifference};
use crate::report::change::{Change, between_points, in_points, is_gain};
use crate::report::compare_text::difference;
use crate::report::number::{self, MOST_UNITS, about, counted, duration, percent};
use crate::report::words::{self, figure as figure_name, point, sentences};
use crate::report::{CompareRun, cautions};
use crate::stats::Estimate;

/// Most plans that a verdict names for one statement.
const NAMED: usize = 3;

/// "95 %"
pub(super) fn confidence(run: &CompareRun) -> String {
    number::confidence(run.compared.confidence)
}

/// "on the same 4000 units of seed 7, each interval at 95 % confidence"
fn units(run: &CompareRun) -> String {
    let units = counted(run.compared.trials(), "unit");
    format!(
        "on the same {units} of seed {}, each interval at {} confidence",
        run.models[0].seed,
        confidence(run)
    )
}

/// A candidate's name as quoted in a sentence.
pub(super) fn quoted(run: &CompareRun, candidate: usize) -> String {
    words::quoted(&run.names[candidate])
}

/// The differences of the yields from that of the plan they are compared with, that plan left out.
pub(super) fn against<'r>(run: &'r CompareRun) -> impl Iterator<Item = (usize, YieldDifference)> + 'r {
    let others = (0..run.names.len()).filter(|of| *of != run.against);
    others.filter_map(|of| Some((of, run.compared.yield_difference(of, run.against)?)))
}

/// "cannot tell "a" from "b" with 4000 units; about 30000 would"; `None` where the difference is significant.
pub(super) fn cannot_tell(
    run: &CompareRun,
    one: usize,
    other: usize,
    over: &YieldDifference,
) -> Option<String> {
    if over.is_significant() {
        return None;
    }
    let names = format!("{} from {}", quoted(run, one), quoted(run, other));
    let units = counted(run.compared.trials(), "unit");
    Some(format!("cannot tell {names} with {units}; {}", would(over)))
}

/// How many units would make the difference significant.
fn would(over: &YieldDifference) -> String {
    if over.pairs.only_first + over.pairs.only_second == 0 {
        return "every unit has the same verdict after both".to_owned();
    }
    match over.pairs.units_to_tell(over.difference.confidence) {
        Some(units) if units <= MOST_UNITS => format!("about {} would", about(units, 1)),
        Some(_) => "no affordable number would".to_owned(),
        None => "as many are saved as are lost, so no number can be given".to_owned(),
    }
}

/// "12 min more buy 3.1 points (2.8 to 3.4)"
pub(super) fn gain(run: &CompareRun, step: &BenchStep) -> String {
    let of = &step.over.difference;
    let time = if step.seconds > 0.0 {
        format!("{} more", duration(step.seconds))
    } else {
        "as many minutes".to_owned()
    };
    let unclear = || {
        let units = counted(run.compared.trials(), "unit");
        format!("buy nothing that {units} show: {}; {}", between_points(of), would(&step.over))
    };
    let said = Change::say(
        of,
        |by| format!("buy {}", in_points(by)),
        |by| format!("cost {}", in_points(by)),
        unclear,
    );
    format!("{time} {said}")
}

/// The answer and its basis.
pub(super) fn verdict(run: &CompareRun) -> String {
    let answer = match run.compared.best() {
        Some(best) => format!("{}{}", of_yield(run, best), of_time(run, best)),
        None => of_means(run),
    };
    let caution = cautions::sentence(&run.cautions());
    format!("Verdict {}: {answer}{caution} Predicted from the study's tolerances, not measured.", units(run))
}

fn of_yield(run: &CompareRun, best: usize) -> String {
    let of = run.compared.yield_of(best).map_or(String::new(), share);
    let mut said = vec![highest(run, best, &of)];
    let (apart, alike): (Vec<_>, Vec<_>) = against(run).partition(|(_, over)| over.is_significant());
    // The nearest competitor: the plan that the others are compared with, or the closest of those.
    let (other, over, rest) = if best == run.against {
        let nearest = apart.iter().max_by(|a, b| a.1.difference.value.total_cmp(&b.1.difference.value));
        let rest = if apart.len() > 1 { ", the nearest shown to differ," } else { "" };
        (nearest.map(|of| of.0), nearest.map(|of| of.1.difference.negated()), rest)
    } else {
        let own = apart.iter().find(|of| of.0 == best);
        (own.map(|_| run.against), own.map(|of| of.1.difference.clone()), "")
    };
    if let (Some(other), Some(by)) = (other, over) {
        said.push(Change::say(
            &by,
            |by| format!("it beats {}{rest} by {}", quoted(run, other), in_points(by)),
            |by| format!("it is behind {}{rest} by {}", quoted(run, other), in_points(by)),
            String::new,
        ));
    }
    let unclear = alike.iter().filter_map(|(other, over)| cannot_tell(run, *other, run.against, over));
    said.extend(first_few(unclear));
    sentences(&said)
}

/// A plan has the highest yield where the same units show it against every other; else it only has the highest found.
fn highest(run: &CompareRun, best: usize, of: &str) -> String {
    let others = (0..run.names.len()).filter(|other| *other != best);
    let unproven = others.filter(|other| {
        !run.compared.yield_difference(best, *other).is_some_and(|over| is_gain(&over.difference))
    });
    let mut unproven: Vec<String> = unproven.map(|other| quoted(run, other)).collect();
    let best = quoted(run, best);
    if unproven.is_empty() {
        return format!("{best} has the highest yield, {of}");
    }
    if unproven.len() > NAMED {
        let more = unproven.len() - NAMED;
        unproven.truncate(NAMED);
        unproven.push(format!("{more} more"));
    }
    format!(
        "the highest yield found is that of {best}, {of}, not shown to be above that of {}",
        unproven.join(", ")
    )
}

/// The first of some sentences, and how many more there are.
fn first_few(all: impl Iterator<Item = String>) -> Vec<String> {
    let mut all: Vec<String> = all.collect();
    if all.len() > NAMED {
        let more = all.len() - NAMED;
        all.truncate(NAMED);
        all.push(format!("the same holds for {more} more"));
    }
    all
}

/// "96.3 % (95.6 to 96.9 %)"
fn share(of: &Estimate) -> String {
    let (value, interval) = percent(of);
    format!("{value} ({interval})")
}

/// The last bench time that pays in the design of the best plan, and those that buy nothing.
fn of_time(run: &CompareRun, best: usize) -> String {
    let bench_steps = run.compared.bench_steps(run.compared.candidates[best].design);
    let mut said = Vec::new();
    if let Some(last) = bench_steps.iter().rfind(|step| step.buys()) {
        let (from, to) = (quoted(run, last.from), quoted(run, last.to));
        let bought = gain(run, last);
        said.push(format!("the last bench time that buys yield is from {from} to {to}: {bought}"));
    }
    let idle = bench_steps.iter().filter(|step| !step.buys() && step.seconds > 0.0).map(|step| {
        let (from, to) = (quoted(run, step.from), quoted(run, step.to));
        let of = &step.over.difference;
        let for_it = Change::say(
            of,
            |by| format!("buys {}", in_points(by)),
            |by| format!("costs {}", in_points(by)),
            || "buys nothing that so many units show".to_owned(),
        );
        format!("{to} takes {} more than {from} and {for_it}", duration(step.seconds))
    });
    said.extend(first_few(idle));
    if said.is_empty() { String::new() } else { format!(" {}", sentences(&said)) }
}

/// Without limits: how many means differ significantly, and the clearest difference of each plan.
fn of_means(run: &CompareRun) -> String {
    let base = quoted(run, run.against);
    let mut text =
        format!("without limits there is no yield; means are compared with those of {base}, unit by unit.");
    for candidate in (0..run.names.len()).filter(|of| *of != run.against) {
        let means = run.compared.mean_differences(candidate, run.against);
        let size = |of: &Estimate| of.value.abs() / (of.high - of.low);
        let apart: Vec<_> =
            means.iter().filter(|of| of.difference.low > 0.0 || of.difference.high < 0.0).collect();
        let clearest = apart.iter().max_by(|a, b| size(&a.difference).total_cmp(&size(&b.difference)));
        let name = quoted(run, candidate);
        let Some(over) = clearest else {
            text.push_str(&format!(" Of {name} no mean of {} is shown to differ.", means.len()));
            continue;
        };
        let design = run.compared.candidates[candidate].design;
        let model = &run.models[design];
        let Some(column) = run.compared.measures[over.measure].columns[design] else { continue };
        let column = model.columns[column];
        text.push_str(&format!(
            " Of {name} {} of {} means are shown to differ, most clearly that of {} at {}, by {}.",
            apart.len(),
            means.len(),
            figure_name(column.figure),
            point(model, column.point),
            difference(&over.difference)
        ));
    }
    text
}
