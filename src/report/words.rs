//! Names for people: beam points, limits, tolerances, quantities.

use crate::figure::Figure;
use crate::io::{Dimension, inert, quantity};
use crate::model::{Limit, Model};
use crate::random::{Distribution, Grouping, Scope, Tolerance, Window};
use crate::report::number::{counted, significant};
use crate::study::Bound;

/// A text on one line, without anything that moves a terminal's cursor.
pub(super) fn plain(text: &str) -> String {
    inert(text).replace(['\n', '\t'], " ")
}

/// A name in quotation marks.
pub(super) fn quoted(name: &str) -> String {
    format!("\"{}\"", plain(name))
}

/// With a capital.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map_or(String::new(), |first| first.to_uppercase().collect());
    first + letters.as_str()
}

/// Each with a capital and a stop.
pub(super) fn sentences(all: &[String]) -> String {
    all.iter().map(|text| capital(text) + ".").collect::<Vec<_>>().join(" ")
}

/// A key of the study file as words.
pub(super) fn key(key: &str) -> String {
    key.replace(['_', '.'], " ")
}

/// A quantity in a person's unit.
pub(super) fn quantity(value: f64, dimension: Dimension) -> String {
    quantity::format(value, dimension)
}

/// Hertz, "28 GHz".
pub(super) fn frequency(hertz: f64) -> String {
    quantity(hertz, Dimension::Frequency)
}

/// "beam broadside, 26 GHz".
pub(super) fn point(model: &Model, point: usize) -> String {
    let named = format!(
        "beam {}, {}",
        model.beams[model.points[point].beam].name,
        frequency(model.points[point].frequency)
    );
    match model.temperature_of(point) {
        Some(kelvin) => format!("{named}, {}", quantity(kelvin, Dimension::Temperature)),
        None => named,
    }
}

/// A figure with its unit: "array-gain loss, dB".
pub(super) fn figure(figure: Figure) -> String {
    format!("{} ({})", figure.title(), figure.unit().symbol())
}

/// A value of a figure with its unit, as it stands in a limit.
fn bound_value(figure: Figure, value: f64) -> String {
    format!("{} {}", significant(value, 4), figure.unit().symbol())
}

/// "at most 0.1 dB".
pub(super) fn bound(model: &Model, limit: &Limit) -> String {
    let figure = model.columns[limit.column].figure;
    match limit.bound {
        Bound::AtMost(most) => format!("at most {}", bound_value(figure, most)),
        Bound::AtLeast(least) => format!("at least {}", bound_value(figure, least)),
    }
}

/// A missed limit: "peak side lobe above -12.4 dB at beam 45 deg, 28 GHz".
pub(super) fn miss(model: &Model, limit: &Limit) -> String {
    format!("{} at {}", missed_bound(model, limit), point(model, model.columns[limit.column].point))
}

/// The same without the beam point: "peak side lobe above -12.4 dB".
pub(super) fn missed_bound(model: &Model, limit: &Limit) -> String {
    let figure = model.columns[limit.column].figure;
    let missed = match limit.bound {
        Bound::AtMost(most) if limit.on_size => format!("beyond {}", bound_value(figure, most)),
        Bound::AtMost(most) => format!("above {}", bound_value(figure, most)),
        Bound::AtLeast(least) => format!("below {}", bound_value(figure, least)),
    };
    format!("{} {missed}", figure.title())
}

/// "normal, sd 0.25 mm", "uniform, sd 0.0577 mm, within +/-0.1 mm", "screened, mean off by 0.02 mm, sd 0.1 mm, 5 % of parts rejected".
pub(super) fn distribution(distribution: &Distribution, dimension: Dimension) -> String {
    let size = |value| short(value, dimension);
    let (mean, sd) = (distribution.mean(), distribution.sd());
    let mut text = distribution.name().to_owned();
    // Below a millionth of the spread a mean is what rounding left of none.
    if mean.abs() > 1e-6 * sd {
        text.push_str(&format!(", mean off by {}", size(mean)));
    }
    text.push_str(&format!(", sd {}", size(sd)));
    match distribution.range() {
        None => {}
        Some((lowest, highest)) if lowest == -highest => {
            text.push_str(&format!(", within +/-{}", size(highest)))
        }
        Some((lowest, highest)) => text.push_str(&format!(", from {} to {}", size(lowest), size(highest))),
    }
    if let Some(rejected) = distribution.rejected() {
        text.push_str(&format!(
            ", {} % of {} rejected",
            significant(100.0 * rejected, 3),
            distribution.taken()
        ));
    }
    text
}

/// "within +/-0.4 mm", "from -0.2 mm to 0.4 mm", "up to 0.4 mm", "from -0.2 mm on".
pub(super) fn window(of: Window, dimension: Dimension) -> String {
    let size = |value| quantity(value, dimension);
    match (of.low.is_finite(), of.high.is_finite()) {
        (true, true) if of.low == -of.high => format!("within +/-{}", size(of.high)),
        (true, true) => format!("from {} to {}", size(of.low), size(of.high)),
        (true, false) => format!("from {} on", size(of.low)),
        (false, true) => format!("up to {}", size(of.high)),
        (false, false) => "at any deviation".to_owned(),
    }
}

