//! Version 1: an option line and rows, one a line; for an amplifier, noise parameters after them.

use super::numbers::{A_ROW, Line, Row, check_rise, numbers};
use super::{Judge, Options, options};

/// Numbers of a row of noise parameters.
pub(super) const A_NOISE_ROW: usize = 5;

/// The options and the rows; `None` where nothing can be said of them.
pub(super) fn read(judge: &Judge, lines: &[Line]) -> Option<(Options, Vec<Row>)> {
    let mut found = None;
    let mut rows: Vec<Row> = Vec::new();
    let mut last = None;
    let mut noise: Option<f64> = None;
    for line in lines {
        if options::is_option_line(line) {
            if found.is_some() {
                options::refuse_second(judge, line);
            } else {
                found = Some(options::read(judge, line));
            }
            continue;
        }
        if let Some(keyword) = line.keyword() {
            let message = format!("`[{}]` in a file without a version", keyword.name);
            let help = "`[Version] 2.0` as the first line, or no keywords at all";
            judge.refuse(line.span(), message, "keywords are those of version 2", help);
            return None;
        }
        if found.is_none() {
            options::refuse_missing(judge, line);
            return None;
        }
        let Some(numbers) = numbers(judge, line) else { continue };
        let frequency = numbers[0].0;
        if noise.is_none() && numbers.len() == A_NOISE_ROW && last.is_some_and(|last| frequency <= last) {
            // The frequency falls: noise parameters begin.
            noise = Some(f64::NEG_INFINITY);
        }
        if let Some(last_noise) = noise {
            check_noise(judge, line, numbers.len(), frequency, last_noise);
            noise = Some(frequency);
            continue;
        }
        let Ok(values) =
            <[f64; A_ROW]>::try_from(numbers.iter().map(|(number, _)| *number).collect::<Vec<_>>())
        else {
            refuse_length(judge, line, numbers.len());
            if rows.is_empty() {
                // Each further row would be as wrong.
                return None;
            }
            continue;
        };
        let row = Row { numbers: values, frequency: numbers[0].1.span.clone(), line: line.span() };
        if check_rise(judge, last, &row) {
            last = Some(frequency);
            rows.push(row);
        }
    }
    let Some(options) = found else {
        options::refuse_missing(judge, lines.first()?);
        return None;
    };
    if rows.is_empty() && judge.flaws.get() == 0 {
        judge.refuse(
            lines.last()?.span(),
            "no data",
            "nothing follows",
            "rows of nine numbers under the option line",
        );
    }
    (!rows.is_empty()).then_some((options, rows))
}

/// Refuses a row of noise parameters that is none; they are of no use here, but what is misread as noise would be lost.
pub(super) fn check_noise(judge: &Judge, line: &Line, numbers: usize, frequency: f64, last: f64) {
    if numbers != A_NOISE_ROW {
        let message = format!("{numbers} numbers in a row of noise parameters");
        let help = "five numbers a row, from where the frequency falls: frequency, minimum noise figure, size and \
                    angle of the reflection, noise resistance";
        judge.refuse(line.span(), message, "five are expected", help);
    } else if frequency <= last {
        let message =
            format!("the frequencies of the noise parameters do not rise: {frequency} after {last}");
        judge.refuse(line.span(), message, "", "rows in the order of their frequencies, each once");
    }
}

fn refuse_length(judge: &Judge, line: &Line, numbers: usize) {
    let looks_like = match numbers {
        3 => "; a file of one port has three",
        7 => "; a file of three ports has seven in the first line of a frequency, and six more",
        8 => "; a file of four ports has eight in most lines",
        _ => "",
    };
    let help = format!(
        "nine numbers a row and a line, the frequency and four pairs: S11, S21, S12, S22{looks_like}"
    );
    let message = format!("{numbers} numbers in a row of a two-port");
    judge.refuse(line.span(), message, "nine are expected", help);
}
