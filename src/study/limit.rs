//! One line of the spec.

use crate::figure::{Figure, Unit};
use crate::io::{
    Accepts, Check, Dimension, Key, Nested, Optional, Quantity, Span, Special, Table, Text, Word, keys,
    suggest,
};

/// Which side of a value passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bound {
    /// The figure (its size, where it is signed) must not exceed the value.
    AtMost(f64),
    /// The figure must not fall below the value.
    AtLeast(f64),
}

impl Bound {
    /// Its value.
    pub fn value(self) -> f64 {
        let (Bound::AtMost(value) | Bound::AtLeast(value)) = self;
        value
    }
}

/// What the value of a limit counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum LimitUnit {
    /// The figure's own unit: degrees or dB.
    OfFigure,
    /// Error-free half-power beamwidths of the beam at the frequency.
    Beamwidths,
}

/// A limit on a figure.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Limit {
    /// The figure.
    pub figure: Figure,
    /// The bound.
    pub bound: Bound,
    /// What the bound counts.
    pub unit: LimitUnit,
    /// The one beam it holds for, as its number in the study; `None` for all.
    pub beam: Option<usize>,
    /// The one frequency it holds for, as its number in the study; `None` for all.
    pub frequency: Option<usize>,
    /// The one temperature it holds for, as its number in the study; `None` for all.
    pub temperature: Option<usize>,
    /// Place of the bound in the file.
    pub span: Span,
}

keys! {
    KEYS: "A limit that a unit has to meet: at_most or at_least, at every beam, frequency and temperature unless it names one";
    FIGURE: Word<Figure> =
        Key::word("figure", "figure", || Figure::ALL.iter().map(|of| (of.name(), *of)).collect(), "pointing_error",
            "The figure of merit that is limited");
    AT_MOST: Special =
        Key::special("at_most", bound, "0.5 deg", "The figure (its size, where it has a sign) must not exceed this");
    AT_LEAST: Special = Key::special("at_least", bound, "-2 dB", "The figure must not fall below this");
    BEAM: Optional<Text> = Key::text("beam", "ahead", "The one beam that it holds for").optional();
    FREQUENCY: Optional<Quantity> =
        Key::quantity("frequency", Dimension::Frequency, Check::Positive, "10 GHz", "The one frequency that it holds for").optional();
    TEMPERATURE: Optional<Quantity> =
        Key::quantity("temperature", Dimension::Temperature, Check::Positive, "25 degC", "The one temperature that it holds for").optional();
}

/// Key of the limits.
pub(super) const LIMITS: Key<Nested> =
    Key::tables("limit", &KEYS, "[{ figure = \"pointing_error\", at_most = \"0.5 deg\" }]");

/// What a bound takes, of one figure or another.
fn bound() -> Accepts {
    let angle = Accepts::Quantity(Dimension::Angle, Check::NonNegative);
    let level = Accepts::Quantity(Dimension::Level, Check::Any);
    Accepts::AnyOf(vec![Accepts::Multiple("beamwidth"), angle, level])
}

impl Limit {
    /// `beams`, `frequencies` and `temperatures` are those of the study, the last two empty where they could not be read.
    pub(super) fn read(table: &Table, beams: &[String], frequencies: &[f64], temperatures: &[f64]) -> Limit {
        let figure = table.read(&FIGURE);
        let (has_most, has_least) = (table.has(AT_MOST), table.has(AT_LEAST));
        if has_most == has_least {
            table.error(
                table.span(),
                if has_most { "two bounds in one limit" } else { "a limit without a bound" },
                "one of `at_most` and `at_least` is expected",
                Some(format!("such as `at_most = \"{}\"`", example(figure))),
            );
        }
        let key = if has_least { &AT_LEAST } else { &AT_MOST };
        // A bound on an unknown figure has no unit to be held to.
        let is_readable = (has_most || has_least) && table.is_sound(FIGURE);
        let (value, unit) =
            if is_readable { read_bound(table, key, figure) } else { (1.0, LimitUnit::OfFigure) };
        let beam = table.read(&BEAM).map(|name| {
            beams.iter().position(|beam| *beam == name).unwrap_or_else(|| {
                table.error(
                    table.span_of(BEAM),
                    format!("there is no beam `{name}`"),
                    "not a beam of this study",
                    Some(suggest::instead_of(&name, beams.iter().map(String::as_str))),
                );
                0
            })
        });
        let frequency = one_of(table, &FREQUENCY, frequencies, "frequencies");
        let temperature = one_of(table, &TEMPERATURE, temperatures, "temperatures");
        let bound = if has_least { Bound::AtLeast(value) } else { Bound::AtMost(value) };
        Limit { figure, bound, unit, beam, frequency, temperature, span: table.span_of(key) }
    }
}

/// The number of the quantity at `key` among those of the study, which stand there at `list`.
fn one_of(table: &Table, key: &Key<Optional<Quantity>>, listed: &[f64], list: &str) -> Option<usize> {
    let value = table.read(key)?;
    let name = key.name;
    let found = listed.iter().position(|of| (of - value).abs() <= 1e-9 * value);
    if found.is_none() && !listed.is_empty() {
        table.error(
            table.span_of(key),
            format!("the study does not use this {name}"),
            format!("not among `{list}`"),
            Some(format!("name one of them, or leave `{name}` out for all")),
        );
    }
    found.or(Some(0))
}

fn example(figure: Figure) -> &'static str {
    match figure.unit() {
        Unit::Degree => "0.5 deg",
        Unit::Decibel => "0.5 dB",
    }
}

/// More than a turn at any beamwidth an array can have.
const MOST_BEAMWIDTHS: f64 = 1e6;

/// Bounds are kept in the unit of the figure.
fn read_bound(table: &Table, key: &Key<Special>, figure: Figure) -> (f64, LimitUnit) {
    if figure.is_beam_angle()
        && let Some(count) = table.multiple(key.name, "beamwidth")
    {
        return match count.trim().parse::<f64>() {
            Ok(count) if (0.0..=MOST_BEAMWIDTHS).contains(&count) => (count, LimitUnit::Beamwidths),
            _ => {
                table.error(
                    table.span_of(key),
                    format!("`{}` is no number of beamwidths", key.name),
                    format!("not a number from 0 to {MOST_BEAMWIDTHS}"),
                    Some("such as \"0.05 beamwidth\"".into()),
                );
                (1.0, LimitUnit::Beamwidths)
            }
        };
    }
    let bound = |dimension: Dimension, check| {
        table.read(&Key::quantity(key.name, dimension, check, dimension.example(), key.about))
    };
    let value = match figure.unit() {
        Unit::Degree => bound(Dimension::Angle, Check::NonNegative).to_degrees(),
        Unit::Decibel => bound(Dimension::Level, Check::Any),
    };
    (value, LimitUnit::OfFigure)
}
