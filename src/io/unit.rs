//! The units that texts may carry, and what each measures.

use std::f64::consts::PI;

/// What a quantity measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Dimension {
    /// Metres inside.
    Length,
    /// Hertz inside.
    Frequency,
    /// Radians inside.
    Angle,
    /// Decibels inside as well: whether it is a power or an amplitude only the caller knows.
    Level,
    /// Decibels per metre inside.
    LevelPerLength,
    /// Decibels per hertz inside.
    LevelPerFrequency,
    /// Decibels per kelvin inside.
    LevelPerTemperature,
    /// Decibels over a milliwatt inside.
    Power,
    /// Radians per kelvin inside.
    AnglePerTemperature,
    /// Seconds inside.
    Time,
    /// Kelvin inside: a point on the scale, not a difference.
    Temperature,
    /// Relative change for each kelvin.
    RatioPerTemperature,
    /// Siemens per metre inside.
    Conductivity,
    /// A plain number, or a percentage: "0.05" and "5 %" are the same.
    Ratio,
}

impl Dimension {
    /// With its article: "a length".
    pub(crate) fn noun(self) -> &'static str {
        match self {
            Dimension::Length => "a length",
            Dimension::Frequency => "a frequency",
            Dimension::Angle => "an angle",
            Dimension::Level => "a level",
            Dimension::LevelPerLength => "a level per length",
            Dimension::LevelPerFrequency => "a level per frequency",
            Dimension::LevelPerTemperature => "a level per temperature",
            Dimension::Power => "a power",
            Dimension::AnglePerTemperature => "an angle per temperature",
            Dimension::Time => "a time",
            Dimension::Temperature => "a temperature",
            Dimension::RatioPerTemperature => "a relative change per temperature",
            Dimension::Conductivity => "a conductivity",
            Dimension::Ratio => "a number",
        }
    }

    /// One word, unlike those of the others.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Dimension::Length => "length",
            Dimension::Frequency => "frequency",
            Dimension::Angle => "angle",
            Dimension::Level => "level",
            Dimension::LevelPerLength => "level_per_length",
            Dimension::LevelPerFrequency => "level_per_frequency",
            Dimension::LevelPerTemperature => "level_per_temperature",
            Dimension::Power => "power",
            Dimension::AnglePerTemperature => "angle_per_temperature",
            Dimension::Time => "time",
            Dimension::Temperature => "temperature",
            Dimension::RatioPerTemperature => "ratio_per_temperature",
            Dimension::Conductivity => "conductivity",
            Dimension::Ratio => "ratio",
        }
    }

    /// Every way to spell its units, those for people first.
    pub(crate) fn units(self) -> impl Iterator<Item = &'static str> + Clone {
        let of = move || UNITS.iter().filter(move |unit| unit.dimension == self);
        of().map(|unit| unit.name).chain(of().flat_map(|unit| unit.aliases.iter().copied()))
    }

    /// What two values of it differ by: of powers on a dB scale, a level.
    pub(crate) fn difference(self) -> Dimension {
        match self {
            Dimension::Power => Dimension::Level,
            other => other,
        }
    }

    /// The largest size in SI. Anything beyond is a slip of the unit, and sums, phases and powers of it would run
    /// out of digits.
    pub(crate) fn most(self) -> f64 {
        match self {
            Dimension::Length => 1e4,
            Dimension::Frequency => 1e13,
            Dimension::Angle => 1e5 * (PI / 180.0),
            Dimension::Level => 1e3,
            Dimension::LevelPerLength => 1e6,
            Dimension::LevelPerFrequency => 1e-3,
            Dimension::LevelPerTemperature => 1e2,
            Dimension::Power => 1e3,
            Dimension::AnglePerTemperature => 1e3 * (PI / 180.0),
            Dimension::Time => 1e7,
            Dimension::Temperature => 1e4,
            Dimension::RatioPerTemperature => 1e-1,
            Dimension::Conductivity => 1e9,
            Dimension::Ratio => 1e6,
        }
    }

    /// A text that is right: "38 mm".
    pub(crate) const fn example(self) -> &'static str {
        match self {
            Dimension::Length => "38 mm",
            Dimension::Frequency => "26 GHz",
            Dimension::Angle => "1.5 deg",
            Dimension::Level => "0.5 dB",
            Dimension::LevelPerLength => "50 dB/m",
            Dimension::LevelPerFrequency => "0.2 dB/GHz",
            Dimension::LevelPerTemperature => "-0.02 dB/K",
            Dimension::Power => "10 dBm",
            Dimension::AnglePerTemperature => "0.1 deg/K",
            Dimension::Time => "12 ms",
            Dimension::Temperature => "25 degC",
            Dimension::RatioPerTemperature => "-80 ppm/K",
            Dimension::Conductivity => "58 MS/m",
            Dimension::Ratio => "5 %",
        }
    }

    /// What to write, with an example.
    pub(super) fn advice(self) -> String {
        if self == Dimension::Ratio {
            return "write a number, such as 0.05 or \"5 %\"".to_owned();
        }
        format!("write {} with its unit, such as \"{}\"", self.noun(), self.example())
    }
}

/// A unit: `si = value * times / per + zero`. Two factors, because 1000 is exact and 0.001 is not.
pub(super) struct Unit {
    /// As written for people.
    pub(super) name: &'static str,
    /// Other spellings that are read, without spaces.
    aliases: &'static [&'static str],
    pub(super) dimension: Dimension,
    times: f64,
    per: f64,
    /// Where its scale begins, in SI.
    zero: f64,
}

