//! A limit in words: the answer and its interval, the values tried, and a paragraph for a review.

use crate::decide::{Answer, Limit, LimitResult, Probe, SearchVariable, Spacing, Verdict};
use crate::io::Amount;
use crate::model::Model;
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::lots_text;
use crate::report::number::{MOST_UNITS, about, confidence, counted, duration, percent, rounded, share};
use crate::report::refused::refused_text;
use crate::report::words::plain;
use crate::study::Parameter;

/// A search for a limit to report.
#[derive(Clone, Debug)]
pub(crate) struct LimitRun<'a> {
    /// The model, with the one calibration plan searched.
    pub model: &'a Model,
    /// The parameter, or the factor on several.
    pub sought: &'a SearchVariable,
    /// Its value in the study.
    pub own: Option<f64>,
    /// The result.
    pub found: &'a LimitResult,
    /// Time it took, s.
    pub seconds: f64,
    /// Warnings about the study.
    pub warnings: usize,
}

impl LimitRun<'_> {
    /// The calibration plan.
    pub(super) fn calibration(&self) -> &str {
        self.model.calibrations.first().map_or("", |of| &of.name)
    }
}

/// A limit for people, at most 80 columns wide.
pub(crate) fn limit_text(run: &LimitRun) -> String {
    let parts =
        [head(run), ends(run), amounts(run), tried(run), contradictions(run), paragraph(&verdict(run), 0, 0)];
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

fn head(run: &LimitRun) -> String {
    let LimitResult { demand, span, probes, .. } = run.found;
    let mut text = String::new();
    if !run.found.is_finished {
        let partial = format!(
            "PARTIAL: stopped after {}, so the interval is wider than it has to be.",
            counted(probes.len() as u64, "value")
        );
        text.push_str(&paragraph(&partial, 0, 0));
    }
    text.push_str(&paragraph(&plain(&run.model.title), 0, 0));
    let of = |value| run.sought.text(value);
    let mut tried = format!(
        "{} tried from {} to {}, each on up to {} of seed {}: {} built in {}.",
        counted(probes.len() as u64, "value"),
        of(span.from),
        of(span.to),
        counted(demand.units, "unit"),
        run.model.seed,
        counted(run.found.units(), "unit"),
        duration(run.seconds),
    );
    if run.found.is_finished && matches!(run.found.answer, Answer::Limit(_)) {
        let halving = run.found.units_by_halving;
        tried.push_str(&format!(" Halving the range would have built {halving} for the same answer."));
    }
    text + &paragraph(&tried, 0, 0) + &lots_text::note(run.model, demand.units)
}

/// The limit and the ends of its interval, with their yields.
fn ends(run: &LimitRun) -> String {
    let heading = paragraph(
        &format!(
            "The {} {} for a yield of {} after \"{}\"",
            loosest_word(run),
            name(run),
            demanded(run),
            plain(run.calibration())
        ),
        0,
        0,
    );
    let Answer::Limit(limit) = run.found.answer else { return heading };
    let mut grid = Grid::new(&[words(""), numbers(value_heading(run)), numbers("yield"), numbers("units")]);
    let mut row = |label: &str, value: Option<f64>| {
        let Some(value) = value else { return };
        let (of, units) = match run.found.probe(value) {
            Some(probe) => (percent(&probe.yield_).0, probe.units.to_string()),
            None => return,
        };
        grid.row([label.to_owned(), run.sought.text(value), of, units]);
    };
    row("the loosest shown to meet it", limit.meets);
    row("the tightest shown to miss it", limit.misses);
    row("as the study has it", run.own);
    let mut text = format!("{heading}\n{}", grid.text());
    let is_whole = run.found.span.spacing == Spacing::Whole;
    if let (Some(best), Some((low, high)), false) = (best(run, &limit), interval(&limit), is_whole) {
        let line = format!(
            "Best estimate of the limit {best}, {} interval {} to {}.",
            confidence(run.found.demand.confidence),
            run.sought.text(low),
            run.sought.text(high)
        );
        text.push('\n');
        text.push_str(&paragraph(&line, 0, 0));
    }
    text
}

/// Where several parameters are scaled, the value of each at the ends.
fn amounts(run: &LimitRun) -> String {
    let (SearchVariable::Factor(_), Answer::Limit(limit)) = (run.sought, run.found.answer) else {
        return String::new();
    };
    let ends = [limit.meets, limit.misses].into_iter().flatten();
    let lines = ends.map(|factor| {
        let all: Vec<String> =
            run.sought.amounts(factor).iter().map(|(of, amount)| format!("{of} = {amount}")).collect();
        paragraph(&format!("At factor {}: {}", run.sought.text(factor), all.join(", ")), 0, 2)
    });
    lines.collect()
}

fn tried(run: &LimitRun) -> String {
    let mut grid = Grid::new(&[
        numbers(value_heading(run)),
        numbers("units"),
        numbers("yield"),
        numbers("interval used"),
        words("the demand"),
    ]);
    for Probe { value, units, yield_, verdict, .. } in run.found.in_order() {
        let (of, interval) = percent(yield_);
        let demand = match verdict {
            Verdict::Meets => "meets it",
            Verdict::Unclear => "unclear",
            Verdict::Misses => "misses it",
        };
        grid.row([run.sought.text(*value), units.to_string(), of, interval, demand.to_owned()]);
    }
    format!("Values tried\n\n{}{}", grid.text(), refused_text(refused(run)))
}

/// Values that the study refuses, and why.
pub(super) fn refused<'a>(run: &LimitRun<'a>) -> impl Iterator<Item = (String, &'a str)> {
    let sought = run.sought;
    run.found.refused.iter().map(|of| (sought.text(of.value), of.reason.as_str()))
}

