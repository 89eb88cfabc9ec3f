//! Charts of some units of a run: patterns, residual errors of the channels, readings of the bench.

use crate::engine::{BeamView, CutView, Levels, SweepView, Views};
use crate::figure::Plane;
use crate::model::{Limit, Model};
use crate::report::grid::numbers;
use crate::report::number::{counted, significant};
use crate::report::page::chart::{Band, ByChannel, Readings};
use crate::report::page::{Axis, Part, Table};
use crate::report::words::{bound, miss, point, quoted};

/// Most beams whose patterns are drawn.
const MOST_BEAMS: usize = 10;

/// Most marks of a chart by channel: more would overlap.
const MOST_MARKS: usize = 140;

/// Rows of a table of a pattern, about.
const ROWS: usize = 60;

/// Levels of a pattern below this are not drawn, dB.
const FLOOR: f64 = -80.0;

/// Patterns of each beam without errors and as built; `name` is that of the calibration plan.
pub(super) fn patterns(model: &Model, views: &Views, name: &str) -> Vec<Part> {
    let mut parts: Vec<Part> = views
        .beams
        .iter()
        .take(MOST_BEAMS)
        .flat_map(|beam| beam_patterns(model, views, beam, name))
        .collect();
    if views.beams.len() > MOST_BEAMS {
        let (shown, all) = (MOST_BEAMS, views.beams.len());
        parts.push(Part::Text(format!("The first {shown} of {all} beams are shown.")));
    }
    parts
}

fn beam_patterns(model: &Model, views: &Views, beam: &BeamView, name: &str) -> Vec<Part> {
    let units = counted(views.units, "unit");
    let mut parts: Vec<Part> = beam.cuts.iter().map(|cut| pattern(model, &units, beam, cut, name)).collect();
    if let Some(worst) = beam.worst {
        let why = match worst.limit {
            Some(limit) => format!("goes farthest beyond a limit: {}", miss(model, &model.limits[limit])),
            None => "has the highest side lobe; none of them misses a limit at this beam".to_owned(),
        };
        parts.push(Part::Text(format!("Of the {units}, unit {} {why}.", worst.trial)));
    }
    parts
}

fn pattern(model: &Model, units: &str, beam: &BeamView, cut: &CutView, name: &str) -> Part {
    let at: Vec<f64> = cut.angle.iter().map(|angle| angle.to_degrees()).collect();
    let (plane, along) = match (cut.plane, beam.cuts.len()) {
        (Plane::Scan, 1) => ("", "angle from broadside"),
        (Plane::Scan, _) => (", in the plane of the scan", "angle from broadside"),
        (Plane::Across, _) => (", across the plane of the scan", "angle from the beam"),
    };
    let line = |limit: &Limit| {
        let column = model.columns[limit.column];
        let label = column.figure.pattern_line().filter(|_| column.point == beam.point)?;
        Some((limit.bound.value(), format!("{label} {}", bound(model, limit))))
    };
    let levels: Vec<(f64, String)> = model.limits.iter().filter_map(line).collect();
    let worst = beam.worst.zip(cut.worst.clone());
    let mut header = ["angle, deg", "without errors, dB", "5 %", "50 %", "95 %"].map(numbers).to_vec();
    header.extend(worst.as_ref().map(|(of, _)| numbers(format!("unit {}", of.trial))));
    let title = format!("Pattern, {}{plane}, after {}", point(model, beam.point), quoted(name));
    let mut table = Table::new(format!("Level over each unit's own peak, {units}"), header);
    for place in (0..at.len()).step_by(at.len().div_ceil(ROWS).max(1)) {
        let curves = [&cut.error_free, &cut.low, &cut.middle, &cut.high];
        let curves = curves.into_iter().chain(worst.as_ref().map(|(_, curve)| curve));
        let cells = curves.map(|curve| format!("{:.2}", curve[place]));
        table.row(std::iter::once(format!("{:.1}", at[place])).chain(cells));
    }
    let plot = Band {
        x: Axis::between(along, "deg", at.first().copied().unwrap_or(0.0), at.last().copied().unwrap_or(1.0)),
        y: Axis::between("level over the unit's own peak", "dB", lowest(cut, &levels), 2.0),
        at,
        error_free: cut.error_free.clone(),
        low: cut.low.clone(),
        middle: cut.middle.clone(),
        high: cut.high.clone(),
        worst: worst.map(|(of, curve)| (curve, format!("worst: unit {}", of.trial))),
        name: format!("5 to 95 % of {units}"),
        levels,
    };
    let alt = "The pattern without errors, the band that nine of ten built units keep to with its middle, and the worst of them.";
    Part::chart(title, alt, plot.into(), table)
}

/// The lower end of a pattern's axis: well below most of its side lobes and every limit on them, at a round value.
fn lowest(cut: &CutView, levels: &[(f64, String)]) -> f64 {
    let mut middle = cut.middle.clone();
    middle.sort_by(f64::total_cmp);
    let quarter = middle.get(middle.len() / 4).copied().unwrap_or(0.0);
    let least = levels.iter().map(|level| level.0).fold(quarter, f64::min);
    (((least - 10.0) / 10.0).floor() * 10.0).clamp(FLOOR, -40.0)
}