const fn unit(name: &'static str, dimension: Dimension, times: f64, per: f64) -> Unit {
    alias(name, &[], dimension, times, per)
}

const fn alias(
    name: &'static str,
    aliases: &'static [&'static str],
    dimension: Dimension,
    times: f64,
    per: f64,
) -> Unit {
    Unit { name, aliases, dimension, times, per, zero: 0.0 }
}

/// Inch and foot are exact by the international yard and pound agreement of 1959.
pub(super) const UNITS: &[Unit] = &[
    unit("m", Dimension::Length, 1.0, 1.0),
    unit("cm", Dimension::Length, 1.0, 1e2),
    unit("mm", Dimension::Length, 1.0, 1e3),
    // The micro sign and the Greek letter look alike and are both on keyboards.
    alias("um", &["\u{b5}m", "\u{3bc}m"], Dimension::Length, 1.0, 1e6),
    unit("nm", Dimension::Length, 1.0, 1e9),
    unit("in", Dimension::Length, 254.0, 1e4),
    unit("mil", Dimension::Length, 254.0, 1e7),
    unit("ft", Dimension::Length, 3048.0, 1e4),
    unit("Hz", Dimension::Frequency, 1.0, 1.0),
    unit("kHz", Dimension::Frequency, 1e3, 1.0),
    unit("MHz", Dimension::Frequency, 1e6, 1.0),
    unit("GHz", Dimension::Frequency, 1e9, 1.0),
    unit("THz", Dimension::Frequency, 1e12, 1.0),
    alias("deg", &["\u{b0}"], Dimension::Angle, PI, 180.0),
    unit("rad", Dimension::Angle, 1.0, 1.0),
    unit("mrad", Dimension::Angle, 1.0, 1e3),
    unit("dB", Dimension::Level, 1.0, 1.0),
    unit("dB/m", Dimension::LevelPerLength, 1.0, 1.0),
    unit("dB/cm", Dimension::LevelPerLength, 1e2, 1.0),
    unit("dB/mm", Dimension::LevelPerLength, 1e3, 1.0),
    unit("dB/in", Dimension::LevelPerLength, 1e4, 254.0),
    unit("dB/ft", Dimension::LevelPerLength, 1e4, 3048.0),
    alias("dB/100 ft", &["dB/100ft"], Dimension::LevelPerLength, 1e2, 3048.0),
    unit("dB/GHz", Dimension::LevelPerFrequency, 1.0, 1e9),
    unit("dB/MHz", Dimension::LevelPerFrequency, 1.0, 1e6),
    alias("dB/K", &["dB/degC"], Dimension::LevelPerTemperature, 1.0, 1.0),
    unit("dBm", Dimension::Power, 1.0, 1.0),
    alias("deg/K", &["deg/degC"], Dimension::AnglePerTemperature, PI, 180.0),
    unit("s", Dimension::Time, 1.0, 1.0),
    unit("ms", Dimension::Time, 1.0, 1e3),
    alias("us", &["\u{b5}s", "\u{3bc}s"], Dimension::Time, 1.0, 1e6),
    unit("ns", Dimension::Time, 1.0, 1e9),
    unit("ps", Dimension::Time, 1.0, 1e12),
    unit("min", Dimension::Time, 60.0, 1.0),
    unit("h", Dimension::Time, 3600.0, 1.0),
    // The zero of the Celsius scale is exact by definition.
    Unit { zero: 273.15, ..alias("degC", &["\u{b0}C"], Dimension::Temperature, 1.0, 1.0) },
    unit("K", Dimension::Temperature, 1.0, 1.0),
    alias("ppm/K", &["ppm/degC"], Dimension::RatioPerTemperature, 1.0, 1e6),
    unit("S/m", Dimension::Conductivity, 1.0, 1.0),
    unit("MS/m", Dimension::Conductivity, 1e6, 1.0),
    unit("%", Dimension::Ratio, 1.0, 1e2),
    unit("ppm", Dimension::Ratio, 1.0, 1e6),
];

/// A ratio may stand without a unit.
pub(super) static PLAIN: Unit = unit("", Dimension::Ratio, 1.0, 1.0);

impl Unit {
    /// A value in this unit, in SI.
    pub(super) fn to_si(&self, value: f64) -> f64 {
        value * self.times / self.per + self.zero
    }

    /// An SI value written in this unit, with up to six significant digits.
    pub(super) fn write(&self, si: f64) -> String {
        let value = digits((si - self.zero) * self.per / self.times);
        match self.name {
            "" => value,
            name => format!("{value} {name}"),
        }
    }

    pub(super) fn is_named(&self, word: &str, same: impl Fn(&str, &str) -> bool) -> bool {
        same(self.name, word) || self.aliases.iter().any(|alias| same(alias, word))
    }
}

/// The units of a dimension: "m, cm, mm".
pub(super) fn units_of(dimension: Dimension) -> String {
    let of = UNITS.iter().filter(|unit| unit.dimension == dimension);
    of.map(|unit| unit.name).collect::<Vec<_>>().join(", ")
}

/// A number with up to six significant digits and no trailing zeros.
pub(super) fn digits(value: f64) -> String {
    // Writing and reading decimals is exact, so that this rounds alike everywhere.
    let rounded: f64 = format!("{value:.5e}").parse().unwrap_or(value);
    let size = rounded.abs();
    if rounded == 0.0 {
        "0".to_owned()
    } else if size.is_finite() && !(1e-4..1e9).contains(&size) {
        format!("{rounded:e}")
    } else {
        format!("{rounded}")
    }
}
