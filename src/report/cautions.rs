//! Differences of compared designs other than hardware: arrays, beams, frequencies, temperatures, limits.

use crate::array::Array;
use crate::figure::Figure;
use crate::io::Dimension;
use crate::model::{Limit, Model};
use crate::report::misses::{joined, series};
use crate::report::number::{counted, significant};
use crate::report::words::{bound, plain, point, quantity, quoted, unit_for};
use crate::study::Beam;

/// Two quantities are equal within this: writing one in another unit may leave a rounding error.
const SAME: f64 = 1e-12;

/// Most beams, and most figures, that a caution names.
const NAMED: usize = 3;

/// Most cautions of a verdict.
const MOST: usize = 3;

/// A design with its name.
pub(super) type Named<'a> = (&'a str, &'a Model);

/// A difference: what differs, and how.
type Difference = (&'static str, String);

/// The differences of another design from the first, a caution each, without a full stop: "limits differ: "a" has peak side lobe at most
/// -12 dB, "b" at most -11.5 dB". None where only the hardware differs.
pub(crate) fn cautions(first: (&str, &Model), other: (&str, &Model)) -> Vec<String> {
    differences(first, other).into_iter().map(|(what, how)| format!("{what} differ: {how}")).collect()
}

/// Cautions of each other design against the first.
pub(super) fn cautions_of<'a>(mut designs: impl Iterator<Item = Named<'a>>) -> Vec<String> {
    let Some(first) = designs.next() else { return Vec::new() };
    designs.flat_map(|other| cautions(first, other)).collect()
}

/// The differences between the points of a sweep, in one caution.
pub(super) fn caution_of_points(models: &[Model]) -> Option<String> {
    let (first, others) = models.split_first()?;
    let mut kinds: Vec<&str> = Vec::new();
    for (what, _) in others.iter().flat_map(|other| differences(("", first), ("", other))) {
        if !kinds.contains(&what) {
            kinds.push(what);
        }
    }
    let kinds: Vec<String> = kinds.into_iter().map(str::to_owned).collect();
    (!kinds.is_empty())
        .then(|| format!("the points differ by more than their hardware: {} differ", joined(&kinds, "and")))
}

/// " Caution: ..." for a verdict's end; empty without cautions.
pub(super) fn sentence(cautions: &[String]) -> String {
    if cautions.is_empty() {
        return String::new();
    }
    let mut said: Vec<String> = cautions.iter().take(MOST).cloned().collect();
    if cautions.len() > MOST {
        said.push(counted((cautions.len() - MOST) as u64, "other difference"));
    }
    format!(" Caution: {}.", said.join("; "))
}

fn differences(first: Named, other: Named) -> Vec<Difference> {
    let mut found = Vec::new();
    arrays(first, other, &mut found);
    beams(first, other, &mut found);
    let conditions = |of: Named| {
        let all = of.1.conditions.iter();
        (distinct(all.clone().map(|at| at.frequency)), distinct(all.map(|at| at.temperature)))
    };
    let (mine, theirs) = (conditions(first), conditions(other));
    let both = |what: &str, dimension, mine: &[f64], theirs: &[f64]| {
        let listed = |of: &[f64]| {
            series(&of.iter().map(|of| quantity(*of, dimension)).collect::<Vec<_>>(), what, "and")
        };
        format!("{} has {}, {} {}", quoted(first.0), listed(mine), quoted(other.0), listed(theirs))
    };
    if !are_same(&mine.0, &theirs.0) {
        found.push(("frequencies", both("frequencies", Dimension::Frequency, &mine.0, &theirs.0)));
    }
    if !are_same(&mine.1, &theirs.1) {
        found.push(("temperatures", both("temperatures", Dimension::Temperature, &mine.1, &theirs.1)));
    }
    limits(first, other, &mut found);
    let (mine, theirs) = (&first.1.dead, &other.1.dead);
    if mine.allowed != theirs.allowed && mine.probability.max(theirs.probability) > 0.0 {
        let how =
            format!("{} allows {}, {} {}", quoted(first.0), mine.allowed, quoted(other.0), theirs.allowed);
        found.push(("dead channels allowed", how));
    }
    found
}

fn arrays(first: Named, other: Named, found: &mut Vec<Difference>) {
    let (mine, theirs) = (&first.1.array, &other.1.array);
    let (a, b) = (quoted(first.0), quoted(other.0));
    if mine.channels() != theirs.channels() {
        let count = counted(mine.channels() as u64, "element");
        return found.push(("arrays", format!("{a} has {count}, {b} {}", theirs.channels())));
    }
    if !(are_same(&mine.x, &theirs.x) && are_same(&mine.y, &theirs.y)) {
        let (unit, one) = unit_for(span(mine).max(span(theirs)), Dimension::Length);
        let spans = [mine, theirs].map(|of| format!("{} {unit}", significant(span(of) / one, 4)));
        let how = match spans {
            [mine, theirs] if mine == theirs => format!("the elements of {a} and {b} have other positions"),
            [mine, theirs] => format!("{a} is {mine} across, {b} {theirs}"),
        };
        found.push(("arrays", how));
    }
    if !are_same(&mine.amplitude, &theirs.amplitude) {
        let least = |of: &Array| {
            let least = of.amplitude.iter().copied().fold(1.0, f64::min);
            format!("{} dB", significant(20.0 * crate::math::scalar::log10(least), 4))
        };
        let how = match (least(mine), least(theirs)) {
            (mine, theirs) if mine == theirs => format!("{a} and {b} feed their elements differently"),
            (mine, theirs) => format!("{a} feeds its weakest element at {mine}, {b} at {theirs}"),
        };
        found.push(("tapers", how));
    }
    if mine.element != theirs.element {
        found.push(("element patterns", format!("an element of {a} radiates differently from one of {b}")));
    }
}