/// Residual errors of each channel at the first beam, phase and amplitude.
pub(super) fn residuals(model: &Model, views: &Views, name: &str) -> Vec<Part> {
    let Some(beam) = views.beams.first() else { return Vec::new() };
    let units = counted(views.units, "unit");
    let kinds = [
        ("phase", "deg", &beam.phase, f64::to_degrees as fn(f64) -> f64, "the common phase"),
        ("amplitude", "dB", &beam.amplitude, |value| value, "the mean"),
    ];
    let parts = kinds.map(|(what, unit, channels, in_unit, without)| {
        let in_unit = |of: &Levels| [of.least, of.low, of.middle, of.high, of.most].map(in_unit);
        let each = channels.len().div_ceil(MOST_MARKS).max(1);
        let channels: Vec<[f64; 5]> = channels.chunks(each).map(|few| outermost(few.iter().map(in_unit))).collect();
        let title = format!("Residual error of {what}, {}, after {}", point(model, beam.point), quoted(name));
        let title = if each > 1 { format!("{title}: outermost of each {each} channels") } else { title };
        let mut table = Table::new(
            format!("Error of {what}, {unit}, over {units}"),
            ["channel", "least", "5 %", "50 %", "95 %", "most"].map(numbers).to_vec(),
        );
        for (channel, of) in channels.iter().enumerate() {
            table.row(std::iter::once(channels_of(channel, each)).chain(of.iter().map(|of| format!("{of:.3}"))));
        }
        let farthest = channels
            .iter()
            .enumerate()
            .max_by(|a, b| (a.1[3] - a.1[1]).total_cmp(&(b.1[3] - b.1[1])));
        let alt = farthest.map_or(String::new(), |(channel, of)| {
            format!(
                "Relative to {without} of each unit. Channel {} spreads most: nine of ten units are from {} to {} {unit}.",
                channels_of(channel, each),
                significant(of[1], 3),
                significant(of[3], 3)
            )
        });
        let y = Axis::around(format!("error of {what}"), unit, channels.iter().flatten().copied());
        let plot = ByChannel { y, channels, each, names: ["5 to 95 %".to_owned(), format!("all {units}")] };
        Part::chart(title, alt, plot.into(), table)
    });
    let note = "An error that all channels share steers no beam, so it is taken out of each unit.".to_owned();
    std::iter::once(Part::Text(note)).chain(parts).collect()
}

/// The numbers of the channels of a mark.
fn channels_of(mark: usize, each: usize) -> String {
    let first = mark * each;
    if each > 1 { format!("{first} to {}", first + each - 1) } else { first.to_string() }
}

/// The envelope of the levels of some channels, with the middle of their medians.
fn outermost(of: impl Iterator<Item = [f64; 5]>) -> [f64; 5] {
    let of: Vec<[f64; 5]> = of.collect();
    let least = |at: usize| of.iter().map(|of| of[at]).fold(f64::INFINITY, f64::min);
    let most = |at: usize| of.iter().map(|of| of[at]).fold(f64::NEG_INFINITY, f64::max);
    let middle = 0.5 * (least(2) + most(2));
    [least(0), least(1), if of.len() > 1 { middle } else { of[0][2] }, most(3), most(4)]
}

/// The readings of the bench while it stepped one channel.
pub(super) fn readings(sweep: &SweepView, name: &str) -> Part {
    let pair = match sweep.reference {
        Some(reference) => format!("channel {} stepped against channel {reference}", sweep.stepped),
        None => format!("channel {} stepped, all others at rest", sweep.stepped),
    };
    let readings: Vec<(f64, f64)> =
        sweep.readings.iter().map(|(code, level)| (f64::from(*code), *level)).collect();
    let mut table =
        Table::new("Readings in the order of the bench", vec![numbers("code"), numbers("level, dB")]);
    for (code, level) in &readings {
        table.row([code.to_string(), format!("{level:.3}")]);
    }
    let chosen = sweep.chosen.map(f64::from);
    let codes = readings.iter().map(|of| of.0).chain(chosen);
    let (first, last) =
        codes.fold((0.0, 1.0), |(first, last): (f64, f64), code| (first.min(code), last.max(code)));
    let plot = Readings {
        x: Axis::between("code of the stepped channel", "", first - 0.5, last + 0.5),
        y: Axis::around("level over one nominal channel", "dB", readings.iter().map(|of| of.1)),
        readings,
        chosen,
        name: sweep.chosen.map_or(String::new(), |code| format!("chosen: code {code}")),
    };
    let title = format!("Readings of unit {}: {pair}, after {}", sweep.trial, quoted(name));
    let alt = "A level for each code: flat about the peak, steep about the null.";
    Part::chart(title, alt, plot.into(), table)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_channels_share_a_mark_that_holds_them_all() {
        let (one, other) = ([-2.0, -1.0, 0.1, 1.0, 3.0], [-4.0, -0.5, 0.3, 2.0, 2.5]);
        assert_eq!(outermost([one].into_iter()), one);
        assert_eq!(outermost([one, other].into_iter()), [-4.0, -1.0, 0.2, 2.0, 3.0]);
        assert_eq!([channels_of(7, 1), channels_of(2, 3)], ["7", "6 to 8"]);
    }
}
