//! Version 2.0: keywords, then the network data between `[Network Data]` and `[End]`.

use super::numbers::{A_ROW, Keyword, Line, Row, check_rise, numbers};
use super::version_1::{A_NOISE_ROW, check_noise};
use super::{Judge, Options, options};
use crate::io::diagnostic::{Span, shown};

/// Where in a file a line stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Section {
    Head,
    /// Resistances may go on over several lines.
    Reference,
    /// Free text.
    Information,
    Network,
    Noise,
    Ended,
}

/// What the keywords say.
#[derive(Default)]
struct Head {
    options: Option<Options>,
    ports: Option<usize>,
    /// True for `12_21`.
    is_swapped: Option<bool>,
    frequencies: Option<(usize, Span)>,
    noise_frequencies: Option<(usize, Span)>,
    reference: Vec<f64>,
    reference_at: Option<Span>,
}

/// The options and the rows; `None` where nothing can be said of them.
pub(super) fn read(judge: &Judge, lines: &[Line]) -> Option<(Options, Vec<Row>)> {
    let (version, rest) = lines.split_first()?;
    let number = version.keyword()?.argument;
    if number != "2.0" {
        let message = format!("version `{}`", shown(number));
        let help = "`[Version] 2.0`, or no such line in a file of version 1";
        judge.refuse(version.span(), message, "this version is not read", help);
        return None;
    }
    let mut head = Head::default();
    let mut section = Section::Head;
    let mut network = Network::default();
    let mut noise_rows = 0;
    let mut last_noise = f64::NEG_INFINITY;
    for line in rest {
        if section == Section::Information {
            if line.keyword().is_some_and(|keyword| keyword.is("End Information")) {
                section = Section::Head;
            }
        } else if let Some(keyword) = line.keyword() {
            section = head.take(judge, line, &keyword, section)?;
        } else if options::is_option_line(line) {
            match head.options {
                Some(_) => options::refuse_second(judge, line),
                None => head.options = Some(options::read(judge, line)),
            }
        } else {
            match section {
                Section::Reference => {
                    let more = numbers(judge, line).unwrap_or_default();
                    head.reference.extend(more.into_iter().map(|(number, _)| number));
                }
                Section::Network => network.take(judge, line)?,
                Section::Noise => {
                    let Some(numbers) = numbers(judge, line) else { continue };
                    check_noise(judge, line, numbers.len(), numbers[0].0, last_noise);
                    last_noise = numbers[0].0;
                    noise_rows += usize::from(numbers.len() == A_NOISE_ROW);
                }
                Section::Ended => {
                    judge.refuse(
                        line.span(),
                        "something after `[End]`",
                        "nothing reads this",
                        "nothing after `[End]`",
                    );
                    break;
                }
                _ => {
                    let help = "a keyword in brackets, or data under `[Network Data]`";
                    judge.refuse(line.span(), "a line that says nothing", "no keyword", help);
                    return None;
                }
            }
        }
    }
    let end = lines.last()?.span();
    if section != Section::Ended {
        judge.refuse(
            end.clone(),
            "no `[End]`",
            "the file ends here",
            "`[End]` as the last line: is the file whole?",
        );
    }
    head.check(judge, end.clone(), noise_rows);
    network.check(judge, end, head.frequencies.as_ref());
    if head.is_swapped == Some(true) {
        network.rows.iter_mut().for_each(|row| {
            row.numbers.swap(3, 5);
            row.numbers.swap(4, 6);
        });
    }
    Some((head.options?, network.rows))
}

impl Head {
    /// Takes a keyword and says what the lines after it are; `None` where what follows cannot be judged.
    fn take(&mut self, judge: &Judge, line: &Line, keyword: &Keyword, section: Section) -> Option<Section> {
        let span = line.span();
        let argument = keyword.argument;
        let twice = |is_twice: bool| {
            if is_twice {
                let message = format!("`[{}]` stands twice", shown(keyword.name));
                judge.refuse(line.span(), message, "stated before", "leave one of the two out");
            }
        };
        let count = || {
            let count = argument.parse::<usize>().ok();
            if count.is_none() {
                let message = format!("`[{}]` without a number", shown(keyword.name));
                judge.refuse(
                    line.span(),
                    message,
                    "a whole number is expected",
                    "a whole number after the keyword",
                );
            }
            count
        };
        if matches!(section, Section::Network | Section::Noise)
            && !(keyword.is("Noise Data") || keyword.is("End"))
        {
            let message = format!("`[{}]` among the data", shown(keyword.name));
            judge.refuse(span, message, "", "`[End]` after the data, and all other keywords before them");
            return None;
        }
        if keyword.is("Number of Ports") {
            twice(self.ports.is_some());
            self.ports = count();
            if let Some(ports) = self.ports.filter(|ports| *ports != 2) {
                judge.refuse(
                    span,
                    format!("a file of {ports} ports"),
                    "two are expected",
                    "a file of two ports",
                );
                return None;
            }
        } else if keyword.is("Two-Port Data Order") {
            twice(self.is_swapped.is_some());
            self.is_swapped = match argument {
                "21_12" => Some(false),
                "12_21" => Some(true),
                _ => {
                    let message = format!("`{}` is no order of data", shown(argument));
                    judge.refuse(span, message, "", "`21_12` where S21 stands before S12, else `12_21`");
                    Some(false)
                }
            };
        } else if keyword.is("Number of Frequencies") {
            twice(self.frequencies.is_some());
            self.frequencies = count().map(|count| (count, span));
        } else if keyword.is("Number of Noise Frequencies") {
            twice(self.noise_frequencies.is_some());
            self.noise_frequencies = count().map(|count| (count, span));
        } else if keyword.is("Reference") {
            twice(self.reference_at.is_some());
            self.reference_at = Some(span);
            let words = line.words(line.text.len() - argument.len());
            for word in words {
                match word.text.parse::<f64>() {
                    Ok(ohms) => self.reference.push(ohms),
                    Err(_) => judge.refuse(
                        word.span,
                        format!("`{}` is no number", shown(word.text)),
                        "",
                        "a resistance, ohms",
                    ),
                }
            }
            return Some(Section::Reference);
        } else if keyword.is("Matrix Format") {
            if !argument.eq_ignore_ascii_case("Full") {
                let message = format!("the matrix format `{}`", shown(argument));
                judge.refuse(
                    span,
                    message,
                    "this is not read",
                    "`[Matrix Format] Full`, with all four parameters",
                );
                return None;
            }
        } else if keyword.is("Begin Information") {
            return Some(Section::Information);
        } else if keyword.is("Network Data") {
            if self.options.is_none() {
                options::refuse_missing(judge, line);
                return None;
            }
            return Some(Section::Network);
        } else if keyword.is("Noise Data") {
            return Some(Section::Noise);
        } else if keyword.is("End") {
            return Some(Section::Ended);
        } else {
            let (label, help) = if keyword.is("Mixed-Mode Order") {
                ("mixed-mode data are not read", "single-ended parameters of two ports")
            } else {
                ("this is not read", "keywords of version 2.0 for a file of two ports")
            };
            judge.refuse(span, format!("the keyword `[{}]`", shown(keyword.name)), label, help);
        }
        Some(Section::Head)
    }

