//! Failures in words: limits with those that the same units miss, and the yield at each place.

use crate::engine::{CalibrationSummary, MissSummary, PlaceSummary};
use crate::io::Dimension;
use crate::model::Model;
use crate::report::grid::{self, Side, numbers};
use crate::report::number::{ABSENT, counted, percent, with_interval};
use crate::report::words::{self, frequency, plain, quantity};

/// Most beams, frequencies or temperatures that are listed one by one.
const LISTED: usize = 4;

/// Most parts of a group of limits that are named.
const NAMED: usize = 3;

/// The miss of any of some limits in words: "peak side lobe above -12 dB at beam ahead, 10 or 11 GHz, -40, 25 and 85 degC alike". Alike:
/// missed by the very same units.
pub(super) fn missed(model: &Model, of: &CalibrationSummary, miss: &MissSummary) -> String {
    if let [one] = miss.limits.as_slice() {
        return words::miss(model, &model.limits[*one]);
    }
    let mut group = vec![usize::MAX; model.limits.len()];
    for (number, of) in of.misses.iter().enumerate() {
        of.limits.iter().for_each(|limit| group[*limit] = number);
    }
    let is_alike = |a: usize, b: usize| group[a] == group[b];
    // Equal limits at several beam points, in the order of the first of each.
    let mut parts: Vec<(String, Vec<usize>)> = Vec::new();
    for limit in &miss.limits {
        let said = words::missed_bound(model, &model.limits[*limit]);
        match parts.iter_mut().find(|(of, _)| *of == said) {
            Some((_, limits)) => limits.push(*limit),
            None => parts.push((said, vec![*limit])),
        }
    }
    if let [(said, limits)] = parts.as_slice() {
        return format!("{said} at {}", points(model, limits, &is_alike));
    }
    let rest: usize = parts.iter().skip(NAMED).map(|(_, limits)| limits.len()).sum();
    let named = parts.iter().take(NAMED);
    let named = named.map(|(said, limits)| format!("{said} at {}", points(model, limits, &is_alike)));
    let mut named: Vec<String> = named.collect();
    if rest > 0 {
        named.push(counted(rest as u64, "other limit"));
    }
    let is_one = miss.limits.iter().all(|limit| is_alike(miss.limits[0], *limit));
    let joint = if is_one { " and, in the same units, " } else { " or " };
    named.join(joint)
}

/// "beam ahead, 10 or 11 GHz, -40, 25 and 85 degC alike"
fn points(model: &Model, limits: &[usize], is_alike: &dyn Fn(usize, usize) -> bool) -> String {
    let points: Vec<usize> =
        limits.iter().map(|limit| model.columns[model.limits[*limit].column].point).collect();
    let beam = |point: usize| model.points[point].beam;
    let at = |point: usize| {
        let conditions = model.conditions_of(point);
        [beam(point) as f64, conditions.frequency, conditions.temperature]
    };
    let mut axes = [0, 1, 2].map(|axis| points.iter().map(|point| at(*point)[axis]).collect::<Vec<f64>>());
    for of in &mut axes {
        of.sort_by(f64::total_cmp);
        of.dedup();
    }
    let all_alike = limits.iter().all(|limit| is_alike(limits[0], *limit));
    let joint = |is_alike: bool| if is_alike { "and" } else { "or" };
    if axes.iter().map(Vec::len).product::<usize>() != points.len() {
        // Not every beam under every condition.
        let mut named: Vec<String> =
            points.iter().take(LISTED).map(|point| words::point(model, *point)).collect();
        if points.len() > LISTED {
            named.push(format!("{} more", points.len() - LISTED));
        }
        let alike = if all_alike { " alike" } else { "" };
        return joined(&named, joint(all_alike)) + alike;
    }
    // Alike along an axis: limits that differ by it alone are missed by the same units.
    let along = |axis: usize| {
        let pairs = limits.iter().zip(&points).flat_map(|a| limits.iter().zip(&points).map(move |b| (a, b)));
        let mut beside =
            pairs.filter(|(a, b)| (0..3).all(|other| other == axis || at(*a.1)[other] == at(*b.1)[other]));
        beside.all(|(a, b)| is_alike(*a.0, *b.0))
    };
    let is_along = [0, 1, 2].map(|axis| axes[axis].len() > 1 && along(axis));
    let names: Vec<String> = axes[0].iter().map(|beam| plain(&model.beams[*beam as usize].name)).collect();
    let mut said = vec![match names.as_slice() {
        [one] => format!("beam {one}"),
        few if few.len() <= LISTED => format!("beams {}", joined(few, joint(is_along[0]))),
        many => counted(many.len() as u64, "beam"),
    }];
    said.push(series(
        &axes[1].iter().map(|of| frequency(*of)).collect::<Vec<_>>(),
        "frequencies",
        joint(is_along[1]),
    ));
    if model.temperature_of(points[0]).is_some() {
        let all = axes[2].iter().map(|of| quantity(*of, Dimension::Temperature));
        said.push(series(&all.collect::<Vec<_>>(), "temperatures", joint(is_along[2])));
    }
    // "alike" follows the values that it applies to.
    for (said, is_alike) in said.iter_mut().zip(is_along) {
        said.push_str(if is_alike { " alike" } else { "" });
    }
    said.join(", ")
}

