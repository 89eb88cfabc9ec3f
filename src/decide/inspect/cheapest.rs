//! The acceptance of the least cost per good unit, by trying a row of them on the same units.

use crate::decide::inspect::{Made, Shares, Units, drawing::nearest};
use crate::decide::{Refusal, Span};

/// Sizes over the whole span, and further ones to either side of the least.
const FIRST: usize = 14;
const FURTHER: usize = 3;

/// An acceptance that was tried, or none.
#[derive(Clone, Debug)]
pub struct Tried {
    /// Its size in the unit of the search; `None` for no inspection.
    pub size: Option<f64>,
    /// What it does to the parts.
    pub shares: Shares,
    /// What it makes of the units.
    pub made: Made,
}

/// All that were tried.
#[derive(Clone, Debug)]
pub struct Cheapest {
    /// No inspection first, then by size.
    pub tried: Vec<Tried>,
    /// Number of the least cost.
    least: usize,
    /// Those that would have been tried, but that the study cannot have.
    pub refused: Vec<Refusal>,
    /// False when it was stopped before all were tried.
    pub is_finished: bool,
}

/// The sizes that are tried first.
pub fn first_sizes(span: &Span) -> Vec<f64> {
    on_drawing(span.values(FIRST))
}

/// The sizes that are tried next: to both sides of the least.
pub fn further_sizes(span: &Span, first: &Cheapest) -> Vec<f64> {
    let sizes: Vec<f64> = first.tried.iter().filter_map(|tried| tried.size).collect();
    // Where no inspection is the cheapest, what comes near to that is looked at more closely.
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

/// With three digits, each once.
fn on_drawing(sizes: Vec<f64>) -> Vec<f64> {
    let mut sizes: Vec<f64> = sizes.into_iter().map(nearest).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.dedup();
    sizes
}

/// The number of the least cost among some.
fn least_of(tried: &[Tried], among: impl Iterator<Item = usize>) -> Option<usize> {
    let cost = |of: &usize| tried[*of].made.priced.as_ref()?.total.as_ref().map(|total| total.value);
    among
        .filter_map(|of| Some((of, cost(&of)?)))
        // What comes first is kept where two are alike: no inspection before any.
        .reduce(|least, of| if of.1 < least.1 { of } else { least })
        .map(|(of, _)| of)
}

impl Cheapest {
    /// Of what was tried; `None` where nothing makes a good unit.
    pub fn of(mut tried: Vec<Tried>, refused: Vec<Refusal>, is_finished: bool) -> Option<Cheapest> {
        let key = |tried: &Tried| tried.size.unwrap_or(f64::NEG_INFINITY);
        tried.sort_by(|a, b| key(a).total_cmp(&key(b)));
        let least = least_of(&tried, 0..tried.len())?;
        Some(Cheapest { tried, least, refused, is_finished })
    }

    /// The one of the least cost.
    pub fn least(&self) -> &Tried {
        &self.tried[self.least]
    }

    /// The units of the cheapest, beside those without inspection.
    pub fn units(&self) -> Option<Units> {
        let without = self.without()?.made.clone();
        let least = self.least();
        Some(Units { without, with: least.size.map(|_| least.made.clone()) })
    }

    /// No inspection, where that was tried.
    pub fn without(&self) -> Option<&Tried> {
        self.tried.iter().find(|tried| tried.size.is_none())
    }

    /// Whether the units do not tell one from the cheapest: what it costs more may be nothing.
    pub fn is_alike(&self, tried: &Tried) -> bool {
        let least = self.least();
        tried.size == least.size || least.made.saves(&tried.made).is_some_and(|saving| saving.low <= 0.0)
    }

    /// The tightest and the widest that are not told from the cheapest, as far as all between them are not.
    pub fn alike(&self) -> Option<(f64, f64)> {
        let sized: Vec<&Tried> = self.tried.iter().filter(|tried| tried.size.is_some()).collect();
        let place = sized.iter().position(|tried| tried.size == self.least().size)?;
        let ends = |tried: &&&Tried| self.is_alike(tried);
        let low = sized[..=place].iter().rev().take_while(ends).last()?;
        let high = sized[place..].iter().take_while(ends).last()?;
        Some((low.size?, high.size?))
    }
}
