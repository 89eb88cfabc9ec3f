//! A budget as a page: yield gains without each cause, and shares of each cause in the failures and in the spread of each figure.

use crate::decide::budget::{CalibrationBudget, FigureBudget, VarianceShares};
use crate::engine::End;
use crate::report::BudgetRun;
use crate::report::budget_text::{at_once, heading, ranked};
use crate::report::budget_verdict::verdict;
use crate::report::budget_words::{gain_cells, interval_cell, points, share_cell, spread, together};
use crate::report::grid::{numbers, words};
use crate::report::number::{self, ABSENT, counted, percent};
use crate::report::page::about::{About, Origin};
use crate::report::page::chart::{Bar, Ranked};
use crate::report::page::{Axis, Page, Part, Section, Table};
use crate::report::words::{plain, quoted};

/// Most causes that have a bar.
const MOST_CAUSES: usize = 14;

/// Most figures of one plan that have a chart.
const MOST_FIGURES: usize = 8;

/// A budget as a page.
pub(crate) fn budget_page(run: &BudgetRun, origin: &Origin) -> Page {
    let about = About {
        model: run.model,
        lead: lead(run),
        verdict: verdict(run),
        units: format!("{}, and as many of a second sample", run.budget.units),
        confidence: run.model.confidence,
        seconds: run.seconds,
        warnings: run.warnings,
    };
    let sections = run.budget.calibrations.iter().map(|of| {
        let title = match &of.yield_ {
            None => plain(&of.name),
            Some(share) => format!("{}: {} of units pass", plain(&of.name), percent(share).0),
        };
        Section::of(&title, parts(run, of))
    });
    let sections: Vec<Option<Section>> = sections.collect();
    about.page(sections, origin)
}

fn lead(run: &BudgetRun) -> String {
    let built = format!(
        "{} of failures and spread weighed on {} from seed {}.",
        counted(run.budget.causes.len() as u64, "cause"),
        counted(run.budget.units, "unit"),
        run.model.seed
    );
    if run.budget.end == End::Interrupted {
        return format!("PARTIAL: stopped early; causes that were not run have no number. {built}");
    }
    built
}

fn parts(run: &BudgetRun, of: &CalibrationBudget) -> Vec<Part> {
    let mut parts = Vec::new();
    if let Some(failures) = of.failures.as_ref().filter(|_| run.figure.is_none()) {
        parts.extend(gains(run, of));
        parts.extend(of.gains.groups.iter().map(|group| Part::Text(together(run, group))));
        parts.extend(owners(
            run,
            failures,
            &format!("Shares of the failures after {}, by cause", quoted(&of.name)),
            "of the failures",
        ));
    }
    for number in of.worst.iter().take(MOST_FIGURES) {
        let figure: &FigureBudget = &of.figures[*number];
        let column = run.model.columns[figure.column];
        let title = format!(
            "Shares of the variance of {} after {}, by cause",
            heading(run, figure),
            quoted(&of.name)
        );
        parts.extend(owners(run, &figure.owned, &title, "of the variance"));
        parts.push(Part::Text(format!(
            "{}: {}.",
            heading(run, figure),
            spread(figure, column.figure.unit().symbol())
        )));
    }
    parts
}

/// Shares of each cause, the largest first.
fn owners(run: &BudgetRun, owned: &VarianceShares, title: &str, what: &str) -> Option<Part> {
    let confidence = number::confidence(run.model.confidence);
    let mut table = Table::new(
        title,
        vec![
            words("cause"),
            numbers("alone, %"),
            numbers("in all, %"),
            numbers(format!("{confidence} interval, %")),
        ],
    );
    let mut bars = Vec::new();
    for cause in ranked(owned, |_| 0.0) {
        let Some(share) = &owned.shares[cause] else { continue };
        let name = plain(&run.budget.causes[cause].name);
        let [alone, in_all, interval] =
            [share_cell(&share.alone), share_cell(&share.in_all), interval_cell(&share.in_all)];
        table.row([name.clone(), alone.clone(), in_all.clone(), interval.clone()]);
        let [to, low, high] = [share.in_all.value, share.in_all.low, share.in_all.high].map(|of| 100.0 * of);
        bars.push(Bar {
            tip: format!("{name}: {in_all} % in all ({interval} %), {alone} % alone"),
            name,
            from: 0.0,
            to,
            interval: Some([low, high]),
            inner: Some(100.0 * share.alone.value),
            text: format!("{in_all} %"),
        });
    }
    bars.truncate(MOST_CAUSES);
    let first = bars.first()?;
    let alt = format!(
        "The longest bar: {}, {} in all. A diamond marks the share of each alone.",
        first.name, first.text
    );
    let plot = Ranked { axis: Axis::percent(format!("{what}, in all (diamond: alone)")), bars, base: None };
    Some(Part::chart(title, alt, plot.into(), table))
}

/// The yield gain without each cause, the largest first.
fn gains(run: &BudgetRun, of: &CalibrationBudget) -> Option<Part> {
    let confidence = number::confidence(run.model.confidence);
    let gain = |cause: usize| of.perfect[cause].as_ref()?.gain.as_ref();
    let order = of.gains.order.iter().filter_map(|cause| Some((*cause, gain(*cause)?)));
    let title = format!("Gain of the yield after {} without each cause", quoted(&of.name));
    let mut table = Table::new(
        &*title,
        vec![
            words("cause"),
            numbers("yield without"),
            numbers("points gained"),
            numbers(format!("{confidence} interval")),
        ],
    );
    let mut bars = Vec::new();
    for (cause, gain) in order {
        let name = plain(&run.budget.causes[cause].name);
        let without = of.perfect[cause].as_ref().and_then(|of| of.yield_.as_ref());
        let without = without.map_or(ABSENT.to_owned(), |share| percent(share).0);
        let (value, interval) = (number::points(gain).0, points(gain));
        table.row([name.clone(), without.clone(), value.clone(), interval.clone()]);
        let [to, low, high] = [gain.value, gain.low, gain.high].map(|of| 100.0 * of);
        let tip = format!("{name}: {without} without it, {interval} points");
        bars.push(Bar { name, from: 0.0, to, interval: Some([low, high]), inner: None, text: value, tip });
    }
    bars.truncate(MOST_CAUSES);
    if let Some((name, all)) = at_once(of) {
        let [value, interval] = gain_cells(&all.gain);
        table.row([name, percent(&all.yield_).0, value, interval]);
    }
    let first = bars.first()?;
    let alt = format!("The longest bar: {}, {} points.", first.name, first.text);
    let ends: Vec<f64> = bars.iter().flat_map(|bar| bar.interval.into_iter().flatten()).collect();
    let axis = Axis::from_zero("yield gained", "points", ends);
    Some(Part::chart(title, alt, Ranked { axis, bars, base: None }.into(), table))
}
