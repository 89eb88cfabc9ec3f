//! A budget in words and tables: for each calibration plan the yield gain without each cause and its share of the failures, then
//! the figures, and at the end what to mend first.

use crate::decide::budget::{Budget, CalibrationBudget, FigureBudget, Gain, VarianceShares};
use crate::engine::End;
use crate::figure::Figure;
use crate::model::Model;
use crate::model::vary::TEMPERATURE;
use crate::report::budget_verdict::verdict;
use crate::report::budget_words::{
    gain_cells, interval_cell, share_cell, shown, spread, together, with_interval,
};
use crate::report::grid::{Grid, Side, numbers, paragraph, words};
use crate::report::lots_text;
use crate::report::number::{self, ABSENT, counted, duration, percent, significant};
use crate::report::words;

/// A budget to report.
#[derive(Clone, Debug)]
pub(crate) struct BudgetRun<'a> {
    /// The model.
    pub model: &'a Model,
    /// Its result.
    pub budget: &'a Budget,
    /// The one figure requested, if any.
    pub figure: Option<Figure>,
    /// Time it took, s.
    pub seconds: f64,
    /// Warnings about the study.
    pub warnings: usize,
}

/// Causes whose total share is below this with confidence get no line.
const NEGLIGIBLE: f64 = 0.01;

/// Figures side by side in a table.
const MOST_FIGURES: usize = 4;

/// Widths of that table's columns: of a cause, and of a figure.
const NAME: (Side, usize) = (Side::Left, 26);
const NUMBER: (Side, usize) = (Side::Right, 10);

/// A budget for people, at most 80 columns wide.
pub(crate) fn budget_text(run: &BudgetRun) -> String {
    let mut parts = vec![head(run)];
    parts.extend(run.budget.calibrations.iter().map(|of| calibration(run, of)));
    parts.push(notes(run));
    parts.push(verdict(run));
    parts.join("\n")
}

fn head(run: &BudgetRun) -> String {
    let Budget { units, planned, causes, .. } = run.budget;
    let mut text = String::new();
    if run.budget.end == End::Interrupted {
        let partial = if units < planned {
            format!(
                "PARTIAL: stopped with {units} of {planned} units; causes that were not run have no number."
            )
        } else {
            "PARTIAL: stopped before every cause was run; causes that were not run have no number.".to_owned()
        };
        text.push_str(&paragraph(&partial, 0, 0));
    }
    text.push_str(&paragraph(&words::plain(&run.model.title), 0, 0));
    let drawn = causes.iter().filter(|cause| cause.is_drawn()).count();
    let built = format!(
        "{} built from seed {}, and as many of a second sample, in {}. {} of failures and spread, of which {drawn} vary from unit to unit.",
        counted(*units, "unit"),
        run.model.seed,
        duration(run.seconds),
        counted(causes.len() as u64, "cause"),
    );
    text + &paragraph(&built, 0, 0) + &lots_text::note(run.model, *units)
}

fn confidence(model: &Model) -> String {
    format!("{}\ninterval", number::confidence(model.confidence))
}

fn calibration(run: &BudgetRun, of: &CalibrationBudget) -> String {
    let name = words::plain(&of.name);
    let mut text = match &of.yield_ {
        None => paragraph(&name, 0, 2),
        Some(share) => {
            let (value, interval) = percent(share);
            paragraph(&format!("{name}: {value} of units pass ({interval})"), 0, 2)
        }
    };
    if let Some(failures) = &of.failures {
        text.push_str(&owners_of_failures(run, of, failures));
    }
    if run.figure.is_some() || of.failures.is_none() {
        for number in &of.worst {
            text.push_str(&owners_of_figure(run, of, *number));
        }
    } else {
        for worst in of.worst.chunks(MOST_FIGURES) {
            text.push_str(&figures_side_by_side(run, of, worst));
        }
    }
    text
}

/// Causes by total share, the largest first; those without a share come last, by `else_by`.
pub(super) fn ranked(owned: &VarianceShares, else_by: impl Fn(usize) -> f64) -> Vec<usize> {
    let mut causes: Vec<usize> = (0..owned.shares.len()).collect();
    let key = |cause: usize| owned.shares[cause].as_ref().map(|share| share.in_all.value);
    causes.sort_by(|a, b| {
        let shares = key(*b).unwrap_or(-1.0).total_cmp(&key(*a).unwrap_or(-1.0));
        shares.then_with(|| else_by(*b).total_cmp(&else_by(*a)))
    });
    causes
}

