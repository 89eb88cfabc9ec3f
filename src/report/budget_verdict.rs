//! A budget in one paragraph: what to mend first, what that buys, and what the units cannot show.

use crate::decide::budget::{CalibrationBudget, FigureBudget, VarianceShares};
use crate::report::BudgetRun;
use crate::report::budget_words::{gain, in_percent, named, together, with_interval};
use crate::report::change::is_gain;
use crate::report::number::{MOST_UNITS, about, confidence, counted, percent, significant};
use crate::report::words::{plain, point};

/// The verdict on the plan with the highest yield, of those that calibrate where some do.
pub(super) fn verdict(run: &BudgetRun) -> String {
    let Some((number, of)) = best(run) else { return String::new() };
    let name = plain(&run.model.calibrations[number].name);
    let units = run.budget.units;
    let confidence = confidence(run.model.confidence);
    let mut said = vec![format!(
        "Verdict on \"{name}\" from {}, intervals with {confidence} confidence:",
        counted(units, "unit")
    )];
    if let Some(share) = &of.yield_ {
        let (value, interval) = percent(share);
        said.push(format!("{value} of units pass ({interval})."));
    }
    match (&of.failures, of.worst.first()) {
        (Some(failures), _) if run.figure.is_none() => said.extend(on_failures(run, of, failures)),
        (_, Some(figure)) => said.extend(on_figure(run, of, *figure)),
        _ => {}
    }
    crate::report::grid::paragraph(&said.join(" "), 0, 0)
}

fn best<'a>(run: &BudgetRun<'a>) -> Option<(usize, &'a CalibrationBudget)> {
    let plans = || run.budget.calibrations.iter().enumerate();
    let calibrates = |number: usize| !run.model.calibrations[number].is_none();
    let any = plans().any(|(number, _)| calibrates(number));
    let share = |of: &CalibrationBudget| of.yield_.as_ref().map_or(0.0, |of| of.value);
    let mut best: Option<(usize, &CalibrationBudget)> = None;
    for (number, of) in plans().filter(|(number, _)| !any || calibrates(*number)) {
        if best.is_none_or(|(_, best)| share(of) > share(best)) {
            best = Some((number, of));
        }
    }
    best
}

/// What to mend first by yield gain, what pays only together, and what owns the failures.
fn on_failures(run: &BudgetRun, of: &CalibrationBudget, owned: &VarianceShares) -> Vec<String> {
    let mut said = by_gains(run, of);
    said.extend(of.gains.groups.iter().map(|group| together(run, group)));
    if let Some(all) = of.gains.all.as_ref().filter(|all| is_gain(&all.gain)) {
        let (value, interval) = percent(&all.yield_);
        said.push(format!("With every cause mended {value} would pass ({interval})."));
    }
    said.extend(owner_of_failures(run, of, owned));
    said.extend(share_together(owned, "failures"));
    said
}

/// The cause without which the yield gains most, those that gain alike, and the next.
fn by_gains(run: &BudgetRun, of: &CalibrationBudget) -> Vec<String> {
    let gains = &of.gains;
    let units = counted(run.budget.units, "unit");
    let without = |cause: usize| of.perfect[cause].as_ref();
    let Some((first, perfect)) = gains.first.and_then(|first| Some((first, without(first)?))) else {
        return match &gains.all {
            _ if gains.order.is_empty() => Vec::new(),
            Some(all) if is_gain(&all.gain) => {
                vec![format!("No single cause is shown to gain any yield with {units}.")]
            }
            _ => vec![format!(
                "No cause is shown to gain any yield with {units}, nor are all of them at once."
            )],
        };
    };
    let gain_of = |cause: usize| {
        let gain = without(cause).and_then(|of| of.gain.as_ref()).map_or(String::new(), gain);
        format!("{} {gain}", run.budget.causes[cause].name)
    };
    let mut said = Vec::new();
    if gains.rivals.is_empty() {
        let by = perfect.gain.as_ref().map_or(String::new(), gain);
        let to = perfect.yield_.as_ref().map_or(String::new(), |share| format!(", to {}", percent(share).0));
        let name = &run.budget.causes[first].name;
        said.push(format!("Mend {name} first: without it the yield gains {by}{to}."));
    } else {
        let rivals = gains.rivals.iter().map(|rival| rival.cause);
        let alike: Vec<usize> = std::iter::once(first).chain(rivals).collect();
        let names = named(run, &alike, "or");
        let each: Vec<String> = alike.iter().map(|cause| gain_of(*cause)).collect();
        let enough =
            gains.rivals.iter().filter_map(|rival| rival.pairs.units_to_tell(run.model.confidence)).min();
        let enough = enough.filter(|units| *units <= MOST_UNITS);
        let enough = enough.map_or(String::new(), |units| format!("; about {} would", about(units, 2)));
        said.push(format!(
            "Mend {names} first: without each the yield gains alike, {}; cannot tell which gains more with {units}{enough}.",
            each.join(", ")
        ));
    }
    let is_rival = |cause: usize| gains.rivals.iter().any(|rival| rival.cause == cause);
    let is_shown = |cause: usize| without(cause).and_then(|of| of.gain.as_ref()).is_some_and(is_gain);
    let next = gains.order.iter().find(|cause| **cause != first && !is_rival(**cause) && is_shown(**cause));
    said.extend(next.map(|next| format!("Less, but next: {}.", gain_of(*next))));
    said
}

