//! The verdict on a sweep, in sentences: where more of a parameter stops paying.

use crate::decide::{Knee, Step, Sweep, WORTH, rises};
use crate::report::change::{Change, between_points};
use crate::report::number::{MOST_UNITS, about, counted, points, with_interval};
use crate::report::sweep_text::{confidence, named};
use crate::report::words::quoted;
use crate::report::{SweepRun, cautions};
use crate::stats::Estimate;

/// A paragraph for a review.
pub(super) fn verdict(run: &SweepRun) -> String {
    let sweep = run.sweep;
    if !run.has_limits() {
        return "Verdict: none on the yield, as the study has no limits; the tables show how the figures move.".to_owned();
    }
    let units = counted(run.trials(), "unit");
    let mut text = format!("Verdict, at {} confidence on the same {units} at every point:", confidence(run));
    let plans = &run.models[0].calibrations;
    let name = |calibration: usize| quoted(&plans[calibration].name);
    let all_leave = plans.iter().all(|plan| plan.is_none());
    let rated = (0..plans.len()).filter(|of| all_leave || !plans[*of].is_none());
    let mut rated: Vec<usize> = rated.collect();
    if let Some((first, said)) = best(sweep, &rated, name) {
        text.push_str(&said);
        // The answer of the best plan leads, the others follow as the study has them.
        rated.retain(|of| *of != first);
        rated.insert(0, first);
    }
    for calibration in rated {
        text.push_str(&format!(" {}: {}", name(calibration), of_lines(sweep, calibration)));
    }
    text.push_str(&cautions::sentence(&run.cautions()));
    if !sweep.refused.is_empty() {
        let all = counted(sweep.points.len() as u64, "point");
        text.push_str(&format!(" The study refuses {} of {all}, which are left out.", sweep.refused.len()));
    }
    text + " Predicted from the study's tolerances, not measured."
}

/// Of several plans the one with the highest yield at any point, and a sentence about it; `None` of one plan.
///
/// Each of the others is compared with it at its own best point, on the same units.
fn best(sweep: &Sweep, rated: &[usize], name: impl Fn(usize) -> String) -> Option<(usize, String)> {
    if rated.len() < 2 {
        return None;
    }
    let share = |point: usize, calibration: usize| {
        let passes = sweep.passes(point, calibration)?;
        Some(passes.beside(passes).first_share(sweep.confidence))
    };
    let top = |calibration: usize| {
        let points = (0..sweep.points.len()).filter(|point| sweep.is_whole(*point));
        let shares = points.filter_map(|point| Some((point, share(point, calibration)?)));
        // Of equals the first.
        shares.reduce(|best, of| if of.1.value > best.1.value { of } else { best })
    };
    let tops: Vec<(usize, (usize, Estimate))> =
        rated.iter().filter_map(|of| Some((*of, top(*of)?))).collect();
    let (first, (at, of)) =
        tops.iter().reduce(|best, of| if of.1.1.value > best.1.1.value { of } else { best })?;
    let is_alike = |(other, (point, _)): &&(usize, (usize, Estimate))| {
        let pairs = sweep.passes(*at, *first).zip(sweep.passes(*point, *other));
        let difference = pairs.map(|(mine, theirs)| mine.beside(theirs).difference(sweep.confidence));
        !difference.is_some_and(|of| matches!(Change::of(&of), Change::Up(_)))
    };
    let others = || tops.iter().filter(|(other, _)| other != first);
    let alike: Vec<String> = others().filter(is_alike).map(|(other, _)| name(*other)).collect();
    let found = format!("{} at {}", with_interval(of), named(sweep, *at));
    let (of, plan) = (rated.len(), name(*first));
    let said = if alike.is_empty() {
        format!(" of {of} plans {plan} has the highest yield, {found}.")
    } else {
        format!(
            " of {of} plans the highest yield found is that of {plan}, {found}; cannot tell it from {}.",
            alike.join(", ")
        )
    };
    Some((*first, said))
}

fn of_lines(sweep: &Sweep, calibration: usize) -> String {
    let name = &sweep.axes[0].name;
    let lines: Vec<(usize, Vec<usize>)> =
        sweep.lines(0).into_iter().map(|first| (first, sweep.line(0, first))).collect();
    let is_one = sweep.axes.iter().skip(1).all(|other| other.values.len() == 1);
    if let ([(_, line)], true) = (lines.as_slice(), is_one) {
        return format!("{}.", of_line(sweep, calibration, line));
    }
    let answers = lines.iter().map(|(first, line)| {
        let other = sweep.values(*first)[1];
        let value = |place: usize| sweep.value(0, line[place]);
        let knee = match sweep.knee(calibration, line) {
            Knee::At(place) => value(place).to_owned(),
            Knee::Unsure(place, _) => format!("probably {}, but so few units do not prove it", value(place)),
            Knee::BeyondRange => "none of those swept is, the yield still moves at the end".to_owned(),
            Knee::Nowhere => "any of those swept".to_owned(),
            Knee::Unknown => "unknown, points are missing".to_owned(),
        };
        (other, knee)
    });
    let answers_by_value = neighbours(&sweep.axes[1].name, answers);
    let rises = lines.iter().filter(|(_, line)| line_rises(sweep, calibration, line)).count();
    let (which, what) = if 2 * rises >= lines.len() { ("first", "good") } else { ("last", "still good") };
    format!(
        "the {which} value of {} that is {what} enough, in that no other yields {} more: {}.",
        name,
        worth(),
        answers_by_value.join("; ")
    )
}