/// Causes by the yield gain without them, the largest first; those without a known gain come last, by total share.
pub(super) fn by_gain(of: &CalibrationBudget, owned: &VarianceShares) -> Vec<usize> {
    let known = &of.gains.order;
    let others = ranked(owned, |_| 0.0).into_iter().filter(|cause| !known.contains(cause));
    known.iter().copied().chain(others).collect()
}

fn is_negligible(owned: &VarianceShares, cause: usize) -> bool {
    owned.shares[cause].as_ref().is_some_and(|share| share.in_all.high < NEGLIGIBLE)
}

fn owners_of_failures(run: &BudgetRun, of: &CalibrationBudget, owned: &VarianceShares) -> String {
    let gain = |cause: usize| of.perfect[cause].as_ref().and_then(|perfect| perfect.gain.as_ref());
    let is_idle = |cause: usize| gain(cause).is_some_and(|of| of.high < NEGLIGIBLE && of.low > -NEGLIGIBLE);
    let mut grid = Grid::new(&[
        words("what the yield gains\nwithout"),
        numbers("gain\npoints"),
        numbers(confidence(run.model)),
        numbers("yield\nwithout"),
        numbers("in all\n%"),
        numbers("alone\n%"),
    ]);
    let (mut idle, mut rows) = (Vec::new(), 0);
    for cause in by_gain(of, owned) {
        let name = &run.budget.causes[cause].name;
        let owns_nothing = owned.shares[cause].is_none() || is_negligible(owned, cause);
        if is_idle(cause) && owns_nothing {
            idle.push(name.as_str());
            continue;
        }
        let perfect = of.perfect[cause].as_ref().and_then(|of| of.yield_.as_ref());
        let without = perfect.map_or(ABSENT.to_owned(), |share| percent(share).0);
        let [alone, in_all, _] = share_cells(owned, cause);
        let [value, interval] = gain(cause).map_or([ABSENT, ABSENT].map(str::to_owned), gain_cells);
        rows += 1;
        grid.row([shown(name), value, interval, without, in_all, alone]);
    }
    if let Some((name, gain)) = at_once(of) {
        let [value, interval] = gain_cells(&gain.gain);
        let [in_all, alone] = [ABSENT, ABSENT].map(str::to_owned);
        rows += 1;
        grid.row([shown(&name), value, interval, percent(&gain.yield_).0, in_all, alone]);
    }
    let mut text = if rows > 0 { grid.text() } else { String::new() };
    text.push_str(&partial("Without each of these the yield changes by less than a point", &idle));
    for group in &of.gains.groups {
        text.push_str(&paragraph(&together(run, group), 2, 4));
    }
    text + &sums(owned, "failures")
}

/// The gain without all causes.
pub(super) fn at_once(of: &CalibrationBudget) -> Option<(String, &Gain)> {
    Some(("all of them at once".to_owned(), of.gains.all.as_ref()?))
}

fn share_cells(owned: &VarianceShares, cause: usize) -> [String; 3] {
    match &owned.shares[cause] {
        None => [(); 3].map(|()| ABSENT.to_owned()),
        Some(share) => [share_cell(&share.alone), share_cell(&share.in_all), interval_cell(&share.in_all)],
    }
}

fn partial(what: &str, names: &[&str]) -> String {
    if names.is_empty() { String::new() } else { paragraph(&format!("{what}: {}", names.join(", ")), 2, 4) }
}

/// The shares that causes own alone and together.
fn sums(owned: &VarianceShares, of: &str) -> String {
    let Some((alone, together)) = owned.alone.as_ref().zip(owned.together.as_ref()) else {
        return String::new();
    };
    let (alone, together) = (with_interval(alone), with_interval(together));
    let said = format!("Of the {of} the causes own {alone} alone, and {together} together.");
    paragraph(&said, 2, 4)
}

pub(super) fn heading(run: &BudgetRun, of: &FigureBudget) -> String {
    let column = run.model.columns[of.column];
    format!("{}, {}", column.figure.title(), words::point(run.model, column.point))
}

