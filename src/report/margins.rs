//! Limits that decide nothing in a run: every unit meets them, or misses them, by far.

use crate::model::Limit;
use crate::report::Run;
use crate::report::number::significant;
use crate::report::words::{bound, plain};
use crate::study::Bound;

/// A limit is far when it is this many standard deviations from the nearest unit: a useful limit is
/// often met by all, but not by so much.
const FAR: f64 = 10.0;

/// The unit nearest to a limit.
struct Nearest {
    /// Its value.
    value: f64,
    /// How far inside the limit that is, in standard deviations; negative where it is outside, as all are then.
    margin: f64,
    /// The standard deviation.
    sd: f64,
}

/// A sentence for each such limit of the study, over the plans that calibrate.
pub(super) fn notes(run: &Run) -> Vec<String> {
    let plans = &run.model.calibrations;
    let all_leave = plans.iter().all(|plan| plan.is_none());
    let counted: Vec<usize> = (0..plans.len()).filter(|of| all_leave || !plans[*of].is_none()).collect();
    let numbers = run.model.limits.iter().map(|limit| limit.of).max().map_or(0..0, |last| 0..last + 1);
    let note = |number: usize| {
        let lines = || run.model.limits.iter().filter(move |limit| limit.of == number);
        let at = |limit: &Limit| -> Option<Nearest> {
            let of_plans = counted.iter().map(|plan| nearest(run, *plan, limit));
            // The closest of all plans; none where one plan has units on both sides.
            of_plans.reduce(|a, b| a.zip(b).and_then(closer)).flatten()
        };
        let all: Option<Vec<(&Limit, Nearest)>> = lines().map(|limit| Some((limit, at(limit)?))).collect();
        // If met everywhere, the closest counts; one line that all miss fails every unit.
        let kept = all.filter(|all| all.iter().all(|(_, of)| of.margin > FAR));
        let kept = kept.and_then(|all| all.into_iter().min_by(|a, b| a.1.margin.total_cmp(&b.1.margin)));
        let missed = lines().filter_map(|limit| Some((limit, at(limit)?))).filter(|(_, of)| of.margin < -FAR);
        let found = kept.or_else(|| missed.min_by(|a, b| a.1.margin.total_cmp(&b.1.margin)));
        found.map(|(limit, of)| said(run, limit, &of))
    };
    numbers.filter_map(note).collect()
}

/// The one closer to its limit, both on the same side.
fn closer((a, b): (Nearest, Nearest)) -> Option<Nearest> {
    let is_alike = (a.margin > 0.0) == (b.margin > 0.0);
    is_alike.then(|| if a.margin.abs() < b.margin.abs() { a } else { b })
}

/// The unit nearest to a limit after a plan; `None` where some meet it and some miss it, and where there is no spread to measure by.
fn nearest(run: &Run, plan: usize, limit: &Limit) -> Option<Nearest> {
    let of = &run.summary.calibrations.get(plan)?.figures.get(limit.column)?.moments;
    let sd = of.sd();
    if of.count != run.summary.trials || of.count < 2 || !sd.is_finite() || sd <= 0.0 {
        return None;
    }
    let crosses = of.min < 0.0 && 0.0 < of.max;
    let (least, most) = match limit.on_size {
        true if crosses => (0.0, of.max.max(-of.min)),
        true => (of.min.abs().min(of.max.abs()), of.min.abs().max(of.max.abs())),
        false => (of.min, of.max),
    };
    let (inside, outside, sign) = match limit.bound {
        Bound::AtMost(_) => (most, least, -1.0),
        Bound::AtLeast(_) => (least, most, 1.0),
    };
    let margin = |value: f64| sign * (value - limit.bound.value()) / sd;
    match (margin(inside), margin(outside)) {
        (kept, _) if kept >= 0.0 => Some(Nearest { value: inside, margin: kept, sd }),
        (_, missed) if missed < 0.0 => Some(Nearest { value: outside, margin: missed, sd }),
        _ => None,
    }
}

fn said(run: &Run, limit: &Limit, of: &Nearest) -> String {
    let column = run.model.columns[limit.column];
    let point = &run.model.points[column.point];
    let (does, side) = if of.margin > 0.0 { ("keeps", "inside") } else { ("misses", "outside") };
    let unit = column.figure.unit().symbol();
    format!(
        "Every unit {does} \"{} {}\": the nearest, at beam {}, has {} {unit}, {} times the spread of {} {unit} {side}. Is this \
         the limit that is meant?",
        column.figure.title(),
        bound(run.model, limit),
        plain(&run.model.beams[point.beam].name),
        significant(of.value, 3),
        significant(of.margin.abs(), 2),
        significant(of.sd, 2),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    /// Side lobes of sd 0.2 dB within 1 dB about their means; notes of limits moved to a value.
    fn notes_at(value: f64) -> Vec<String> {
        let mut model = sample::model();
        for limit in &mut model.limits {
            if !limit.on_size {
                limit.bound = Bound::AtMost(value);
            }
        }
        let summary = sample::summary(&model);
        let of_side_lobes = |note: &String| note.contains("peak side lobe");
        notes(&sample::run(&model, &summary)).into_iter().filter(of_side_lobes).collect()
    }

    #[test]
    fn a_limit_is_noted_when_the_nearest_unit_is_far() {
        // After "+fit" side lobes are about -14 dB, the highest at -13, the lowest at -15, sd 0.2: 2 dB are ten spreads.
        let is_noted = |value: f64| !notes_at(value).is_empty();
        assert!(is_noted(-10.9) && !is_noted(-11.1));
        assert!(is_noted(-17.1) && !is_noted(-16.9));
        assert!(!is_noted(-14.0));
        assert!(notes_at(12.0)[0].contains("Every unit keeps"), "{:?}", notes_at(12.0));
        assert!(notes_at(-40.0)[0].contains("Every unit misses"));
    }
}