/// An answer for each value of another parameter; neighbours with the same answer are joined.
fn neighbours<'a>(name: &str, answers: impl Iterator<Item = (&'a str, String)>) -> Vec<String> {
    let mut alike: Vec<(&str, &str, String)> = Vec::new();
    for (value, answer) in answers {
        match alike.last_mut() {
            Some((_, to, same)) if *same == answer => *to = value,
            _ => alike.push((value, value, answer)),
        }
    }
    let lines = alike.iter().map(|(from, to, answer)| match from == to {
        true => format!("at {name} {from}, {answer}"),
        false => format!("at {name} {from} to {to}, {answer}"),
    });
    lines.collect()
}

fn line_rises(sweep: &Sweep, calibration: usize, line: &[usize]) -> bool {
    sweep.yields(calibration, line).is_none_or(|yields| rises(&yields))
}

fn worth() -> String {
    counted((100.0 * WORTH) as u64, "point")
}

fn of_line(sweep: &Sweep, calibration: usize, line: &[usize]) -> String {
    let name = &sweep.axes[0].name;
    if line.len() < 2 {
        return format!("a single value of {name}, so more or less of it was not compared");
    }
    let steps = sweep.steps(calibration);
    let step = |place: usize| {
        steps.iter().find(|step| step.from == line[place]).map(|step| step_sentence(sweep, step))
    };
    let steps_about = |place: usize| {
        let before = place.checked_sub(1).and_then(step);
        let about: Vec<String> = [before, step(place)].into_iter().flatten().collect();
        about.join(", ")
    };
    let rises = line_rises(sweep, calibration, line);
    match sweep.knee(calibration, line) {
        Knee::At(place) => {
            let value = sweep.value(0, line[place]);
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
                sweep.value(0, line[place]),
                steps_about(place),
                worth()
            )
        }
        Knee::BeyondRange if rises => format!(
            "the yield still rises at the end of the range ({}), so sweep {name} farther",
            step(line.len() - 2).unwrap_or_default()
        ),
        Knee::BeyondRange => format!(
            "the yield falls right after the first value of {name} ({}), so sweep it closer",
            step(0).unwrap_or_default()
        ),
        Knee::Nowhere => format!("{name} makes no difference of {} over the values swept", worth()),
        Knee::Unknown => "points are missing, so there is no answer".to_owned(),
    }
}

/// "from 5 to 6 buys 14.2 points of yield (13.7 to 14.8)"
fn step_sentence(sweep: &Sweep, step: &Step) -> String {
    let [from, to] = [step.from, step.to].map(|point| sweep.value(step.axis, point));
    let sized = |by: &Estimate| {
        let (value, interval) = points(by);
        format!("{value} points of yield ({interval})")
    };
    let change = Change::say(
        &step.gain,
        |by| format!("buys {}", sized(by)),
        |by| format!("costs {}", sized(by)),
        || format!("cannot tell ({} of yield)", between_points(&step.gain)),
    );
    format!("from {from} to {to} {change}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::sweep_tests::line;

    fn worded(passing: &[usize], odd: usize) -> String {
        of_lines(&line(passing, odd), 0)
    }

    #[test]
    fn the_knee_is_stated_with_the_steps_about_it() {
        let enough = worded(&[300, 700, 900, 903, 902], 0);
        assert!(
            enough.starts_with("axis 0 2 is enough: from 1 to 2 buys 20 points of yield (17 to 23)"),
            "{enough}"
        );
        // Three units of a thousand are won and none is lost: the interval holds 0.
        assert!(enough.contains("from 2 to 3 cannot tell (-0.1 to 0.9 points of yield)"), "{enough}");
        assert!(enough.ends_with("no value swept yields 1 point more."), "{enough}");
        let may = worded(&[902, 903, 900, 700], 0);
        assert!(may.starts_with("axis 0 may go to 2: "), "{may}");
        assert!(may.contains("from 2 to 3 costs 20 points of yield (1"), "{may}");
    }

    #[test]
    fn neighbours_with_the_same_answer_are_joined() {
        let answers = [("1 mm", "5"), ("2 mm", "6"), ("3 mm", "6"), ("4 mm", "5")];
        let worded =
            neighbours("length", answers.into_iter().map(|(value, answer)| (value, answer.to_owned())));
        assert_eq!(worded, ["at length 1 mm, 5", "at length 2 mm to 3 mm, 6", "at length 4 mm, 5"]);
    }

    #[test]
    fn an_unproven_answer_is_not_claimed() {
        let unsure = worded(&[300, 700, 900, 903, 902], 40);
        assert!(unsure.contains("axis 0 2 is probably enough") && unsure.contains("cannot tell"), "{unsure}");
        assert!(unsure.contains("about 7000 would"), "{unsure}");
        let farther = worded(&[300, 500, 700], 0);
        assert!(farther.contains("still rises at the end of the range (from 1 to 2 buys 20"), "{farther}");
        let closer = worded(&[900, 700, 500], 0);
        assert!(closer.contains("after the first value of axis 0 (from 0 to 1 costs 20"), "{closer}");
        assert!(worded(&[900, 901, 902], 0).contains("makes no difference of 1 point"));
        assert!(worded(&[900], 0).contains("a single value of axis 0"));
    }
}
