//! A sweep in tables and one paragraph: the yield at every point, what each step buys, where more stops paying.

use crate::decide::{Axis, Knee, Ran, Step, Sweep, WORTH, rises};
use crate::engine::CalibrationSummary;
use crate::engine::End;
use crate::figure::Figure;
use crate::plan::Plan;
use crate::report::SweepRun;
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::number::{
    self, ABSENT, MOST_UNITS, about, counted, duration, estimate, percent, points, rounded, significant,
};
use crate::report::spreads_text::{figures, percentile, worst};
use crate::report::words::{figure as figure_name, key, look, plain};
use crate::study::Bound;

/// Most columns of a table of two parameters; beyond them its points stand in a list.
const MOST_COLUMNS: usize = 8;

/// A sweep for people, at most 80 columns wide.
pub fn sweep_text(run: &SweepRun) -> String {
    let mut parts = vec![head(run)];
    for calibration in 0..run.plans[0].calibrations.len() {
        parts.push(of_plan(run, calibration));
    }
    parts.push(paragraph(&verdict(run), 0, 0));
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

fn head(run: &SweepRun) -> String {
    let sweep = run.sweep;
    let missing: Vec<String> =
        (0..sweep.points.len()).filter(|p| !sweep.is_whole(*p)).map(|p| named(sweep, p)).collect();
    let mut text = String::new();
    if sweep.end == End::Interrupted {
        let cut = format!("PARTIAL: stopped early. Missing or cut short: {}.", missing.join("; "));
        text.push_str(&paragraph(&cut, 0, 0));
    }
    text.push_str(&paragraph(&plain(&run.plans[0].title), 0, 0));
    let axes: Vec<String> = sweep
        .axes
        .iter()
        .map(|axis| format!("{} ({})", axis.name, counted(axis.values.len() as u64, "value")))
        .collect();
    let swept = format!(
        "Swept {}: {} in {}, {} at each, the same at every point, from seed {}.",
        axes.join(" and "),
        counted(sweep.points.len() as u64, "point"),
        duration(run.seconds),
        counted(run.trials(), "unit"),
        run.plans[0].seed
    );
    text + &paragraph(&swept, 0, 0)
}

/// "shifter.bits 5, jumper.length.sd 0.2 mm"
fn named(sweep: &Sweep, point: usize) -> String {
    let values = sweep.axes.iter().zip(sweep.values(point));
    values.map(|(axis, value)| format!("{} {value}", axis.name)).collect::<Vec<_>>().join(", ")
}

fn summary(ran: &Ran, calibration: usize) -> &CalibrationSummary {
    &ran.summary.calibrations[calibration]
}

fn of_plan(run: &SweepRun, calibration: usize) -> String {
    let sweep = run.sweep;
    let name = plain(&run.plans[0].calibrations[calibration].name);
    let yields = match () {
        _ if !run.has_limits() => String::new(),
        _ if is_matrix(sweep) => matrix(run, calibration),
        _ => list(run, calibration),
    };
    format!("{name}\n\n{yields}{}", spreads(run, calibration))
}

fn is_matrix(sweep: &Sweep) -> bool {
    sweep.axes.len() == 2 && sweep.axes[1].values.len() <= MOST_COLUMNS
}

/// The last key of each parameter, where that tells them apart.
fn short_names(sweep: &Sweep) -> Vec<String> {
    let last = |name: &str| key(name.rsplit('.').next().unwrap_or(name));
    let short: Vec<String> = sweep.axes.iter().map(|axis| last(&axis.name)).collect();
    let is_clear = short.len() < 2 || short[0] != short[1];
    if is_clear { short } else { sweep.axes.iter().map(|axis| axis.name.clone()).collect() }
}

/// The first axis down, the second across.
fn across(sweep: &Sweep, mut cell: impl FnMut(usize, &Ran) -> Option<String>) -> String {
    let [down, across] = [&sweep.axes[0], &sweep.axes[1]];
    let mut header = vec![words(short_names(sweep).join(" \\ "))];
    header.extend(across.values.iter().map(numbers));
    let mut grid = Grid::new(&header);
    for (place, value) in down.values.iter().enumerate() {
        let mut row = vec![value.clone()];
        for column in 0..across.values.len() {
            let point = place * across.values.len() + column;
            let told = sweep.points[point].as_ref().and_then(|ran| cell(point, ran));
            row.push(told.unwrap_or(ABSENT.to_owned()));
        }
        grid.row(row);
    }
    grid.text()
}

fn matrix(run: &SweepRun, calibration: usize) -> String {
    let mut widest = 0.0f64;
    let table = across(run.sweep, |_, ran| {
        let of = summary(ran, calibration).yield_.as_ref()?;
        widest = widest.max(of.high - of.low);
        Some(percent(of).0)
    });
    let widest = significant(50.0 * widest, 2);
    format!("  Yield, to {widest} points or better at {} confidence\n\n{table}", confidence(run))
}

fn confidence(run: &SweepRun) -> String {
    number::confidence(run.sweep.confidence)
}

/// A row a point, with what the step from the row above buys.
fn list(run: &SweepRun, calibration: usize) -> String {
    let sweep = run.sweep;
    let mut header: Vec<_> = short_names(sweep).into_iter().map(words).collect();
    let takes_time =
        sweep.points.iter().flatten().any(|ran| summary(ran, calibration).bench_seconds.mean > 0.0);
    header.extend([
        numbers("yield"),
        numbers(format!("{} interval", confidence(run))),
        numbers("gain on the row above"),
    ]);
    if takes_time {
        header.push(numbers("bench time"));
    }
    let mut grid = Grid::new(&header);
    let steps = sweep.steps(calibration);
    for point in 0..sweep.points.len() {
        let Some(ran) = &sweep.points[point] else { continue };
        let of = summary(ran, calibration);
        let Some(share) = &of.yield_ else { continue };
        let (value, interval) = percent(share);
        let mut row: Vec<String> = sweep.values(point).into_iter().map(str::to_owned).collect();
        let step = steps.iter().find(|step| step.to == point && step.axis + 1 == sweep.axes.len());
        row.extend([value, interval, step.map_or(ABSENT.to_owned(), gain)]);
        if takes_time {
            row.push(duration(of.bench_seconds.mean));
        }
        grid.row(row);
    }
    grid.text()
}

/// "14.2 (13.7 to 14.8)"
fn gain(step: &Step) -> String {
    let (value, interval) = points(&step.gain);
    format!("{value} ({interval})")
}

/// The limited figures, or all where nothing is limited: a row a point, or of two parameters a table each.
fn spreads(run: &SweepRun, calibration: usize) -> String {
    let sweep = run.sweep;
    let plan = &run.plans[0];
    let is_limited =
        |figure: &Figure| plan.limits.iter().any(|limit| plan.columns[limit.column].figure == *figure);
    let shown = figures(plan).into_iter().filter(|figure| is_limited(figure) || !run.has_limits());
    let shown: Vec<(Figure, Option<usize>)> =
        shown.map(|figure| (figure, common_column(run, figure))).collect();
    let told = "Mean, and in brackets what 95 % of units keep to:";
    if is_matrix(sweep) {
        if plan.calibrations.len() > 1 {
            return paragraph(
                "How the figures spread: --calibration shows one plan, --json and --csv all.",
                2,
                2,
            );
        }
        let tables = shown.iter().map(|(figure, column)| {
            let title = paragraph(&format!("{told} {}", place(plan, *figure, *column)), 2, 4);
            let cell =
                |point: usize, ran: &Ran| Some(spread(&run.plans[point], ran, calibration, *figure, *column));
            format!("\n{title}\n{}", across(sweep, cell))
        });
        return tables.collect();
    }
    let places: Vec<String> = shown.iter().map(|(figure, column)| place(plan, *figure, *column)).collect();
    let mut header: Vec<_> = short_names(sweep).into_iter().map(words).collect();
    header.extend(shown.iter().map(|(figure, _)| numbers(figure_name(*figure))));
    let mut grid = Grid::new(&header);
    for (point, ran) in sweep.points.iter().enumerate() {
        let Some(ran) = ran else { continue };
        let cells = shown
            .iter()
            .map(|(figure, column)| spread(&run.plans[point], ran, calibration, *figure, *column));
        grid.row(sweep.values(point).into_iter().map(str::to_owned).chain(cells));
    }
    format!("\n{}\n{}", paragraph(&format!("{told} {}", places.join("; ")), 2, 4), grid.text())
}

/// The worst column of a figure over all points, where the points have the same columns.
pub(super) fn common_column(run: &SweepRun, figure: Figure) -> Option<usize> {
    let first = &run.plans[0];
    let is_alike = |plan: &Plan| {
        let looks = plan.looks.iter().zip(&first.looks);
        plan.columns == first.columns
            && plan.looks.len() == first.looks.len()
            && looks.into_iter().all(|(mine, of)| mine.beam == of.beam && mine.frequency == of.frequency)
    };
    let summaries: Vec<_> = run.sweep.points.iter().flatten().map(|ran| &ran.summary).collect();
    run.plans.iter().all(is_alike).then(|| worst(first, &summaries, figure)).flatten()
}

/// "peak side lobe (dB), beam far berth, 26 GHz"
pub(super) fn place(plan: &Plan, figure: Figure, column: Option<usize>) -> String {
    let at = column.map(|column| look(plan, plan.columns[column].look));
    format!(
        "{}, {}",
        figure_name(figure),
        at.unwrap_or_else(|| "at each point's worst beam and frequency".to_owned())
    )
}

/// "0.0363 (0.0564)"
fn spread(plan: &Plan, ran: &Ran, calibration: usize, figure: Figure, column: Option<usize>) -> String {
    let Some(column) = column.or_else(|| worst(plan, &[&ran.summary], figure)) else {
        return ABSENT.to_owned();
    };
    let of = &summary(ran, calibration).figures[column];
    if of.moments.count == 0 {
        return ABSENT.to_owned();
    }
    let limit = plan.limits.iter().find(|limit| limit.column == column);
    let side = if limit.is_some_and(|limit| matches!(limit.bound, Bound::AtLeast(_))) { 5 } else { 95 };
    let kept = percentile(of, side).map_or(ABSENT.to_owned(), estimate);
    format!("{} ({kept})", rounded(of.moments.mean, of.moments.standard_error()))
}

/// What a reviewer is told.
pub(super) fn verdict(run: &SweepRun) -> String {
    let sweep = run.sweep;
    if !run.has_limits() {
        return "Verdict: none on the yield, as the study has no limits; the tables tell how the figures move.".to_owned();
    }
    let units = counted(run.trials(), "unit");
    let mut text = format!("Verdict, at {} confidence on the same {units} at every point:", confidence(run));
    let plans = &run.plans[0].calibrations;
    let all_leave = plans.iter().all(|plan| plan.is_none());
    for (calibration, plan) in plans.iter().enumerate().filter(|(_, plan)| all_leave || !plan.is_none()) {
        text.push_str(&format!(" \"{}\": {}", plain(&plan.name), of_lines(sweep, calibration)));
    }
    text + " Predicted from the study's tolerances, not measured."
}

fn of_lines(sweep: &Sweep, calibration: usize) -> String {
    let axis = &sweep.axes[0];
    let lines: Vec<(usize, Vec<usize>)> =
        sweep.lines(0).into_iter().map(|first| (first, sweep.line(0, first))).collect();
    if let [(_, line)] = lines.as_slice() {
        return format!("{}.", of_line(sweep, calibration, line));
    }
    let answers = lines.iter().map(|(first, line)| {
        let other = sweep.values(*first)[1];
        let value = |place: usize| axis.values[place].clone();
        let knee = match sweep.knee(calibration, line) {
            Knee::At(place) => value(place),
            Knee::Unsure(place, _) => format!("probably {}, which so few units do not settle", value(place)),
            Knee::BeyondRange => "none of those swept is, the yield still moves at the end".to_owned(),
            Knee::Nowhere => "any of those swept".to_owned(),
            Knee::Unknown => "unknown, points are missing".to_owned(),
        };
        (other, knee)
    });
    let told = neighbours(&sweep.axes[1].name, answers);
    let rises = lines.iter().filter(|(_, line)| line_rises(sweep, calibration, line)).count();
    let (which, what) = if 2 * rises >= lines.len() { ("first", "good") } else { ("last", "still good") };
    format!(
        "the {which} value of {} that is {what} enough, in that no other yields {} more: {}.",
        axis.name,
        worth(),
        told.join("; ")
    )
}

/// An answer for each value of another parameter; neighbours of one answer are told together.
fn neighbours<'a>(name: &str, answers: impl Iterator<Item = (&'a str, String)>) -> Vec<String> {
    let mut alike: Vec<(&str, &str, String)> = Vec::new();
    for (value, answer) in answers {
        match alike.last_mut() {
            Some((_, to, same)) if *same == answer => *to = value,
            _ => alike.push((value, value, answer)),
        }
    }
    let told = alike.iter().map(|(from, to, answer)| match from == to {
        true => format!("at {name} {from}, {answer}"),
        false => format!("at {name} {from} to {to}, {answer}"),
    });
    told.collect()
}