    /// Refuses a head that lacks what must be there.
    fn check(&self, judge: &Judge, end: Span, noise_rows: usize) {
        let missing = |is_there: bool, keyword: &str, example: &str| {
            if !is_there {
                let message = format!("no `[{keyword}]`");
                judge.refuse(
                    end.clone(),
                    message,
                    "the file ends here",
                    format!("`[{keyword}] {example}` before the data"),
                );
            }
        };
        if self.options.is_none() && judge.flaws.get() == 0 {
            judge.refuse(
                end.clone(),
                "no option line",
                "the file ends here",
                "`# GHz S MA R 50` after the version",
            );
        }
        missing(self.ports.is_some(), "Number of Ports", "2");
        missing(self.is_swapped.is_some(), "Two-Port Data Order", "21_12");
        missing(self.frequencies.is_some() || judge.flaws.get() > 0, "Number of Frequencies", "401");
        if let Some(span) = &self.reference_at {
            let is_sound = self.reference.len() == 2
                && self.reference.iter().all(|ohms| *ohms > 0.0 && ohms.is_finite());
            if !is_sound {
                let message = "`[Reference]` does not give a resistance for each port";
                judge.refuse(span.clone(), message, "", "two numbers above zero, ohms");
            }
        }
        if let Some((stated, span)) = &self.noise_frequencies
            && *stated != noise_rows
        {
            let message = format!("{noise_rows} rows of noise parameters where {stated} are stated");
            judge.refuse(span.clone(), message, "", "as many as there are: is the file whole?");
        }
    }
}

/// Numbers as they come: a row may go on over several lines, but begins a line of its own.
#[derive(Default)]
struct Network {
    rows: Vec<Row>,
    /// Numbers of the row that is not complete yet.
    pending: Vec<f64>,
    /// Place of its frequency, and of its first line.
    began: Option<(Span, Span)>,
}

impl Network {
    /// Takes a line; `None` where what follows cannot be distinguished.
    fn take(&mut self, judge: &Judge, line: &Line) -> Option<()> {
        let numbers = numbers(judge, line)?;
        if self.pending.is_empty() {
            self.began = Some((numbers[0].1.span.clone(), line.span()));
        }
        self.pending.extend(numbers.iter().map(|(number, _)| *number));
        if self.pending.len() < A_ROW {
            return Some(());
        }
        let (frequency, first) = self.began.take()?;
        let Ok(numbers) = <[f64; A_ROW]>::try_from(std::mem::take(&mut self.pending)) else {
            let help = "nine numbers for each frequency, the next one on a line of its own";
            judge.refuse(line.span(), "more than nine numbers for a frequency", "some are too many", help);
            return None;
        };
        let row = Row { numbers, frequency, line: first };
        // After a slip of a number all that follows would be misread.
        check_rise(judge, self.rows.last().map(|row| row.numbers[0]), &row).then(|| self.rows.push(row))
    }

    fn check(&self, judge: &Judge, end: Span, stated: Option<&(usize, Span)>) {
        if let Some((_, line)) = &self.began {
            let message = format!("{} numbers for a frequency", self.pending.len());
            judge.refuse(
                line.clone(),
                message,
                "nine are expected",
                "nine numbers: the frequency and four pairs",
            );
        } else if self.rows.is_empty() {
            judge.refuse(end, "no data", "the file ends here", "rows of nine numbers under `[Network Data]`");
        } else if let Some((stated, span)) = stated
            && *stated != self.rows.len()
        {
            let message = format!("{} frequencies where {stated} are stated", self.rows.len());
            judge.refuse(span.clone(), message, "", "as many as there are: is the file whole?");
        }
    }
}