/// The same in the verdict.
fn left_out(run: &LimitRun) -> String {
    /// Most values that are named.
    const NAMED: usize = 6;
    let mut values: Vec<String> = refused(run).map(|(value, _)| value).collect();
    if values.is_empty() {
        return String::new();
    }
    let further = values.len().saturating_sub(NAMED);
    values.truncate(NAMED);
    if further > 0 {
        values.push(format!("{further} more"));
    }
    format!(" The study refuses {}: counted neither as meeting it nor as missing it.", values.join(", "))
}

fn contradictions(run: &LimitRun) -> String {
    let of = |(tight, loose): &(usize, usize)| {
        let [tight, loose] = [*tight, *loose].map(|number| run.found.probes.get(number));
        let (tight, loose) = (run.sought.text(tight?.value), run.sought.text(loose?.value));
        let line = format!(
            "Warning: more of the same units pass at {loose} than at {tight}, though it is looser, and by more than chance \
             explains: the yield does not fall all the way, and the limit is that of the tightest side."
        );
        Some(paragraph(&line, 0, 2))
    };
    run.found.contradictions.iter().filter_map(of).collect()
}

/// A paragraph for a review.
pub(super) fn verdict(run: &LimitRun) -> String {
    let LimitResult { demand, probes, .. } = run.found;
    let question = format!(
        "Verdict on the {} {} at which at least {} of the units pass after \"{}\". ",
        loosest_word(run),
        name(run),
        demanded(run),
        plain(run.calibration())
    );
    let answer = match run.found.answer {
        _ if run.found.span.from == run.found.span.to => alone(run),
        Answer::Limit(limit) => limit_sentence(run, &limit) + &now(run) + &beyond(run, &limit),
        Answer::AllMeet => {
            format!("Every value tried meets it, {}. The limit is beyond the range.", at_ends(run))
        }
        Answer::NoneMeets => {
            format!("No value tried meets it, {}. This alone does not cause the failures.", at_ends(run))
        }
        Answer::Turns => format!(
            "There is no limit, as the yield turns inside the range, {}. Give a range on one side of the turn.",
            at_ends(run)
        ),
        Answer::Unclear if probes.len() < 2 => "There is no answer yet.".to_owned(),
        Answer::Unclear => format!(
            "Cannot tell with {}: {}. {}",
            counted(demand.units, "unit"),
            at_ends(run),
            more_units(run, &probes[..2])
        ),
    };
    let confidence = confidence(demand.confidence);
    let ground = format!(
        " Confidence {confidence}, on up to {} a value, the same at every value; predicted from tolerances, not measured.",
        counted(demand.units, "unit")
    );
    question + &answer + &left_out(run) + &ground
}

/// The answer where one value of the range is left.
fn alone(run: &LimitRun) -> String {
    let Some(probe) = run.found.probes.first() else { return "There is no answer yet.".to_owned() };
    let does = match probe.verdict {
        Verdict::Meets => "meets it".to_owned(),
        Verdict::Unclear => format!(
            "is not shown to meet or to miss it with {}. {}",
            counted(run.found.demand.units, "unit"),
            more_units(run, std::slice::from_ref(probe))
        ),
        Verdict::Misses => "misses it".to_owned(),
    };
    let does = does.trim_end_matches('.');
    let value = run.sought.text(probe.value);
    format!(
        "Of the values in the range, the study accepts only {value}, which {does}; there is no other to try."
    )
}

/// The answer where there is a limit.
fn limit_sentence(run: &LimitRun, limit: &Limit) -> String {
    let of = |value| run.sought.text(value);
    let units = counted(run.found.demand.units, "unit");
    match (limit.meets, limit.misses) {
        (Some(meets), Some(misses)) if run.found.span.spacing == Spacing::Whole => {
            let between = run
                .found
                .in_order()
                .into_iter()
                .filter(|probe| probe.value > meets.min(misses) && probe.value < meets.max(misses));
            let unclear: Vec<&Probe> = between.collect();
            let found = format!("{} meets it and {} misses it", of(meets), of(misses));
            if unclear.is_empty() {
                return format!("{found}: it is {}.", of(meets));
            }
            let those: Vec<String> = unclear.iter().map(|probe| of(probe.value)).collect();
            let last = unclear.last().copied().cloned();
            let more = more_units(run, last.as_slice());
            format!("{found}; cannot tell {} with {units}. {more}", those.join(", "))
        }
        (Some(meets), Some(misses)) => {
            let best = best(run, limit).map_or(String::new(), |best| format!(", best estimate {best}"));
            format!(
                "{} meets it and {} misses it; the limit is between them{best}. Cannot narrow it further with {units}; about {} \
                 would halve the interval.",
                of(meets),
                of(misses),
                4 * run.found.demand.units
            )
        }
        (Some(meets), None) => format!(
            "{} meets it, and no value of the range is shown to miss it: the range ends, at {}, before the limit's interval does.",
            of(meets),
            of(loosest(run, limit))
        ),
        (None, Some(misses)) => format!(
            "No value of the range is shown to meet it with {units}, not even {}; {} misses it.",
            of(limit.tightest),
            of(misses)
        ),
        (None, None) => format!("Cannot tell with {units}."),
    }
}