fn line_rises(sweep: &Sweep, calibration: usize, line: &[usize]) -> bool {
    sweep.yields(calibration, line).is_none_or(|yields| rises(&yields))
}

fn worth() -> String {
    counted((100.0 * WORTH) as u64, "point")
}

fn of_line(sweep: &Sweep, calibration: usize, line: &[usize]) -> String {
    let axis = &sweep.axes[0];
    if line.len() < 2 {
        return format!("a single value of {}, so nothing is said of more or less of it", axis.name);
    }
    let steps = sweep.steps(calibration);
    let step =
        |place: usize| steps.iter().find(|step| step.from == line[place]).map(|step| told(axis, place, step));
    let steps_about = |place: usize| {
        let before = place.checked_sub(1).and_then(step);
        let about: Vec<String> = [before, step(place)].into_iter().flatten().collect();
        about.join(", ")
    };
    let rises = line_rises(sweep, calibration, line);
    let name = &axis.name;
    match sweep.knee(calibration, line) {
        Knee::At(place) => {
            let value = &axis.values[place];
            let enough =
                if rises { format!("{name} {value} is enough") } else { format!("{name} may go to {value}") };
            format!("{enough}: {}; no value swept yields {} more", steps_about(place), worth())
        }
        Knee::Unsure(place, units) => {
            let about = match units {
                Some(units) if units < MOST_UNITS => format!("about {} would", about(units, 1)),
                _ => "no affordable number would".to_owned(),
            };
            format!(
                "{name} {} is probably enough ({}), but so many units cannot tell whether another value yields {} more; {about}",
                axis.values[place],
                steps_about(place),
                worth()
            )
        }
        Knee::BeyondRange if rises => format!(
            "the yield still rises at the end of the range ({}), so sweep {name} farther",
            step(line.len() - 2).unwrap_or_default()
        ),
        Knee::BeyondRange => format!(
            "every value of {name} beyond the first costs yield ({}), so sweep it closer",
            step(0).unwrap_or_default()
        ),
        Knee::Nowhere => format!("{name} makes no difference of {} over the values swept", worth()),
        Knee::Unknown => "points are missing, so nothing is said of the knee".to_owned(),
    }
}