/// "drawn for each channel", "drawn once for each lot of 50 units".
pub(super) fn scope(scope: Scope, grouping: &Grouping) -> String {
    let channels = || counted(grouping.channels_of(scope) as u64, "channel");
    match scope {
        Scope::Channel => "drawn for each channel".to_owned(),
        Scope::Chip => format!("drawn for each chip of {}", channels()),
        Scope::Board => format!("drawn for each board of {}", channels()),
        Scope::Unit => "drawn once a unit".to_owned(),
        Scope::Lot => format!("drawn once for each lot of {}", counted(grouping.lot.unwrap_or(1), "unit")),
    }
}

/// A tolerance in a sentence's middle: "0.2 dB, normal, sd 0.1 dB".
pub(super) fn tolerance(of: &Tolerance, dimension: Dimension) -> String {
    let nominal = quantity(of.nominal, dimension);
    match &of.spread {
        Some(spread) => format!("{nominal}, {}", distribution(&spread.distribution, dimension.difference())),
        None => nominal,
    }
}

/// A computed quantity, to three significant digits.
fn short(value: f64, dimension: Dimension) -> String {
    let text = quantity(value, dimension);
    let (number, unit) = text.split_once(' ').unwrap_or((&text, ""));
    let number = number.parse().map_or(number.to_owned(), |number| significant(number, 3));
    format!("{number} {unit}").trim_end().to_owned()
}

/// A unit that suits values up to `largest` (SI), and what one of it is in SI.
pub(super) fn unit_for(largest: f64, dimension: Dimension) -> (String, f64) {
    let text = quantity(largest, dimension);
    let unit = text.split_once(' ').map_or("", |(_, unit)| unit);
    let one = quantity::parse(&format!("1 {unit}"), dimension).unwrap_or(1.0);
    (unit.to_owned(), one)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Empirical, Gauge, Normal, Screened, Spread, Uniform, Window};

    #[test]
    fn control_characters_do_not_reach_a_terminal() {
        assert_eq!(plain("a\u{1b}[2Jb\nc\u{202e}"), "a\\u{1b}[2Jb c\\u{202e}");
    }

    #[test]
    fn a_tolerance_is_told_in_its_unit() {
        let mut length = Tolerance::exact(0.15);
        assert_eq!(tolerance(&length, Dimension::Length), "150 mm");
        let distribution = Distribution::Normal(Normal::new(0.25e-3).unwrap());
        length.spread = Some(Spread { distribution, scope: Scope::Channel });
        assert_eq!(tolerance(&length, Dimension::Length), "150 mm, normal, sd 0.25 mm");
        let uniform = Distribution::Uniform(Uniform::new(1e-4).unwrap());
        // 0.1/sqrt(3) = 0.05774 mm.
        assert_eq!(super::distribution(&uniform, Dimension::Length), "uniform, sd 57.7 um, within +/-0.1 mm");
    }

    #[test]
    fn laws_to_one_side_say_so() {
        let parts = vec![1e-4, 2e-4, 2e-4, 3e-4, 5e-4];
        let measured = Distribution::Empirical(Empirical::new(parts).unwrap());
        let said = super::distribution(&measured, Dimension::Length);
        // By hand: squares about the mean, [0.0416 + 0.0404]/5 = 0.0164, which is 0.12806 squared.
        assert_eq!(said, "empirical, mean off by 0.26 mm, sd 0.128 mm, from 0.1 mm to 0.5 mm");
        let gauge = Gauge { bias: 0.0, sd: 0.2e-3 };
        let distribution = Distribution::Normal(Normal::new(1e-3).unwrap());
        let screened =
            Distribution::Screened(Screened::new(distribution, Window::within(2e-3), gauge).unwrap());
        // Rejected 4.986 %, sd 0.8767: own double integral.
        assert_eq!(
            super::distribution(&screened, Dimension::Length),
            "screened, sd 0.877 mm, 4.99 % of parts rejected"
        );
    }

    #[test]
    fn scopes_say_how_many_share_a_draw() {
        let grouping = Grouping { channels: 32, chip: 4, board: Some(16), lot: Some(50) };
        let said = |of| scope(of, &grouping);
        assert_eq!(said(Scope::Chip), "drawn for each chip of 4 channels");
        assert_eq!(said(Scope::Board), "drawn for each board of 16 channels");
        assert_eq!(said(Scope::Lot), "drawn once for each lot of 50 units");
    }

    #[test]
    fn a_unit_is_chosen_by_the_largest_value() {
        let (unit, one) = unit_for(3e-4, Dimension::Length);
        assert_eq!((unit.as_str(), one), ("mm", 1e-3));
        let (unit, one) = unit_for(0.01, Dimension::Angle);
        assert_eq!(unit, "deg");
        assert_eq!(one.to_degrees(), 1.0);
        assert_eq!(unit_for(0.1, Dimension::Ratio), (String::new(), 1.0));
    }
}
