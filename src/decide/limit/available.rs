//! The part of a range that a study can have.

use super::{Refusal, Spacing, Span, significant};
use crate::design::{Checked, DesignError, NoSoundValue, Result};

/// Bisection steps toward the last value that a study can have.
const HALVINGS: usize = 12;

/// Values of a range to check where the study can have neither end.
const CHECKED: usize = 65;

/// Most whole numbers to check one by one from an end of a range.
const MOST: f64 = 4096.0;

/// The range from the first value to the last that a study can have, as far as bisection finds them, and the ends that it refuses. `own`
/// is a value of the study; `has` checks one.
///
/// # Errors
/// As `has`; and all refusals where the study can have no value of the range.
pub(in crate::decide) fn available(
    span: &Span,
    own: Option<f64>,
    has: &mut dyn FnMut(f64) -> Checked<Checked<()>>,
) -> Result<(Span, Vec<Refusal>)> {
    let (mut refused, mut all_refused) = (Vec::new(), NoSoundValue::default());
    let mut ends = [false; 2];
    for (is_there, value) in ends.iter_mut().zip([span.from, span.to]) {
        match has(value)? {
            Ok(()) => *is_there = true,
            Err(why) => {
                refused.push(Refusal { value, reason: why.reason() });
                all_refused.push(why);
            }
        }
    }
    let own = own.filter(|own| span.from < *own && *own < span.to);
    let mut inside = match (ends, own) {
        ([true, true], _) => return Ok((*span, refused)),
        ([true, false], _) => Some(span.from),
        ([false, true], _) => Some(span.to),
        ([false, false], own) => own,
    };
    let mut values = span.values(CHECKED).into_iter();
    while inside.is_none()
        && let Some(value) = values.next()
    {
        inside = has(value)?.is_ok().then_some(value);
    }
    let Some(inside) = inside else { return Err(DesignError::NoSoundValue(all_refused)) };
    let mut end = |is_there: bool, end: f64| match is_there {
        true => Ok(end),
        false => farthest(span.spacing, inside, end, has),
    };
    let (from, to) = (end(ends[0], span.from)?, end(ends[1], span.to)?);
    Ok((Span { from, to, ..*span }, refused))
}

/// The value closest to `end` that the study can have; it refuses `end` and has `inside`. Whole numbers are checked one by one from
/// `end`, others by bisection.
fn farthest(
    spacing: Spacing,
    inside: f64,
    end: f64,
    has: &mut dyn FnMut(f64) -> Checked<Checked<()>>,
) -> Checked<f64> {
    if spacing == Spacing::Whole && (inside - end).abs() <= MOST {
        let step = (inside - end).signum();
        let mut value = end + step;
        while value != inside && has(value)?.is_err() {
            value += step;
        }
        return Ok(value);
    }
    let middle = |inside: f64, outside: f64| match spacing {
        Spacing::Whole => (0.5 * (inside + outside)).round_ties_even(),
        // By their ratio, as in the search, where they have one.
        Spacing::Ratio if inside * outside > 0.0 => between(inside, outside),
        _ => significant(0.5 * (inside + outside)),
    };
    halved(inside, end, middle, |value| Ok(has(value)?.is_ok()))
}

/// The accepted value closest to `outside`, by bisection from `inside`.
pub(super) fn halved<E>(
    mut inside: f64,
    mut outside: f64,
    middle: impl Fn(f64, f64) -> f64,
    mut is_taken: impl FnMut(f64) -> std::result::Result<bool, E>,
) -> std::result::Result<f64, E> {
    for _ in 0..HALVINGS {
        let value = middle(inside, outside);
        if value == inside || value == outside {
            break;
        }
        if is_taken(value)? { inside = value } else { outside = value }
    }
    Ok(inside)
}

/// The geometric mean of two values.
pub(super) fn between(a: f64, b: f64) -> f64 {
    significant((a * b).sqrt())
}
