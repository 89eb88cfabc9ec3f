//! Ranges of values on the command line, "shifter.bits=3..9".

use crate::cli::vary::ends;
use crate::decide::{Find, Range};
use crate::study::Parameter;

type Checked<T> = std::result::Result<T, String>;

/// Reads "KEY" or "KEY=FROM..TO".
pub(super) fn find(text: &str) -> Checked<Find> {
    let (parameter, range) = match text.split_once('=') {
        Some((parameter, range)) => (parameter, Some(range_of(range)?)),
        None => (text, None),
    };
    Ok(Find { parameter: Parameter::parse(parameter).map_err(|lost| lost.message)?, range })
}

/// Reads a range of factors.
pub(super) fn factor(text: &str) -> Checked<Range> {
    let range = range_of(text)?;
    if !range.from.unit.is_empty() || range.from.number <= 0.0 {
        return Err("factors are numbers above 0, such as 0.5..2".to_owned());
    }
    Ok(range)
}

/// Reads "FROM..TO"; the first number may leave its unit out.
fn range_of(text: &str) -> Checked<Range> {
    let Some((from, to)) = text.split_once("..") else {
        let text = text.trim();
        return Err(format!("`{text}` is no range: expected FROM..TO, such as 3..9 or \"0.05 mm..1 mm\""));
    };
    let (from, to) = ends(from, to)?;
    Ok(Range { from, to })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_has_two_ends_in_one_unit() {
        let read = |text: &str| {
            let Find { parameter, range } = find(text).unwrap();
            (parameter.to_string(), range.map(|Range { from, to }| (from.to_string(), to.to_string())))
        };
        let of = |from: &str, to: &str| Some((from.to_owned(), to.to_owned()));
        assert_eq!(read("shifter.bits"), ("shifter.bits".to_owned(), None));
        assert_eq!(read("shifter.bits=3..9").1, of("3", "9"));
        assert_eq!(read("a.b = 0.05 mm .. 1 mm").1, of("0.05 mm", "1 mm"));
        assert_eq!(read("a.b=0.05..1 mm").1, of("0.05 mm", "1 mm"));
        assert_eq!(read("a.b=-20..-10 dB").1, of("-20 dB", "-10 dB"));
        assert!(factor("0.5..2").is_ok());
    }

    #[test]
    fn a_bad_range_is_refused() {
        for (text, reason) in [
            ("a.b=5", "expected FROM..TO"),
            ("a.b=", "expected FROM..TO"),
            ("a.b=x..y", "expected a number"),
            ("a.b=1 mm..2 deg", "two units"),
            ("a.b=1 mm..2", "two units"),
            ("a.b=9..3", "runs backwards: the lower end comes first, such as 3..9"),
            ("a.b=2 mm..2 mm", "is one value"),
            ("a..b=1..2", "addresses nothing"),
        ] {
            assert!(find(text).unwrap_err().contains(reason), "{text}");
        }
        for text in ["0..2", "-1..2", "1 mm..2 mm", "2..1", "2"] {
            assert!(factor(text).is_err(), "{text}");
        }
    }
}