fn owners_of_figure(run: &BudgetRun, of: &CalibrationBudget, number: usize) -> String {
    let figure = &of.figures[number];
    let unit = run.model.columns[figure.column].figure.unit().symbol();
    let mut text = paragraph(&format!("{}: {}", heading(run, figure), spread(figure, unit)), 2, 4);
    text.insert(0, '\n');
    let owned = &figure.owned;
    let without = |cause: usize| of.perfect[cause].as_ref().map(|perfect| perfect.moments[number]);
    let mut grid = Grid::new(&[
        words("cause of its variance"),
        numbers("alone\n%"),
        numbers("in all\n%"),
        numbers(confidence(run.model)),
        numbers("mean\nwithout"),
        numbers("sd\nwithout"),
    ]);
    let (mut negligible, mut rows) = (Vec::new(), 0);
    for cause in ranked(owned, |cause| without(cause).map_or(0.0, |of| -of.sd())) {
        let name = &run.budget.causes[cause].name;
        if is_negligible(owned, cause) {
            negligible.push(name.as_str());
            continue;
        }
        let [alone, in_all, interval] = share_cells(owned, cause);
        let [mean, sd] = match without(cause) {
            None => [(); 2].map(|()| ABSENT.to_owned()),
            Some(of) => [of.mean, of.sd()].map(|value| significant(value, 3)),
        };
        rows += 1;
        grid.row([shown(name), alone, in_all, interval, mean, sd]);
    }
    if rows > 0 {
        text.push_str(&grid.text());
    }
    text.push_str(&partial("Less than 1 % of its variance each", &negligible));
    text + &sums(owned, "variance")
}

/// The total share of each cause in some figures.
fn figures_side_by_side(run: &BudgetRun, of: &CalibrationBudget, worst: &[usize]) -> String {
    let figures: Vec<&FigureBudget> = worst.iter().map(|number| &of.figures[*number]).collect();
    let in_all = |cause: usize| figures.iter().map(move |of| of.owned.shares[cause].as_ref());
    let largest = |cause: usize| in_all(cause).flatten().map(|of| of.in_all.value).fold(-1.0, f64::max);
    let columns = std::iter::once(NAME).chain(figures.iter().map(|_| NUMBER));
    let mut grid = Grid::in_line(&columns.collect::<Vec<_>>());
    let titles = figures.iter().map(|of| run.model.columns[of.column].figure.title().to_owned());
    grid.row(std::iter::once("in all, % of the variance".to_owned()).chain(titles));
    let mut causes: Vec<usize> = (0..run.budget.causes.len()).collect();
    causes.retain(|cause| in_all(*cause).flatten().any(|of| of.in_all.high >= NEGLIGIBLE));
    if causes.is_empty() {
        return String::new();
    }
    causes.sort_by(|a, b| largest(*b).total_cmp(&largest(*a)));
    for cause in causes {
        let cells = in_all(cause).map(|of| of.map_or(ABSENT.to_owned(), |of| share_cell(&of.in_all)));
        let cells: Vec<String> = cells.collect();
        grid.row(std::iter::once(shown(&run.budget.causes[cause].name)).chain(cells));
    }
    let mut text = format!("\n{}", grid.text());
    for of in figures {
        let unit = run.model.columns[of.column].figure.unit().symbol();
        text.push_str(&paragraph(&format!("{}: {}", heading(run, of), spread(of, unit)), 2, 4));
    }
    text
}

fn notes(run: &BudgetRun) -> String {
    let mut said = String::from(
        "\"Without\": the same units, the cause at its nominal value, or perfect. \"Alone\" is what a cause owns by itself (its \
         first-order Sobol index); \"in all\" (its total index) counts its part in what several own together, so these add up to \
         more than all.",
    );
    let causes = &run.budget.causes;
    if causes.iter().any(|cause| !cause.is_drawn()) {
        said.push_str(
            " Causes that are not drawn (rounding, a display, temperature) are the same in all units given their draws: they have no \
             share, and their cost shows in the change without them.",
        );
    }
    if causes.iter().any(|cause| cause.holds.iter().any(|of| of == TEMPERATURE)) {
        said.push_str(
            " \"Without temperature\": units are calibrated and used at the temperature of their nominal values, so neither the \
             nominal value nor the spread of any coefficient acts.",
        );
    }
    if run.budget.calibrations.iter().any(|of| of.figures.len() > of.worst.len()) {
        said.push_str(" Each figure is shown at its worst beam and frequency (--json has all).");
    }
    paragraph(&said, 0, 0)
}
