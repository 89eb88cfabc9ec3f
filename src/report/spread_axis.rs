//! The range of an axis for a figure's spread and its limits.

use crate::model::Model;
use crate::study::Bound;

/// An axis is at most this many times as wide as the narrowest spread on it, limits included, so that each keeps its shape.
const WIDEST: f64 = 4.0;

/// A boundary between units that pass and units that fail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stop {
    /// Its value.
    pub value: f64,
    /// Whether units pass at it and below; otherwise at it and above.
    pub is_upper: bool,
}

/// The limits of a column, ascending; a limit on the size of a figure gives one of each sign.
pub(super) fn stops(model: &Model, column: usize) -> Vec<Stop> {
    let upper = |value| Stop { value, is_upper: true };
    let lower = |value| Stop { value, is_upper: false };
    let limits = model.limits.iter().filter(|limit| limit.column == column);
    let mut stops: Vec<Stop> = limits
        .flat_map(|limit| match limit.bound {
            Bound::AtMost(most) if limit.on_size => vec![lower(-most), upper(most)],
            Bound::AtMost(most) => vec![upper(most)],
            Bound::AtLeast(least) => vec![lower(least)],
        })
        .collect();
    stops.sort_by(|a, b| a.value.total_cmp(&b.value));
    stops.dedup();
    stops
}

/// The range of some spreads and the limits, ascending, unless some spread so much wider than others that these would lose
/// their shape. `None` without spreads.
pub(super) fn shared_range(spreads: impl Iterator<Item = (f64, f64)>, stops: &[Stop]) -> Option<(f64, f64)> {
    let hold = |(low, high): (f64, f64)| {
        (
            stops.first().map_or(low, |stop| stop.value.min(low)),
            stops.last().map_or(high, |stop| stop.value.max(high)),
        )
    };
    let ranges: Vec<(f64, f64)> = spreads.map(hold).collect();
    let narrowest = *ranges.iter().min_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))?;
    let all = ranges.iter().fold(narrowest, |all, of| (all.0.min(of.0), all.1.max(of.1)));
    let room = 0.5 * (WIDEST - 1.0) * (narrowest.1 - narrowest.0);
    Some((all.0.max(narrowest.0 - room), all.1.min(narrowest.1 + room)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_holds_the_limits_but_not_a_spread_that_would_flatten_others() {
        let at = |value| Stop { value, is_upper: true };
        let range = |spreads: &[(f64, f64)], stops: &[Stop]| shared_range(spreads.iter().copied(), stops);
        assert_eq!(range(&[(1.0, 2.0), (0.5, 3.0)], &[]), Some((0.5, 3.0)));
        assert_eq!(range(&[(1.0, 2.0)], &[at(-1.0), at(5.0)]), Some((-1.0, 5.0)));
        // At most four times as wide as the narrowest, which stays in the middle.
        assert_eq!(range(&[(1.0, 2.0), (-100.0, 100.0)], &[]), Some((-0.5, 3.5)));
        assert_eq!(range(&[], &[at(1.0)]), None);
    }
}