/// The cause that owns most of the failures.
fn owner_of_failures(run: &BudgetRun, of: &CalibrationBudget, owned: &VarianceShares) -> Option<String> {
    let Some(first) = first_of(owned) else {
        let enough =
            of.units_to_share().map_or(String::new(), |n| format!("; about {} units would do", about(n, 2)));
        return Some(format!(
            "Cannot tell what owns the failures: too few of the {} of both samples {}{enough}.",
            counted(2 * run.budget.units, "unit"),
            if of.yield_.as_ref().is_some_and(|of| of.value > 0.5) { "fail" } else { "pass" }
        ));
    };
    let share = owned.shares[first].as_ref()?;
    let shares = format!("{} in all and {} alone", with_interval(&share.in_all), in_percent(&share.alone));
    let name = |cause: usize| run.budget.causes[cause].name.as_str();
    Some(match owned.lead.as_ref().filter(|lead| !lead.is_told()) {
        None => format!("Of the failures {} owns most, {shares}.", name(first)),
        Some(lead) => format!(
            "Of the failures {} owns {shares}, not shown to be more than {} owns.",
            name(first),
            name(lead.second)
        ),
    })
}

/// The cause with the largest total share.
fn first_of(owned: &VarianceShares) -> Option<usize> {
    let shares = owned.shares.iter().enumerate().filter_map(|(cause, share)| Some((cause, share.as_ref()?)));
    shares.max_by(|a, b| a.1.in_all.value.total_cmp(&b.1.in_all.value)).map(|(cause, _)| cause)
}

/// What to mend first, and how sure that is.
fn mend(run: &BudgetRun, owned: &VarianceShares, first: usize, of: &str, shares: &str) -> String {
    let name = |cause: usize| run.budget.causes[cause].name.as_str();
    let Some(lead) = owned.lead.as_ref().filter(|lead| !lead.is_told()) else {
        return format!("Mend {} first: of {of} it owns {shares}.", name(first));
    };
    let (first, second) = (name(first), name(lead.second));
    let more =
        lead.units_to_tell().map_or(String::new(), |units| format!("; about {} would", about(units, 2)));
    format!(
        "Mend {first} or {second} first: of {of} {first} owns {shares}; {} units cannot tell whether it owns more than \
         {second}{more}.",
        run.budget.units
    )
}

fn share_together(owned: &VarianceShares, of: &str) -> Option<String> {
    let together = owned.together.as_ref()?;
    let share = with_interval(together);
    Some(if together.low > 0.0 {
        format!(
            "Of the {of}, {share} is owned by several together and by none alone: gains do not simply add up."
        )
    } else {
        format!("Cannot tell whether several own some of the {of} together; that share is {share}.")
    })
}

fn on_figure(run: &BudgetRun, of: &CalibrationBudget, number: usize) -> Vec<String> {
    let figure: &FigureBudget = &of.figures[number];
    let column = run.model.columns[figure.column];
    let what = format!("the variance of {} at {}", column.figure.title(), point(run.model, column.point));
    let Some(first) = first_of(&figure.owned) else {
        return vec![format!("No cause has a share of {what}.")];
    };
    let mut said = Vec::new();
    if let Some(share) = &figure.owned.shares[first] {
        let (in_all, alone) = (with_interval(&share.in_all), in_percent(&share.alone));
        let shares = format!("{in_all} in all and {alone} alone");
        said.push(mend(run, &figure.owned, first, &what, &shares));
    }
    if let Some((perfect, sd)) = of.perfect[first].as_ref().zip(figure.owned.sd) {
        let unit = column.figure.unit().symbol();
        let [without, with] = [perfect.moments[number].sd(), sd].map(|sd| significant(sd, 3));
        said.push(format!(
            "Were it perfect, the standard deviation would be {without} {unit} in place of {with} {unit}."
        ));
    }
    said.extend(share_together(&figure.owned, "variance"));
    said
}
