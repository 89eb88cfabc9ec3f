//! Shares and gains for people.

use crate::decide::budget::{FigureBudget, Group};
use crate::report::BudgetRun;
use crate::report::number::{ABSENT, counted, estimate, rounded, significant};
use crate::stats::Estimate;

/// Columns of a cause's name before it continues on a second line.
const NAME: usize = 22;

/// A cause's name in a table's cell: a long one is broken behind its last point.
pub(super) fn shown(name: &str) -> String {
    match name.rsplit_once('.') {
        Some((whole, part)) if name.chars().count() > NAME => format!("{whole}.\n  {part}"),
        _ => name.to_owned(),
    }
}

/// A share of 1 in percent, rounded by its interval; one that may be 0 is given as its upper bound.
pub(super) fn in_percent(of: &Estimate) -> String {
    match share(of) {
        Ok(share) => format!("{share} %"),
        Err(most) => format!("under {most} %"),
    }
}

/// The same in a column of percents.
pub(super) fn share_cell(of: &Estimate) -> String {
    share(of).unwrap_or_else(|most| format!("< {most}"))
}

/// The share, or its upper bound where it may be 0. An estimate may be outside of 0 to 1; the printed value is not.
fn share(of: &Estimate) -> Result<String, String> {
    let scaled = scaled(of);
    if of.low > 0.0 && scaled.value >= LEAST {
        Ok(estimate(&Estimate { value: scaled.value.min(100.0), ..scaled }))
    } else {
        Err(up(scaled.high.clamp(LEAST, 100.0)))
    }
}

/// The least share that is shown, percent.
const LEAST: f64 = 0.1;

/// The interval of a share of 1 in percent, clamped to 0 to 100 % and rounded outward.
pub(super) fn between(of: &Estimate) -> String {
    format!("{} %", interval_cell(of))
}

/// The same in a column of percents.
pub(super) fn interval_cell(of: &Estimate) -> String {
    let scaled = scaled(of);
    format!("{} to {}", down(scaled.low.clamp(0.0, 100.0)), up(scaled.high.clamp(LEAST, 100.0)))
}

/// A share and its interval; of one that may be 0 the upper bound alone.
pub(super) fn with_interval(of: &Estimate) -> String {
    match share(of) {
        Ok(share) => format!("{share} % ({})", between(of)),
        Err(most) => format!("under {most} %"),
    }
}

/// The interval of a difference of shares in points, with signs, rounded outward.
pub(super) fn points(of: &Estimate) -> String {
    let scaled = scaled(of);
    let signed = |text: String| if text.starts_with('-') || text == "0" { text } else { format!("+{text}") };
    format!("{} to {}", signed(down(scaled.low)), signed(up(scaled.high)))
}

/// A difference of shares in points and its interval.
pub(super) fn gain(of: &Estimate) -> String {
    format!("{} points ({})", estimate(&scaled(of)), points(of))
}

/// The same in two columns: "32", "+30 to +34".
pub(super) fn gain_cells(of: &Estimate) -> [String; 2] {
    [estimate(&scaled(of)), points(of)]
}

/// Names of some causes: "a", "a and b", "a, b and c".
pub(super) fn named(run: &BudgetRun, causes: &[usize], joined_by: &str) -> String {
    let names: Vec<&str> = causes.iter().map(|cause| run.budget.causes[*cause].name.as_str()).collect();
    match names.as_slice() {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [others @ .., last] => format!("{} {joined_by} {last}", others.join(", ")),
    }
}

/// "Only together a and b gain 30 points (+28 to +32): neither is shown to gain by itself."
pub(super) fn together(run: &BudgetRun, group: &Group) -> String {
    let names = named(run, &group.causes, "and");
    let by = gain(&group.gain.gain);
    if group.any_alone {
        let one_by_one = significant(100.0 * group.one_by_one, 2);
        return format!("Together {names} gain {by}; one by one they add up to {one_by_one}.");
    }
    let none = if group.causes.len() == 2 { "neither" } else { "none of them" };
    format!("Only together {names} gain {by}: {none} is shown to gain by itself.")
}

fn scaled(of: &Estimate) -> Estimate {
    Estimate { value: 100.0 * of.value, low: 100.0 * of.low, high: 100.0 * of.high, ..of.clone() }
}

/// Rounded down to a tenth below ten, else to a whole number; finer where that would give 0.
fn down(percent: f64) -> String {
    let scale = scale(percent);
    significant((percent * scale + 1e-9).floor() / scale, 3)
}

fn up(percent: f64) -> String {
    let scale = scale(percent);
    significant((percent * scale - 1e-9).ceil() / scale, 3)
}

fn scale(percent: f64) -> f64 {
    match percent.abs() {
        size if size < 0.01 => 10_000.0,
        size if size < 0.1 => 100.0,
        size if size < 10.0 => 10.0,
        _ => 1.0,
    }
}

/// Mean and standard deviation of a figure in its unit, and how many units are left out.
pub(super) fn spread(of: &FigureBudget, unit: &str) -> String {
    let moments = &of.moments;
    let mean =
        if moments.count > 0 { rounded(moments.mean, moments.standard_error()) } else { ABSENT.to_owned() };
    let sd = of.owned.sd.map_or("no spread".to_owned(), |sd| format!("sd {} {unit}", significant(sd, 3)));
    let left_out = match of.owned.left_out {
        0 => String::new(),
        count => format!(", {} without a number left out", counted(count, "unit")),
    };
    format!("mean {mean} {unit}, {sd}{left_out}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(value: f64, low: f64, high: f64) -> Estimate {
        Estimate { value, low, high, confidence: 0.95, method: "by hand", count: 1000 }
    }

    #[test]
    fn shares_are_rounded_by_their_interval() {
        let share = of(0.6314, 0.581, 0.679);
        assert_eq!((in_percent(&share), between(&share)), ("63 %".into(), "58 to 68 %".into()));
        let small = of(0.0214, 0.0192, 0.0231);
        assert_eq!((in_percent(&small), between(&small)), ("2.14 %".into(), "1.9 to 2.4 %".into()));
        // A share that may be 0 is given as its upper bound, and none is below 0.
        let none = of(-0.002, -0.011, 0.0061);
        assert_eq!((in_percent(&none), between(&none)), ("under 0.7 %".into(), "0 to 0.7 %".into()));
        assert_eq!((with_interval(&none), share_cell(&none)), ("under 0.7 %".into(), "< 0.7".into()));
        assert_eq!(with_interval(&small), "2.14 % (1.9 to 2.4 %)");
        assert_eq!(with_interval(&of(1.03, 0.971, 1.092)), "100 % (97 to 100 %)");
        assert_eq!(with_interval(&of(1.13, 1.021, 1.252)), "100 % (100 to 100 %)");
        assert_eq!(share_cell(&of(0.0004, 0.0003, 0.0005)), "< 0.1");
        assert_eq!(share_cell(&of(-0.002, -0.003, -0.001)), "< 0.1");
    }

    #[test]
    fn gains_carry_their_sign() {
        assert_eq!(points(&of(0.054, 0.0511, 0.0572)), "+5.1 to +5.8");
        assert_eq!(points(&of(0.0, -0.0011, 0.0008)), "-0.2 to +0.08");
        assert_eq!(gain(&of(0.054, 0.0511, 0.0572)), "5.4 points (+5.1 to +5.8)");
    }

    #[test]
    fn a_long_name_continues_on_a_second_line() {
        assert_eq!(shown("jumper.length"), "jumper.length");
        assert_eq!(shown("feed trace.effective_permittivity"), "feed trace.\n  effective_permittivity");
    }
}
