//! The acceptance of the least cost per good unit, from a row of them on the same units.

use crate::decide::inspect::{BuiltUnits, Shares, Units, drawing::nearest};
use crate::decide::{Refusal, Span};

/// Sizes over the whole span, and further ones on either side of the cheapest.
const FIRST: usize = 14;
const FURTHER: usize = 3;

/// An acceptance that the search tried, or no inspection.
#[derive(Clone, Debug)]
pub(crate) struct TriedAcceptance {
    /// Its size in the unit of the search; `None` for no inspection.
    pub size: Option<f64>,
    /// Its effect on the parts.
    pub shares: Shares,
    /// The units built with it.
    pub made: BuiltUnits,
}

/// The result of the search for the least cost.
#[derive(Clone, Debug)]
pub(crate) struct Cheapest {
    /// Every acceptance tried: no inspection first, then by size.
    pub tried: Vec<TriedAcceptance>,
    /// Number of the cheapest.
    least: usize,
    /// Acceptances that the study cannot have.
    pub refused: Vec<Refusal>,
    /// False after an interrupt.
    pub is_finished: bool,
}

/// The sizes to try first.
pub(super) fn first_sizes(span: &Span) -> Vec<f64> {
    on_drawing(span.values(FIRST))
}

/// The sizes to try next: on both sides of the cheapest.
pub(super) fn further_sizes(span: &Span, first: &Cheapest) -> Vec<f64> {
    let sizes: Vec<f64> = first.tried.iter().filter_map(|tried| tried.size).collect();
    // Where no inspection is the cheapest, refine around the cheapest size.
    let least_sized = (0..first.tried.len()).filter(|of| first.tried[*of].size.is_some());
    let Some(at) = least_of(&first.tried, least_sized).and_then(|of| first.tried[of].size) else {
        return Vec::new();
    };
    let Some(place) = sizes.iter().position(|size| *size == at) else { return Vec::new() };
    let next = [place.checked_sub(1), Some(place + 1)].into_iter().flatten();
    let next = next.filter_map(|place| sizes.get(place)).map(|size| (size.min(at), size.max(at)));
    let further = next.flat_map(|(from, to)| Span { from, to, ..*span }.values(FURTHER + 2)).collect();
    on_drawing(further).into_iter().filter(|size| !sizes.contains(size)).collect()
}

/// Rounded to three digits, each once.
fn on_drawing(sizes: Vec<f64>) -> Vec<f64> {
    let mut sizes: Vec<f64> = sizes.into_iter().map(nearest).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.dedup();
    sizes
}

/// The number of the cheapest of some.
fn least_of(tried: &[TriedAcceptance], among: impl Iterator<Item = usize>) -> Option<usize> {
    let cost = |of: &usize| tried[*of].made.priced.as_ref()?.total.as_ref().map(|total| total.value);
    among
        .filter_map(|of| Some((of, cost(&of)?)))
        // Of equals the first: no inspection before any.
        .reduce(|least, of| if of.1 < least.1 { of } else { least })
        .map(|(of, _)| of)
}

impl Cheapest {
    /// From all acceptances tried; `None` where none has a good unit.
    pub(crate) fn of(
        mut tried: Vec<TriedAcceptance>,
        refused: Vec<Refusal>,
        is_finished: bool,
    ) -> Option<Cheapest> {
        let key = |tried: &TriedAcceptance| tried.size.unwrap_or(f64::NEG_INFINITY);
        tried.sort_by(|a, b| key(a).total_cmp(&key(b)));
        let least = least_of(&tried, 0..tried.len())?;
        Some(Cheapest { tried, least, refused, is_finished })
    }

    /// The cheapest.
    pub(crate) fn least(&self) -> &TriedAcceptance {
        &self.tried[self.least]
    }

    /// The units of the cheapest, beside those without inspection.
    pub(crate) fn units(&self) -> Option<Units> {
        let without = self.without()?.made.clone();
        let least = self.least();
        Some(Units { without, with: least.size.map(|_| least.made.clone()) })
    }

    /// No inspection, where the search tried it.
    pub(crate) fn without(&self) -> Option<&TriedAcceptance> {
        self.tried.iter().find(|tried| tried.size.is_none())
    }

    /// Whether one is not shown to cost more than the cheapest.
    pub(crate) fn is_alike(&self, tried: &TriedAcceptance) -> bool {
        let least = self.least();
        tried.size == least.size || least.made.saves(&tried.made).is_some_and(|saving| saving.low <= 0.0)
    }

    /// The tightest and the widest around the cheapest, as long as none in between is shown to cost more.
    pub(crate) fn alike(&self) -> Option<(f64, f64)> {
        let sized: Vec<&TriedAcceptance> = self.tried.iter().filter(|tried| tried.size.is_some()).collect();
        let place = sized.iter().position(|tried| tried.size == self.least().size)?;
        let ends = |tried: &&&TriedAcceptance| self.is_alike(tried);
        let low = sized[..=place].iter().rev().take_while(ends).last()?;
        let high = sized[place..].iter().take_while(ends).last()?;
        Some((low.size?, high.size?))
    }
}