/// "from 5 to 6 buys 14.2 points (13.7 to 14.8)"
fn told(axis: &Axis, place: usize, step: &Step) -> String {
    let (from, to) = (&axis.values[place], &axis.values[place + 1]);
    let gain = &step.gain;
    if gain.value < 0.0 {
        let (value, interval) = points(&gain.negated());
        return format!("from {from} to {to} costs {value} points of yield ({interval})");
    }
    let (value, interval) = points(gain);
    format!("from {from} to {to} buys {value} points of yield ({interval})")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::sweep_tests::line;

    fn told(passing: &[usize], odd: usize) -> String {
        of_lines(&line(passing, odd), 0)
    }

    #[test]
    fn the_knee_is_told_with_the_steps_about_it() {
        let enough = told(&[300, 700, 900, 903, 902], 0);
        assert!(
            enough.starts_with("axis 0 2 is enough: from 1 to 2 buys 20 points of yield (17 to 23)"),
            "{enough}"
        );
        assert!(enough.contains("from 2 to 3 buys 0.3 points of yield (-0.1 to 0.9)"), "{enough}");
        assert!(enough.ends_with("no value swept yields 1 point more."), "{enough}");
        let may = told(&[902, 903, 900, 700], 0);
        assert!(may.starts_with("axis 0 may go to 2: "), "{may}");
        assert!(may.contains("from 2 to 3 costs 20 points of yield (1"), "{may}");
    }

    #[test]
    fn neighbours_of_one_answer_are_told_together() {
        let answers = [("1 mm", "5"), ("2 mm", "6"), ("3 mm", "6"), ("4 mm", "5")];
        let told =
            neighbours("length", answers.into_iter().map(|(value, answer)| (value, answer.to_owned())));
        assert_eq!(told, ["at length 1 mm, 5", "at length 2 mm to 3 mm, 6", "at length 4 mm, 5"]);
    }

    #[test]
    fn what_is_not_known_is_not_told() {
        let unsure = told(&[300, 700, 900, 903, 902], 40);
        assert!(unsure.contains("axis 0 2 is probably enough") && unsure.contains("cannot tell"), "{unsure}");
        assert!(unsure.contains("about 7000 would"), "{unsure}");
        let farther = told(&[300, 500, 700], 0);
        assert!(farther.contains("still rises at the end of the range (from 1 to 2 buys 20"), "{farther}");
        let closer = told(&[900, 700, 500], 0);
        assert!(closer.contains("beyond the first costs yield (from 0 to 1 costs 20"), "{closer}");
        assert!(told(&[900, 901, 902], 0).contains("makes no difference of 1 point"));
        assert!(told(&[900], 0).contains("a single value of axis 0"));
    }
}
