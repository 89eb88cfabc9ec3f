//! Lines of a Touchstone file, and rows of numbers.

use num_complex::Complex64;

use super::options::{Format, Options};
use super::{Judge, Scattering};
use crate::io::diagnostic::{Span, shown};

/// A line with its comment taken off, not empty, and its place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line<'t> {
    /// Where it begins in the text.
    start: usize,
    pub text: &'t str,
}

/// A word or number with its place.
#[derive(Clone, Debug)]
pub(super) struct Word<'t> {
    pub text: &'t str,
    pub span: Span,
}

/// `[Name] argument`.
pub(super) struct Keyword<'t> {
    pub name: &'t str,
    pub argument: &'t str,
}

/// The lines that say something.
pub(super) fn lines(text: &str) -> impl Iterator<Item = Line<'_>> {
    let mut start = 0;
    let lines = text.split_inclusive('\n').map(move |line| {
        let said = line.split('!').next().unwrap_or_default();
        let blank = said.len() - said.trim_start().len();
        let here = Line { start: start + blank, text: said.trim() };
        start += line.len();
        here
    });
    lines.filter(|line| !line.text.is_empty())
}

impl<'t> Line<'t> {
    pub(super) fn span(&self) -> Span {
        self.start..self.start + self.text.len()
    }

    /// The words of the line from its byte `from` on.
    pub(super) fn words(&self, from: usize) -> impl Iterator<Item = Word<'t>> + use<'t> {
        let start = self.start + from;
        let text = &self.text[from..];
        let mut end = 0;
        text.split_whitespace().map(move |word| {
            // Words come in their order, so the first hit after the last word is this one.
            let at = end + text[end..].find(word).unwrap_or(0);
            end = at + word.len();
            Word { text: word, span: start + at..start + end }
        })
    }

    /// The keyword that the line begins with.
    pub(super) fn keyword(&self) -> Option<Keyword<'t>> {
        let (name, argument) = self.text.strip_prefix('[')?.split_once(']')?;
        Some(Keyword { name: name.trim(), argument: argument.trim() })
    }
}

impl Keyword<'_> {
    /// Upper and lower case do not matter.
    pub(super) fn is(&self, name: &str) -> bool {
        self.name.eq_ignore_ascii_case(name)
    }
}

/// The numbers of a line; `None` after an error.
pub(super) fn numbers<'t>(judge: &Judge, line: &Line<'t>) -> Option<Vec<(f64, Word<'t>)>> {
    let read = |word: Word<'t>| match word.text.parse::<f64>() {
        Ok(number) if number.is_finite() => Some((number, word)),
        Ok(_) => {
            let message = format!("`{}` is not finite", shown(word.text));
            judge.refuse(word.span, message, "", "a finite number");
            None
        }
        Err(_) => {
            let help = match word.text.contains(',') {
                true => "numbers with a point for decimals, and blanks between them",
                false => "a plain number; comments begin with `!`",
            };
            let message = format!("`{}` is no number", shown(word.text));
            judge.refuse(word.span, message, "a number is expected", help);
            None
        }
    };
    let all: Vec<_> = line.words(0).map(read).collect();
    all.into_iter().collect()
}

/// Numbers of a frequency: itself and four pairs.
pub(super) const A_ROW: usize = 9;

/// What a file says of one frequency.
#[derive(Clone, Debug)]
pub(super) struct Row {
    /// The frequency and the pairs of S11, S21, S12, S22, as written.
    pub numbers: [f64; A_ROW],
    /// Place of the frequency.
    pub frequency: Span,
    pub line: Span,
}

impl Row {
    /// The frequency in Hz, and the parameters; `None` after an error.
    pub(super) fn in_si(&self, judge: &Judge, options: &Options) -> Option<(f64, Scattering)> {
        let frequency = self.numbers[0] * options.hertz;
        let pair = |first: usize| -> Complex64 {
            let (a, b) = (self.numbers[first], self.numbers[first + 1]);
            let polar = |size: f64| {
                // `crate::math` has the rank of this folder; this is what stands behind it.
                let (sine, cosine) = libm::sincos(b.to_radians());
                Complex64::new(size * cosine, size * sine)
            };
            match options.format {
                Format::RealImaginary => Complex64::new(a, b),
                Format::SizeAngle => polar(a),
                Format::LevelAngle => polar(libm::exp10(a / 20.0)),
            }
        };
        let [s11, s21, s12, s22] = [1, 3, 5, 7].map(pair);
        if frequency.is_finite() && [s11, s21, s12, s22].iter().all(|s| s.is_finite()) {
            return Some((frequency, Scattering { s11, s21, s12, s22 }));
        }
        let help = format!(
            "S-parameters of a size that a part can have; the option line says {}",
            options.format.name()
        );
        judge.refuse(self.line.clone(), "a number too large", "this is beyond all numbers", help);
        None
    }
}

/// Refuses frequencies that do not rise; false after an error.
pub(super) fn check_rise(judge: &Judge, last: Option<f64>, row: &Row) -> bool {
    let here = row.numbers[0];
    if here < 0.0 {
        judge.refuse(
            row.frequency.clone(),
            "a frequency below zero",
            "",
            "frequencies that rise from zero or above",
        );
        return false;
    }
    if let Some(last) = last
        && here <= last
    {
        let message = format!("the frequencies do not rise: {here} after {last}");
        judge.refuse(row.frequency.clone(), message, "", "rows in the order of their frequencies, each once");
        return false;
    }
    true
}
