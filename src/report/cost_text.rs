//! A costing in tables: the cost of a good unit by each plan and offer, its parts, and its sensitivity.

use crate::decide::cost::Input;
use crate::decide::{CostResult, Pareto, Swing};
use crate::report::cost_verdict::{offer, verdict};
use crate::report::cost_words::lines;
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::lots_text;
use crate::report::money::{bare, beside, money};
use crate::report::number::{ABSENT, counted, duration, percent, rounded, significant};
use crate::report::words::plain;
use crate::report::{CostRun, Ending};

/// A costing for people, at most 80 columns wide.
pub(crate) fn cost_text(run: &CostRun) -> String {
    let mut parts = vec![head(run)];
    parts.extend((0..run.models.len()).map(|design| plans(run, design)));
    parts.push(dominated(run));
    parts.extend([split(run), benches(run), steps(run), averages(run), offers(run), tornado(run)]);
    parts.push(paragraph(&verdict(run), 0, 0));
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

fn head(run: &CostRun) -> String {
    let units = run.costed.compared.trials();
    let mut text = String::new();
    let first = match run.ending {
        Ending::Stopped { planned } => {
            format!("PARTIAL: stopped after {units} of {planned} units, so every interval is wider.")
        }
        _ if run.lacks_ladder => "PARTIAL: stopped before other numbers of averages were tried.".to_owned(),
        Ending::TooWide => {
            format!(
                "All {units} units allowed are built; the yield intervals are wider than the study asks for."
            )
        }
        Ending::AsAsked => String::new(),
    };
    if !first.is_empty() {
        text.push_str(&paragraph(&first, 0, 0));
    }
    text.push_str(&paragraph(&plain(&run.models[0].title), 0, 0));
    let built = format!(
        "{} priced on the same {} from seed {}, in {}. Prices in {}, as the study states them, for {}.",
        counted(run.costed.all().len() as u64, "plan"),
        run.units(),
        run.models[0].seed,
        duration(run.seconds),
        run.currency(),
        run.rate()
    );
    text + &paragraph(&built, 0, 0) + &lots_text::note(&run.models[0], units)
}

/// The plans of a design, those on a Pareto front marked.
fn plans(run: &CostRun, design: usize) -> String {
    let title = match run.offer_of(design) {
        None => "Cost of a good unit, by the plan that calibrates it".to_owned(),
        Some(offer) => {
            let changes = run.offers[design - 1].changes.iter();
            let changes: Vec<String> = changes
                .map(|of| format!("{} = {}", of.parameter, plain(&of.value).replace('"', "")))
                .collect();
            format!("The same with the offer {offer}: {}", changes.join(", "))
        }
    };
    let (header, rows) = run.plan_table(run.costed.of_design(design), |of| run.plan_of(of));
    let mut grid = Grid::new(&header);
    rows.into_iter().for_each(|row| grid.row(row));
    format!("{}\n{}", paragraph(&title, 0, 2), grid.text())
}

/// The dominated plans.
fn dominated(run: &CostRun) -> String {
    let mut text = String::new();
    for (front, what) in [(Pareto::Minutes, "in bench time"), (Pareto::Cost, "in cost")] {
        let by = run.costed.dominated(front);
        for other in run.costed.all() {
            let beaten: Vec<String> =
                run.costed.all().filter(|of| by[*of] == Some(other)).map(|of| run.name(of)).collect();
            if !beaten.is_empty() {
                let said = format!("by {} {what}: {}", run.quoted(other), beaten.join(", "));
                text.push_str(&paragraph(&said, 2, 4));
            }
        }
    }
    if text.is_empty() {
        return text;
    }
    let meaning = "Dominated: another plan takes no more bench time in the same design, or costs no more, and these units do not \
                   show its yield to be lower. The other plans are the Pareto front.";
    format!("{}\n{text}", paragraph(meaning, 0, 0))
}

/// The parts of the cost of a good unit.
fn split(run: &CostRun) -> String {
    let shown: Vec<usize> =
        run.shown().into_iter().filter(|of| run.costed.priced[*of].bill.is_some()).collect();
    let bills: Vec<_> = shown.iter().filter_map(|of| Some((*of, run.costed.priced[*of].bill?))).collect();
    let Some((_, first)) = bills.first() else { return String::new() };
    let is_used = |line: &usize| bills.iter().any(|(_, bill)| lines(bill)[*line].1 != 0.0);
    let used: Vec<usize> = (0..lines(first).len()).filter(is_used).collect();
    let largest = bills.iter().map(|(_, bill)| bill.total()).fold(0.0, f64::max);
    // Cents where there is room for them.
    let written = |value: f64| if largest < 1000.0 { bare(value) } else { format!("{value:.0}") };
    let mut header = vec![words("plan")];
    header.extend(used.iter().map(|line| numbers(lines(first)[*line].0)));
    header.push(numbers("in all"));
    let mut grid = Grid::new(&header);
    for (of, bill) in &bills {
        let cells = used.iter().map(|line| written(lines(bill)[*line].1));
        grid.row(std::iter::once(run.name(*of)).chain(cells).chain([written(bill.total())]));
    }
    let title = format!("What a good unit costs, {}, at the yields found", run.currency());
    format!("{title}\n\n{}{}{}", grid.text(), failing(run, &shown), mending(run, &shown))
}

/// The outcome for units whose parts are replaced, and a caution on a stated success.
fn mending(run: &CostRun, shown: &[usize]) -> String {
    let caution = run.hopeful(shown.iter().copied()).map_or(String::new(), |said| paragraph(&said, 2, 2));
    let (header, rows) = run.mending_table(shown.iter().copied());
    let Some(title) = run.mending().filter(|_| !rows.is_empty()) else { return caution };
    let mut grid = Grid::new(&header);
    rows.into_iter().for_each(|row| grid.row(row));
    format!("{caution}\n{}\n{}", paragraph(&title, 0, 2), grid.text())
}

/// What is done with units that fail.
fn failing(run: &CostRun, shown: &[usize]) -> String {
    if run.costed.costs.iter().all(|cost| cost.rework.is_none()) {
        return paragraph("Units that fail are scrapped.", 2, 2);
    }
    let named = |reworks: bool| {
        let of = shown
            .iter()
            .filter(|of| run.costed.priced[**of].bill.is_some_and(|bill| bill.reworks == reworks));
        of.map(|of| run.name(*of)).collect::<Vec<_>>().join(", ")
    };
    let text = match (named(true), named(false)) {
        (all, none) if none.is_empty() => {
            format!("Units that fail are reworked, which is cheaper, after every plan: {all}.")
        }
        (none, _) if none.is_empty() => {
            "Units that fail are scrapped, which is cheaper than rework, after every plan.".to_owned()
        }
        (reworked, scrapped) => format!(
            "Units that fail are reworked where that is cheaper, after {reworked}; and scrapped after {scrapped}."
        ),
    };
    paragraph(&text, 2, 2)
}

/// Good units of a bench in a day, and how many benches are needed.
fn benches(run: &CostRun) -> String {
    let mut grid = Grid::new(&[
        words("plan"),
        numbers("bench time a good unit"),
        numbers("good units a day"),
        numbers("interval"),
        numbers("benches"),
    ]);
    let mut is_empty = true;
    for of in run.shown() {
        let (Some(found), Some(bill)) = (run.costed.throughput(of), run.costed.priced[of].bill) else {
            continue;
        };
        is_empty = false;
        let (low, high) = (&found.a_day.low, &found.a_day.high);
        let half = 0.5 * (high - low);
        let benches = match found.within {
            [Some(few), Some(many)] if few == many => found.benches.to_string(),
            [Some(few), Some(many)] => format!("{} ({few} to {many})", found.benches),
            _ => format!("{} or more", found.benches),
        };
        grid.row([
            run.name(of),
            duration(bill.bench_seconds),
            rounded(found.a_day.value, half),
            format!("{} to {}", rounded(*low, half), rounded(*high, half)),
            benches,
        ]);
    }
    if is_empty {
        return String::new();
    }
    let cost = &run.costed.costs[0];
    let title = format!(
        "What one bench does in a day of {} h, and benches for {} on {} days",
        significant(cost.bench_day / 3600.0, 3),
        run.rate(),
        significant(cost.days_a_year, 3)
    );
    format!("{}\n{}", paragraph(&title, 0, 0), grid.text())
}

/// The saving by each further step of bench time.
fn steps(run: &CostRun) -> String {
    let line = |costed: &CostResult| {
        let steps = costed.steps(0);
        let lines = steps.iter().map(|step| {
            let said = format!("from {} to {}: {}", run.name(step.from), run.name(step.to), run.step(step));
            paragraph(&said, 2, 4)
        });
        lines.collect::<String>()
    };
    let text = line(run.costed);
    if text.is_empty() {
        return text;
    }
    format!("What more bench time saves, each step from the last plan that saved something\n\n{text}")
}

/// One plan with more and fewer averages.
fn averages(run: &CostRun) -> String {
    let Some((candidate, ladder)) = run.ladder else { return String::new() };
    let costed = &ladder.costed;
    let steps = ladder.steps();
    let mut grid = Grid::new(&[
        numbers("averages"),
        numbers("bench time"),
        numbers("yield"),
        numbers("cost"),
        numbers("saves"),
        numbers("interval"),
        words("from"),
    ]);
    for (of, averages) in ladder.averages.iter().enumerate() {
        let step = steps.iter().find(|step| step.to == of);
        let (saves, interval) = step.map_or((ABSENT.to_owned(), ABSENT.to_owned()), |step| {
            let (value, interval) = money(&step.saving.amount, run.currency());
            (value, interval)
        });
        let own = if of == ladder.own { "*" } else { "" };
        let total = costed.priced[of].total.as_ref();
        grid.row([
            format!("{averages}{own}"),
            duration(costed.compared.seconds(of)),
            costed.compared.yield_of(of).map_or(ABSENT.to_owned(), |share| percent(share).0),
            total.map_or(ABSENT.to_owned(), |total| money(total, run.currency()).0),
            saves,
            interval,
            step.map_or(String::new(), |step| ladder.averages[step.from].to_string()),
        ]);
    }
    let title = format!(
        "More averaging after {}: cost of a good unit, and saving over the last number of averages that saved something (* as stated)",
        run.quoted(candidate)
    );
    format!("{}\n{}", paragraph(&title, 0, 0), grid.text())
}

fn offers(run: &CostRun) -> String {
    let cases = run.costed.offers();
    if cases.is_empty() {
        return String::new();
    }
    let text: String = cases.iter().map(|case| paragraph(&offer(run, case), 2, 4)).collect();
    format!("Offers, each with its cheapest plan, against the study with its own\n\n{text}")
}

/// The sensitivity of the cheapest plan's cost.
fn tornado(run: &CostRun) -> String {
    let Some(cheapest) = run.costed.cheapest() else { return String::new() };
    let swings = run.costed.tornado(cheapest);
    if swings.is_empty() {
        return String::new();
    }
    let Some(total) = run.costed.priced[cheapest].total.as_ref() else { return String::new() };
    let mut grid = Grid::new(&[
        words("input"),
        numbers("from"),
        numbers("to"),
        numbers("cost from"),
        numbers("to"),
        words("then the cheapest"),
    ]);
    for swing in &swings {
        let [from, to] = ends(swing);
        let [one, other] = swing.costs.map(|cost| beside(cost, total));
        grid.row([run.input(&swing.input), from, to, one, other, instead(run, swing)]);
    }
    let title = format!(
        "Sensitivity of the cost of {}, {}: each input at the ends of its range, all others as stated",
        run.quoted(cheapest),
        run.currency()
    );
    format!("{}\n{}", paragraph(&title, 0, 0), grid.text())
}

/// The ends of an input's range.
pub(super) fn ends(swing: &Swing) -> [String; 2] {
    match &swing.input {
        Input::Yield => swing.ends.map(|end| format!("{} %", significant(100.0 * end, 3))),
        Input::Price(..) => swing.ends.map(|end| significant(end, 6)),
    }
}

/// The cheapest plan at either end, where it is another.
pub(super) fn instead(run: &CostRun, swing: &Swing) -> String {
    let ends = ends(swing);
    match swing.instead {
        [Some(one), Some(other)] if one == other => run.name(one),
        named => {
            let named = named.iter().zip(ends);
            let named = named.filter_map(|(of, end)| Some(format!("{} at {end}", run.name((*of)?))));
            named.collect::<Vec<_>>().join(", ")
        }
    }
}