/// Where the yield is best inside the range, that the limit holds on one side only.
fn beyond(run: &LimitRun, limit: &Limit) -> String {
    let end = if limit.larger_is_looser { run.found.span.from } else { run.found.span.to };
    if limit.tightest == end {
        return String::new();
    }
    let (of, end) = (run.sought.text(limit.tightest), run.sought.text(end));
    format!(
        " That holds from {of} on; beyond, toward {end}, the yield does not keep rising: {end} is not shown to meet it."
    )
}

/// Whether the study's own value meets the demand.
fn now(run: &LimitRun) -> String {
    let Some((own, probe)) = run.own.and_then(|own| Some((own, run.found.probe(own)?))) else {
        return String::new();
    };
    let does = match probe.verdict {
        Verdict::Meets => "meets it",
        Verdict::Unclear => "is not shown to meet or to miss it",
        Verdict::Misses => "misses it",
    };
    let own = match run.sought {
        SearchVariable::Value(..) => format!("The study's {}", run.sought.text(own)),
        SearchVariable::Factor(_) => "The study as it stands".to_owned(),
    };
    format!(" {own} {does}.")
}

/// "0.8 % of 64 units pass at 1 mm and ... at 2 mm".
fn at_ends(run: &LimitRun) -> String {
    let of = |probe: &Probe| {
        let passing = share(probe.passes, probe.units);
        format!("{passing} of {} pass at {}", counted(probe.units, "unit"), run.sought.text(probe.value))
    };
    let mut first: Vec<&Probe> = run.found.probes.iter().take(3).collect();
    first.sort_by(|a, b| a.value.total_cmp(&b.value));
    first.into_iter().map(of).collect::<Vec<_>>().join(", ")
}

/// How many units would tell the clearest of some probes apart from the demand.
fn more_units(run: &LimitRun, probes: &[Probe]) -> String {
    let demand = &run.found.demand;
    let units = |probe: &Probe| probe.units_to_tell(demand);
    match probes.iter().filter_map(units).min() {
        Some(units) if units <= MOST_UNITS => {
            format!("About {} would.", about(units.max(demand.units + 1), 2))
        }
        _ => "No number of units that can be built would.".to_owned(),
    }
}

/// The interval of a limit, smaller value first; `None` where an end is open.
pub(super) fn interval(limit: &Limit) -> Option<(f64, f64)> {
    let (meets, misses) = (limit.meets?, limit.misses?);
    Some((meets.min(misses), meets.max(misses)))
}

/// The best estimate with the digits that its interval justifies.
fn best(run: &LimitRun, limit: &Limit) -> Option<String> {
    let (best, (low, high)) = (limit.best?, interval(limit)?);
    Some(format!("{} {}", rounded(best, 0.5 * (high - low)), run.sought.unit()).trim_end().to_owned())
}

fn loosest(run: &LimitRun, limit: &Limit) -> f64 {
    if limit.larger_is_looser { run.found.span.to } else { run.found.span.from }
}

/// The word for the loosest value.
fn loosest_word(run: &LimitRun) -> &'static str {
    match run.found.answer {
        Answer::Limit(Limit { larger_is_looser: true, .. }) => "largest",
        Answer::Limit(_) => "smallest",
        _ => "loosest",
    }
}

/// The parameter or factor, in words.
pub(super) fn name(run: &LimitRun) -> String {
    let quoted = |parameter: &Parameter| {
        let name = plain(&parameter.to_string());
        if name.contains(' ') { format!("\"{name}\"") } else { name }
    };
    match run.sought {
        SearchVariable::Value(parameter, _) => quoted(parameter),
        SearchVariable::Factor(all) => {
            let names: Vec<String> = all.iter().map(|(parameter, _)| quoted(parameter)).collect();
            format!("factor on {}", names.join(", "))
        }
    }
}

pub(super) fn value_heading(run: &LimitRun) -> &'static str {
    if matches!(run.sought, SearchVariable::Factor(_)) { "factor" } else { "value" }
}

pub(super) fn demanded(run: &LimitRun) -> String {
    Amount { number: 100.0 * run.found.demand.share, unit: "%".into() }.to_string()
}

#[cfg(test)]
mod tests;
