//! A budget in one paragraph: what to mend first, what that buys, what cannot be told.

use crate::decide::budget::{CalibrationBudget, FigureBudget, Owned};
use crate::report::BudgetRun;
use crate::report::budget_words::{gain, in_percent, with_interval};
use crate::report::number::{about, confidence, counted, percent, significant};
use crate::report::words::{look, plain};

/// The verdict on the plan with the highest yield, of those that calibrate where some do.
pub(super) fn verdict(run: &BudgetRun) -> String {
    let Some((number, of)) = best(run) else { return String::new() };
    let name = plain(&run.plan.calibrations[number].name);
    let units = run.budget.units;
    let confidence = confidence(run.plan.confidence);
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
    let calibrates = |number: usize| !run.plan.calibrations[number].is_none();
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

fn on_failures(run: &BudgetRun, of: &CalibrationBudget, owned: &Owned) -> Vec<String> {
    let name = |cause: usize| run.budget.causes[cause].name.as_str();
    let mut said = Vec::new();
    match first_of(owned) {
        None => {
            let enough = of
                .units_to_share()
                .map_or(String::new(), |n| format!("; about {} units would do", about(n, 2)));
            said.push(format!(
                "Who owns the failures cannot be told: too few of the {} of both samples {}{enough}.",
                counted(2 * run.budget.units, "unit"),
                if of.yield_.as_ref().is_some_and(|of| of.value > 0.5) { "fail" } else { "pass" }
            ));
        }
        Some(first) => {
            let told = owned.shares[first].as_ref().map_or(String::new(), |share| {
                format!("{} in all and {} alone", with_interval(&share.in_all), in_percent(&share.alone))
            });
            said.push(mend(run, owned, first, "the failures", &told));
            said.extend(buys(run, of, first));
        }
    }
    let gains = |cause: usize| of.perfect[cause].as_ref().and_then(|of| of.gain.as_ref());
    let largest = (0..run.budget.causes.len())
        .filter_map(|cause| Some((cause, gains(cause)?)))
        .max_by(|a, b| a.1.low.total_cmp(&b.1.low));
    if let Some((cause, most)) = largest
        && Some(cause) != first_of(owned)
        && most.low > first_of(owned).and_then(gains).map_or(0.0, |of| of.high.max(0.0))
    {
        let fixed =
            if run.budget.causes[cause].is_drawn() { "" } else { ", which is not drawn and has no share" };
        said.push(format!("The yield rises most without {}{fixed}: by {}.", name(cause), gain(most)));
    }
    said.extend(together(owned, "failures"));
    said
}

/// The cause that owns most in all.
fn first_of(owned: &Owned) -> Option<usize> {
    let shares = owned.shares.iter().enumerate().filter_map(|(cause, share)| Some((cause, share.as_ref()?)));
    shares.max_by(|a, b| a.1.in_all.value.total_cmp(&b.1.in_all.value)).map(|(cause, _)| cause)
}

/// What to mend first, and what is not sure of that.
fn mend(run: &BudgetRun, owned: &Owned, first: usize, of: &str, told: &str) -> String {
    let name = |cause: usize| run.budget.causes[cause].name.as_str();
    let Some(lead) = owned.lead.as_ref().filter(|lead| !lead.is_told()) else {
        return format!("Mend {} first: of {of} it owns {told}.", name(first));
    };
    let (first, second) = (name(first), name(lead.second));
    let more =
        lead.units_to_tell().map_or(String::new(), |units| format!("; about {} would", about(units, 2)));
    format!(
        "Mend {first} or {second} first: of {of} {first} owns {told}; that it owns more than {second} cannot be told with {} \
         units{more}.",
        run.budget.units
    )
}

/// What the yield would be without a cause.
fn buys(run: &BudgetRun, of: &CalibrationBudget, cause: usize) -> Option<String> {
    let perfect = of.perfect[cause].as_ref()?;
    let (share, more) = perfect.yield_.as_ref().zip(perfect.gain.as_ref())?;
    let (value, _) = percent(share);
    if more.low > 0.0 || more.high < 0.0 {
        let way = if more.low > 0.0 { "a gain of" } else { "a change of" };
        return Some(format!("Were it perfect, {value} would pass, {way} {}.", gain(more)));
    }
    let enough = perfect.pairs.units_to_tell(run.plan.confidence);
    let enough = enough.map_or(String::new(), |units| format!("; about {} would", about(units, 2)));
    Some(format!(
        "Whether the yield rises without it cannot be told with {} units{enough}.",
        run.budget.units
    ))
}

fn together(owned: &Owned, of: &str) -> Option<String> {
    let together = owned.together.as_ref()?;
    let told = with_interval(together);
    Some(if together.low > 0.0 {
        format!(
            "Of the {of}, {told} is owned by several together and by none alone: gains do not simply add up."
        )
    } else {
        format!("Whether several own some of the {of} together cannot be told; it is {told}.")
    })
}

fn on_figure(run: &BudgetRun, of: &CalibrationBudget, number: usize) -> Vec<String> {
    let figure: &FigureBudget = &of.figures[number];
    let column = run.plan.columns[figure.column];
    let what = format!("the variance of {} at {}", column.figure.title(), look(run.plan, column.look));
    let Some(first) = first_of(&figure.owned) else {
        return vec![format!("{what} has no owner: there is nothing to share out.")];
    };
    let mut said = Vec::new();
    if let Some(share) = &figure.owned.shares[first] {
        let (in_all, alone) = (with_interval(&share.in_all), in_percent(&share.alone));
        let told = format!("{in_all} in all and {alone} alone");
        said.push(mend(run, &figure.owned, first, &what, &told));
    }
    if let Some((perfect, sd)) = of.perfect[first].as_ref().zip(figure.owned.sd) {
        let unit = column.figure.unit().symbol();
        let [without, with] = [perfect.moments[number].sd(), sd].map(|sd| significant(sd, 3));
        said.push(format!(
            "Were it perfect, the standard deviation would be {without} {unit} in place of {with} {unit}."
        ));
    }
    said.extend(together(&figure.owned, "variance"));
    said
}
