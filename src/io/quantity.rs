//! Text with a unit, as on a drawing, to SI and back.

use std::fmt;

use super::diagnostic::shown;
use super::unit::{PLAIN, UNITS, Unit, units_of};

pub(crate) use super::unit::Dimension;

/// Why a text is not the quantity that is expected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct QuantityError {
    /// What is wrong: "a unit is expected after 38".
    pub wrong: String,
    /// What would be right: "write a length with its unit, such as ...".
    pub right: String,
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.wrong, self.right)
    }
}

impl std::error::Error for QuantityError {}

fn refuse<T>(wrong: String, right: impl Into<String>) -> Result<T, QuantityError> {
    Err(QuantityError { wrong, right: right.into() })
}

/// Reads a quantity such as "38 mm" and returns it in SI (see [`Dimension`]).
///
/// # Errors
/// Says what is wrong and what would be right: no number or no unit, an unknown unit or one of
/// another dimension, a decimal comma, separated thousands, a number too large.
pub(crate) fn parse(text: &str, dimension: Dimension) -> Result<f64, QuantityError> {
    parse_with_unit(text, dimension).map(|(si, _)| si)
}

/// Like [`parse`], with the unit that the text is written in.
pub(super) fn parse_with_unit(
    text: &str,
    dimension: Dimension,
) -> Result<(f64, &'static Unit), QuantityError> {
    // Typeset minus signs come in by copy and paste.
    let text = text.trim().replace('\u{2212}', "-");
    let text = text.as_str();
    let (number, rest) = text.split_at(number_length(text));
    if text.is_empty() {
        return refuse(format!("the text is empty, {} is expected", dimension.noun()), dimension.advice());
    }
    if number.is_empty() {
        return refuse(format!("`{}` does not begin with a number", shown(text)), dimension.advice());
    }
    refuse_separators(text, rest)?;
    let unit = find_unit(number, rest.trim(), dimension)?;
    // The digits were picked by `number_length`, so that only their size can be at fault.
    let si = unit.to_si(number.parse().unwrap_or(f64::INFINITY));
    // A rounding error lets the largest itself pass in any of its units.
    let fits = si.abs() <= dimension.most() * (1.0 + 1e-12);
    if !fits {
        return refuse(
            format!("`{}` is too large", shown(text)),
            format!("{} is at most {} here", dimension.noun(), format(dimension.most(), dimension)),
        );
    }
    Ok((si, unit))
}

/// Writes an SI value in the unit a person would choose: "5.77 mm", "26 GHz", "12 min". Up to six
/// significant digits, no trailing zeros.
pub(crate) fn format(value_si: f64, dimension: Dimension) -> String {
    let size = value_si.abs();
    let name = match dimension {
        Dimension::Length if size == 0.0 => "mm",
        Dimension::Length if size < 1e-6 => "nm",
        Dimension::Length if size < 1e-4 => "um",
        Dimension::Length if size < 1.0 => "mm",
        Dimension::Length => "m",
        Dimension::Frequency if size == 0.0 => "GHz",
        Dimension::Frequency if size < 1e3 => "Hz",
        Dimension::Frequency if size < 1e6 => "kHz",
        Dimension::Frequency if size < 1e9 => "MHz",
        Dimension::Frequency if size < 1e12 => "GHz",
        Dimension::Frequency => "THz",
        Dimension::Angle => "deg",
        Dimension::Level => "dB",
        Dimension::LevelPerLength => "dB/m",
        Dimension::LevelPerFrequency => "dB/GHz",
        Dimension::LevelPerTemperature => "dB/K",
        Dimension::Power => "dBm",
        Dimension::AnglePerTemperature => "deg/K",
        Dimension::Temperature => "degC",
        Dimension::RatioPerTemperature => "ppm/K",
        Dimension::Conductivity if size < 1e6 => "S/m",
        Dimension::Conductivity => "MS/m",
        Dimension::Time if size == 0.0 => "s",
        Dimension::Time if size < 1e-9 => "ps",
        Dimension::Time if size < 1e-6 => "ns",
        Dimension::Time if size < 1e-3 => "us",
        Dimension::Time if size < 1.0 => "ms",
        Dimension::Time if size < 120.0 => "s",
        Dimension::Time if size < 7200.0 => "min",
        Dimension::Time => "h",
        Dimension::Ratio => "",
    };
    let unit = UNITS.iter().find(|unit| unit.name == name);
    unit.unwrap_or(&PLAIN).write(value_si)
}