/// Quantities in order, a shared unit once: "27, 28 and 29 GHz"; of many, their number and the ends.
pub(super) fn series(all: &[String], what: &str, joint: &str) -> String {
    if let ([first, .., last], true) = (all, all.len() > LISTED) {
        return format!("{} {what} from {first} to {last}", all.len());
    }
    let parted: Vec<(&str, &str)> = all.iter().filter_map(|of| of.split_once(' ')).collect();
    match parted.last() {
        Some((_, unit)) if parted.len() == all.len() && parted.iter().all(|(_, of)| of == unit) => {
            format!(
                "{} {unit}",
                joined(&parted.iter().map(|(number, _)| number.to_string()).collect::<Vec<_>>(), joint)
            )
        }
        _ => joined(all, joint),
    }
}

/// "a, b and c"
pub(super) fn joined(all: &[String], joint: &str) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} {joint} {last}", first.join(", ")),
    }
}

/// "7.0 % (5.5 to 8.8 %) of units miss it, 4.0 % miss nothing else"
pub(super) fn shares(of: &MissSummary) -> String {
    format!(
        "{} of units miss it, {} miss nothing else",
        with_interval(&of.missed),
        percent(&of.nothing_else).0
    )
}

/// The yield at each place after a plan as a table: a row for each beam and each temperature, a column for each frequency. Of more than
/// `most` of a kind, those of the lowest yield. `None` where there is only one place.
pub(super) fn places(model: &Model, of: &CalibrationSummary, most: usize) -> Option<Places> {
    let all = of.yield_.as_ref()?;
    let at = |beam: Option<usize>, frequency: Option<f64>, temperature: Option<f64>| {
        let is = |place: &&PlaceSummary| {
            (place.beam, place.frequency, place.temperature) == (beam, frequency, temperature)
        };
        of.places.iter().find(is).map_or(ABSENT.to_owned(), |place| percent(&place.yield_).0)
    };
    let beams = worst(&of.places, most, |of| (of.frequency, of.temperature) == (None, None), |of| of.beam);
    let frequencies =
        worst(&of.places, most, |of| (of.beam, of.temperature) == (None, None), |of| of.frequency);
    let temperatures =
        worst(&of.places, most, |of| (of.beam, of.frequency) == (None, None), |of| of.temperature);
    if beams.0.len() + frequencies.0.len() + temperatures.0.len() == 0 {
        return None;
    }
    let mut header = vec![grid::words("")];
    header.extend(frequencies.0.iter().map(|of| numbers(frequency(*of))));
    header.push(numbers(if frequencies.0.is_empty() { "yield" } else { "every frequency" }));
    let row = |name: String, beam: Option<usize>, temperature: Option<f64>| {
        let each = frequencies.0.iter().map(|of| at(beam, Some(*of), temperature));
        std::iter::once(name).chain(each).collect::<Vec<String>>()
    };
    let ended = |mut row: Vec<String>, end: String| {
        row.push(end);
        row
    };
    let mut rows = Vec::new();
    for beam in &beams.0 {
        let name = format!("beam {}", plain(&model.beams[*beam].name));
        rows.push(ended(row(name, Some(*beam), None), at(Some(*beam), None, None)));
    }
    for temperature in &temperatures.0 {
        let name = quantity(*temperature, Dimension::Temperature);
        rows.push(ended(row(name, None, Some(*temperature)), at(None, None, Some(*temperature))));
    }
    rows.push(ended(row("all".to_owned(), None, None), percent(all).0));
    let left_out = [(beams.1, "beam"), (frequencies.1, "frequency"), (temperatures.1, "temperature")];
    let left_out =
        left_out.into_iter().filter(|(count, _)| *count > 0).map(|(count, what)| match (count, what) {
            (2.., "frequency") => format!("{count} frequencies"),
            _ => counted(count as u64, what),
        });
    let left_out: Vec<String> = left_out.collect();
    let note = (!left_out.is_empty())
        .then(|| format!("Not shown, with higher yields: {}.", joined(&left_out, "and")));
    Some(Places { header, rows, note })
}

/// Yields at places as a table.
pub(super) struct Places {
    /// Names of the columns.
    pub header: Vec<(String, Side)>,
    /// As long as the header.
    pub rows: Vec<Vec<String>>,
    /// A note on rows and columns left out.
    pub note: Option<String>,
}

/// The values of one kind of place, in the order of the study, and how many are left out: at most `most`, those of the lowest yield.
fn worst<T: Copy + PartialEq>(
    places: &[PlaceSummary],
    most: usize,
    is_of_kind: impl Fn(&PlaceSummary) -> bool,
    at: impl Fn(&PlaceSummary) -> Option<T>,
) -> (Vec<T>, usize) {
    let of_kind = places.iter().filter(|place| is_of_kind(place));
    let mut all: Vec<(usize, f64, T)> = of_kind
        .enumerate()
        .filter_map(|(number, place)| Some((number, place.yield_.value, at(place)?)))
        .collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    let left_out = all.len().saturating_sub(most);
    all.truncate(most);
    all.sort_by_key(|(number, ..)| *number);
    (all.into_iter().map(|(_, _, at)| at).collect(), left_out)
}