/// The larger side of an array, m.
fn span(of: &Array) -> f64 {
    let side = |at: &[f64]| {
        let ends = at.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], at| [a.min(*at), b.max(*at)]);
        ends[1] - ends[0]
    };
    side(&of.x).max(side(&of.y))
}

fn beams(first: Named, other: Named, found: &mut Vec<Difference>) {
    let (mine, theirs) = (&first.1.beams, &other.1.beams);
    let of_name = |all: &'_ [Beam], name: &str| all.iter().any(|beam| beam.name == name);
    let mut how = Vec::new();
    for ((name, own), others) in [((first.0, mine), theirs), ((other.0, theirs), mine)] {
        let alone = own.iter().filter(|beam| !of_name(others, &beam.name));
        let alone: Vec<String> = alone.map(|beam| format!("beam {}", plain(&beam.name))).collect();
        if !alone.is_empty() {
            how.push(format!("{} alone has {}", quoted(name), few(alone)));
        }
    }
    let angle = |of: f64| quantity(of, Dimension::Angle);
    let toward = |beam: &Beam| {
        let phi = if beam.phi == 0.0 { String::new() } else { format!(" at phi {}", angle(beam.phi)) };
        let null = beam.null_at.map_or(String::new(), |at| format!(" with a null at {}", angle(at)));
        format!("{}{phi}{null}", angle(beam.theta))
    };
    let aside = mine.iter().filter_map(|beam| {
        let same = theirs.iter().find(|of| of.name == beam.name)?;
        let (from, to) = (toward(beam), toward(same));
        let said = || {
            format!(
                "beam {} points to {from} in {}, to {to} in {}",
                plain(&beam.name),
                quoted(first.0),
                quoted(other.0)
            )
        };
        (from != to).then(said)
    });
    let aside: Vec<String> = aside.collect();
    if !aside.is_empty() {
        how.push(few(aside));
    }
    if !how.is_empty() {
        found.push(("beams", how.join("; ")));
    }
}

/// Limits at the beams, frequencies and temperatures of both.
fn limits(first: Named, other: Named, found: &mut Vec<Difference>) {
    let points: Vec<(usize, usize)> = (0..first.1.points.len())
        .filter_map(|mine| {
            Some((mine, (0..other.1.points.len()).find(|of| is_same_point(first.1, mine, other.1, *of))?))
        })
        .collect();
    let mut how = Vec::new();
    for figure in Figure::ALL {
        let at = |model: &Model, point: usize| -> Vec<String> {
            let is_here = |limit: &&Limit| {
                let column = model.columns[limit.column];
                (column.figure, column.point) == (*figure, point)
            };
            model.limits.iter().filter(is_here).map(|limit| bound(model, limit)).collect()
        };
        let each = points.iter().map(|(mine, theirs)| (*mine, at(first.1, *mine), at(other.1, *theirs)));
        let mut apart: Vec<(usize, Vec<String>, Vec<String>)> = each.collect();
        apart.iter_mut().for_each(|(_, mine, theirs)| {
            mine.sort();
            theirs.sort();
        });
        apart.retain(|(_, mine, theirs)| mine != theirs);
        let Some((place, mine, theirs)) = apart.first() else { continue };
        let place = match apart.len() {
            all if all == points.len() && apart.iter().all(|of| (&of.1, &of.2) == (mine, theirs)) => {
                String::new()
            }
            1 => format!(" at {}", point(first.1, *place)),
            many => format!(" at {} and {} more", point(first.1, *place), many - 1),
        };
        let listed = |of: &[String]| if of.is_empty() { "none".to_owned() } else { joined(of, "and") };
        how.push(format!(
            "{} has {} {}, {} {}{place}",
            quoted(first.0),
            figure.title(),
            listed(mine),
            quoted(other.0),
            listed(theirs)
        ));
    }
    if !how.is_empty() {
        found.push(("limits", few(how)));
    }
}

fn is_same_point(first: &Model, mine: usize, other: &Model, theirs: usize) -> bool {
    let at = |model: &Model, of: usize| {
        let conditions = model.conditions_of(of);
        [conditions.frequency, conditions.temperature]
    };
    let beams = (&first.beams[first.points[mine].beam], &other.beams[other.points[theirs].beam]);
    beams.0.name == beams.1.name && are_same(&at(first, mine), &at(other, theirs))
}

/// The first of some, and how many more there are.
fn few(mut all: Vec<String>) -> String {
    if all.len() > NAMED {
        let more = all.len() - NAMED;
        all.truncate(NAMED);
        all.push(format!("{more} more"));
    }
    all.join("; ")
}

/// Values in order, each once.
fn distinct(all: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut all: Vec<f64> = all.collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

fn are_same(mine: &[f64], theirs: &[f64]) -> bool {
    let largest = mine.iter().fold(0.0f64, |most, of| most.max(of.abs()));
    mine.len() == theirs.len() && mine.iter().zip(theirs).all(|(a, b)| (a - b).abs() <= SAME * largest)
}