/// The length in bytes of the number that a text begins with; 0 if it begins with none.
pub(super) fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let run = |from: usize| {
        let digits = bytes.get(from..).unwrap_or_default();
        digits.iter().take_while(|b| b.is_ascii_digit()).count()
    };
    let sign = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let whole = run(sign);
    let mut end = sign + whole;
    let mut fraction = 0;
    if bytes.get(end) == Some(&b'.') {
        fraction = run(end + 1);
        end += 1 + fraction;
    }
    if whole + fraction == 0 {
        return 0;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = run(end + 1 + sign);
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    end
}

/// Refuses what other countries write inside a number. Taking "1,000" for 1 or for 1000 would be
/// wrong for half of the readers.
fn refuse_separators(text: &str, rest: &str) -> Result<(), QuantityError> {
    let mark = rest.trim_start().chars().next();
    let digit_follows = || {
        let after = rest.trim_start().trim_start_matches(['_', '\'', '\u{2019}', '.']);
        after.starts_with(|c: char| c.is_ascii_digit())
    };
    if mark == Some(',') {
        refuse(
            format!("`{}` has a comma in the number", shown(text)),
            "use a point for decimals, and nothing between thousands",
        )
    } else if digit_follows() {
        refuse(
            format!("`{}` has more than one number", shown(text)),
            "write one number, with nothing between thousands",
        )
    } else {
        Ok(())
    }
}

/// The factors of a unit that stands in a column's name, where upper and lower case do not matter: "ghz".
pub(super) fn unit_in_name(word: &str, dimension: Dimension) -> Option<&'static Unit> {
    let same: fn(&str, &str) -> bool = |a, b| a.eq_ignore_ascii_case(b);
    UNITS.iter().find(|unit| unit.dimension == dimension && unit.is_named(word, same))
}

fn find_unit(number: &str, word: &str, dimension: Dimension) -> Result<&'static Unit, QuantityError> {
    if word.is_empty() {
        if dimension == Dimension::Ratio {
            return Ok(&PLAIN);
        }
        return refuse(format!("a unit is expected after {number}"), dimension.advice());
    }
    let spaceless: String = word.chars().filter(|c| !c.is_whitespace()).collect();
    let named = |same: fn(&str, &str) -> bool| {
        // The dimension that is expected comes first: "M" is a metre where a length is expected.
        let mut hits: Vec<_> = UNITS.iter().filter(|unit| unit.is_named(&spaceless, same)).collect();
        hits.sort_by_key(|unit| unit.dimension != dimension);
        hits.first().copied()
    };
    let unit = named(|a, b| a == b);
    match (unit, named(|a, b| a.eq_ignore_ascii_case(b))) {
        (Some(unit), _) if unit.dimension == dimension => Ok(unit),
        (Some(unit), _) => refuse(
            format!(
                "`{number} {}` is {}, {} is expected here",
                shown(word),
                unit.dimension.noun(),
                dimension.noun()
            ),
            dimension.advice(),
        ),
        (None, Some(unit)) => refuse(
            format!("unknown unit `{}`", shown(word)),
            format!("upper and lower case matter, write `{}`", unit.name),
        ),
        (None, None) => refuse(
            format!("unknown unit `{}`", shown(word)),
            format!("{} can be in {}", dimension.noun(), units_of(dimension)),
        ),
    }
}

#[cfg(test)]
mod tests;
