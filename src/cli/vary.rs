//! `--vary "KEY=VALUES"`: a parameter and its values.

use crate::cli::asked::named;
use crate::decide::{Vary, in_steps};
use crate::io::Amount;

/// Most values of one parameter.
const MOST: usize = 1000;

/// Reads "shifter.bits=3..8", "jumper.length.sd=0.1 mm..0.5 mm in 5", "... by 0.1 mm" or a list, "0.1 mm, 0.2 mm, 0.5 mm".
pub(super) fn vary(text: &str) -> Result<Vary, String> {
    let (parameter, text) = named(text)?;
    let values = match text.split_once("..") {
        Some((from, to)) if !text.contains(['"', '[', '{']) => range(from, to)?,
        _ => list(text)?,
    };
    if let Some(again) =
        values.iter().enumerate().find_map(|(i, value)| values[..i].contains(value).then_some(value))
    {
        return Err(format!("the value `{again}` appears twice"));
    }
    Ok(Vary { parameter, values })
}

/// Splits at commas outside brackets, braces and quotes.
fn list(text: &str) -> Result<Vec<String>, String> {
    let (mut values, mut depth, mut is_quoted) = (vec![String::new()], 0u32, false);
    for c in text.chars() {
        match c {
            '"' => is_quoted = !is_quoted,
            '[' | '{' if !is_quoted => depth += 1,
            ']' | '}' if !is_quoted => depth = depth.saturating_sub(1),
            ',' if !is_quoted && depth == 0 => {
                values.push(String::new());
                continue;
            }
            _ => {}
        }
        if let Some(value) = values.last_mut() {
            value.push(c);
        }
    }
    let values: Vec<String> = values.iter().map(|value| value.trim().to_owned()).collect();
    match values.len() {
        _ if values.iter().any(String::is_empty) => {
            Err(format!("`{text}` has an empty value between its commas"))
        }
        count if count > MOST => Err(format!("{count} values of one parameter: at most {MOST}")),
        _ => Ok(values),
    }
}

fn range(from: &str, to: &str) -> Result<Vec<String>, String> {
    let (to, steps) = match (to.split_once(" by "), to.split_once(" in ")) {
        (Some((to, step)), _) => (to, Some((true, step))),
        (None, Some((to, count))) => (to, Some((false, count))),
        (None, None) => (to, None),
    };
    let (from, to) = ends(from, to)?;
    let count = |step: f64| ((to.number - from.number) / step * (1.0 + 1e-9)).floor() + 1.0;
    let (step, count) = match steps {
        None if from.is_count() && to.is_count() => (1.0, count(1.0)),
        None => {
            return Err(format!(
                "how many values from {from} to {to}? write `{from}..{to} in 5`, or `by` and a step"
            ));
        }
        Some((true, step)) => {
            let step = Amount::parse(step)
                .filter(|step| step.number > 0.0 && (step.unit == from.unit || step.unit.is_empty()));
            let step = step.ok_or_else(|| {
                format!(
                    "`by` takes a step above zero in the unit of the range, such as {from}..{to} by {}",
                    from.with((to.number - from.number) / 4.0)
                )
            })?;
            (step.number, count(step.number))
        }
        Some((false, count)) => {
            let count = count.trim().parse().ok().filter(|count: &u32| *count >= 2);
            let count = count.ok_or_else(|| "`in` takes a whole number from 2, such as `in 5`".to_owned())?;
            ((to.number - from.number) / f64::from(count - 1), f64::from(count))
        }
    };
    if count > MOST as f64 {
        return Err(format!("{count} values of one parameter: at most {MOST}"));
    }
    let last = matches!(steps, Some((false, _))).then_some(to.number);
    Ok(in_steps(&from, step, count as usize, last))
}

/// The ends of a range in one unit, the lower first; it may leave its unit to the upper.
pub(super) fn ends(from: &str, to: &str) -> Result<(Amount, Amount), String> {
    let read = |text: &str| {
        Amount::parse(text)
            .ok_or_else(|| format!("`{}` is no end of a range: expected a number with its unit", text.trim()))
    };
    let (mut from, to) = (read(from)?, read(to)?);
    if from.unit.is_empty() {
        from.unit.clone_from(&to.unit);
    }
    if from.unit != to.unit {
        return Err(format!("the range from {from} to {to} has two units: write both ends in one"));
    }
    if from.number > to.number {
        return Err(format!(
            "the range {from}..{to} runs backwards: the lower end comes first, such as {to}..{from}"
        ));
    }
    if from.number == to.number {
        return Err(format!("the range {from}..{to} is one value: a range needs two ends"));
    }
    Ok((from, to))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn values(text: &str) -> Vec<String> {
        vary(&format!("a.b={text}")).unwrap().values
    }

    #[test]
    fn ranges_and_lists_are_spelt_out() {
        assert_eq!(values("3..6"), ["3", "4", "5", "6"]);
        assert_eq!(values("0.1 mm..0.5 mm in 3"), ["0.1 mm", "0.3 mm", "0.5 mm"]);
        assert_eq!(values("0 mm..1 mm in 4"), ["0 mm", "0.3333 mm", "0.6667 mm", "1 mm"]);
        assert_eq!(values("100000 GHz..100001 GHz in 4")[1], "100000.3333 GHz");
        assert_eq!(values("0..1000000 in 4"), ["0", "333300", "666700", "1000000"]);
        assert_eq!(values("0.0123456 mm..1.0123456 mm in 2"), ["0.0123456 mm", "1.0123456 mm"]);
        assert_eq!(values("0.1..0.4 mm by 0.1 mm"), ["0.1 mm", "0.2 mm", "0.3 mm", "0.4 mm"]);
        assert_eq!(values("2..9 by 3"), ["2", "5", "8"]);
        assert_eq!(values("0.1 mm, 0.2 mm,0.5 mm"), ["0.1 mm", "0.2 mm", "0.5 mm"]);
        assert_eq!(values("[1, 2], { a = 1, b = 2 }, \"x, y\""), ["[1, 2]", "{ a = 1, b = 2 }", "\"x, y\""]);
        assert_eq!(values("peak, null"), ["peak", "null"]);
        assert_eq!(values("6"), ["6"]);
    }

    #[test]
    fn a_bad_range_is_refused_with_an_example() {
        for (text, reason) in [
            ("8..3", "runs backwards: the lower end comes first, such as 3..8"),
            ("0.5 mm..0.1 mm in 3", "runs backwards"),
            ("3..3", "is one value"),
            ("0.1 mm..0.5 mm", "in 5"),
            ("0.1 mm..0.5 in..3", "two units"),
            ("1 mm..2 deg in 3", "two units"),
            ("a..b", "no end of a range"),
            ("1..5 by 0", "above zero"),
            ("1..5 by -1", "above zero"),
            ("1 mm..5 mm by 1 deg", "in the unit of the range"),
            ("1..5 in 1", "from 2"),
            ("1..5 in 2.5", "from 2"),
            ("1..5 by 1e-9", "at most 1000"),
            ("1,,2", "empty value"),
            ("1,2,1", "`1` appears twice"),
            ("", "gives nothing a value"),
        ] {
            let refused = vary(&format!("a.b={text}")).unwrap_err();
            assert!(refused.contains(reason), "{text}: {refused}");
        }
    }
}
