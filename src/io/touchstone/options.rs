//! The option line: `# GHz S MA R 50`.

use super::Judge;
use super::numbers::Line;
use crate::io::diagnostic::shown;
use crate::io::suggest::closest;

/// How a pair of numbers stands for a complex one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Format {
    /// dB and degrees.
    LevelAngle,
    /// Magnitude and degrees.
    SizeAngle,
    /// Real and imaginary part.
    RealImaginary,
}

impl Format {
    pub(super) fn name(self) -> &'static str {
        match self {
            Format::LevelAngle => "DB",
            Format::SizeAngle => "MA",
            Format::RealImaginary => "RI",
        }
    }
}

/// What an option line says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Options {
    /// Hertz in a unit of the frequencies.
    pub hertz: f64,
    pub format: Format,
}

const EXAMPLE: &str = "an option line such as `# GHz S MA R 50`";

/// What stands for what in an option line. Upper and lower case do not matter.
const UNITS: &[(&str, f64)] = &[("Hz", 1.0), ("kHz", 1e3), ("MHz", 1e6), ("GHz", 1e9)];
const FORMATS: &[(&str, Format)] =
    &[("DB", Format::LevelAngle), ("MA", Format::SizeAngle), ("RI", Format::RealImaginary)];
const OTHER_PARAMETERS: &[&str] = &["Y", "Z", "H", "G"];

/// Whether a line is an option line.
pub(super) fn is_option_line(line: &Line) -> bool {
    line.text.starts_with('#')
}

/// Reads an option line. What it does not state is that of the specification: GHz, S, MA, R 50.
pub(super) fn read(judge: &Judge, line: &Line) -> Options {
    let mut options = Options { hertz: 1e9, format: Format::SizeAngle };
    let mut stated = [false; 4];
    let mut words = line.words(1);
    while let Some(word) = words.next() {
        let is = |name: &str| word.text.eq_ignore_ascii_case(name);
        let unit = UNITS.iter().find(|(name, _)| is(name));
        let format = FORMATS.iter().find(|(name, _)| is(name));
        let which = if let Some((_, hertz)) = unit {
            options.hertz = *hertz;
            0
        } else if let Some((_, of)) = format {
            options.format = *of;
            1
        } else if is("S") {
            2
        } else if is("R") {
            let value = words.next();
            let ohms = value.as_ref().and_then(|value| value.text.parse::<f64>().ok());
            if !ohms.is_some_and(|ohms| ohms > 0.0 && ohms.is_finite()) {
                let span = value.map_or(word.span.clone(), |value| value.span);
                judge.refuse(span, "`R` without a resistance", "a number above zero is expected", EXAMPLE);
            }
            3
        } else if OTHER_PARAMETERS.iter().any(|name| is(name)) {
            let message = format!("{}-parameters", word.text.to_ascii_uppercase());
            let help = "S-parameters: let the program that wrote the file write those";
            judge.refuse(word.span, message, "these are not read", help);
            continue;
        } else {
            let known = UNITS.iter().map(|(name, _)| *name).chain(FORMATS.iter().map(|(name, _)| *name));
            let help = match closest(word.text, known) {
                Some(known) => format!(
                    "did you mean `{known}`? a unit is one of Hz, kHz, MHz, GHz, a format one of DB, MA, RI"
                ),
                None => "a unit (Hz, kHz, MHz, GHz), `S`, a format (DB, MA, RI), and `R` with a resistance"
                    .to_owned(),
            };
            let message = format!("unknown word `{}` in the option line", shown(word.text));
            judge.refuse(word.span, message, "no unit, parameter or format", help);
            continue;
        };
        if std::mem::replace(&mut stated[which], true) {
            let what = ["a unit", "a format", "a parameter", "a resistance"][which];
            judge.refuse(
                word.span,
                format!("{what} is stated twice"),
                "stated before",
                "leave one of the two out",
            );
        }
    }
    options
}

/// Refuses a file without an option line.
pub(super) fn refuse_missing(judge: &Judge, before: &Line) {
    judge.refuse(
        before.span(),
        "data without an option line",
        "stands before it",
        format!("{EXAMPLE} first"),
    );
}

/// Refuses a second option line.
pub(super) fn refuse_second(judge: &Judge, line: &Line) {
    judge.refuse(line.span(), "a second option line", "one was read before", "one option line a file");
}
