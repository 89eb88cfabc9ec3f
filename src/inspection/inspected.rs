//! A tolerance behind its inspection: the distribution of the parts that are taken, in place of the distribution of those that are delivered.

use crate::inspection::conformity::taken;
use crate::inspection::stated::KEY;
use crate::io::{Span, Table};
use crate::random::{
    Distribution, Inspected, Inspection, InvalidDistribution, Normal, Sampled, Scope, Screened, Spread,
    Tolerance,
};
use thiserror::Error;

/// Fewer parts taken of those delivered are a slip.
const FEWEST_TAKEN: f64 = 1e-6;

/// What is wrong with an inspection.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub(super) enum Refusal {
    /// It takes next to nothing.
    #[error("hardly a part in a million passes this inspection")]
    NothingPasses,
    /// A sample can only distinguish lots.
    #[error("a sample distinguishes lots, but no distribution beside that of the parts has scope lot")]
    NoLots,
    /// The accepted parts of a sum of two distributions are no such sum.
    #[error("every part of a tolerance with two distributions is inspected")]
    TwoDistributions,
    /// A lot would fail by one value and not by another.
    #[error("lots of parts that have several values each, which shift apart, are inspected by a sample")]
    SeveralValues,
}

impl Refusal {
    /// What stands at its place.
    fn label(self) -> &'static str {
        match self {
            Refusal::NothingPasses => "takes too few parts",
            Refusal::NoLots => "which of the two distributions shifts a lot?",
            Refusal::TwoDistributions => "by which of the two would it choose?",
            Refusal::SeveralValues => "which of the values does a lot fail by?",
        }
    }

    /// What would be right.
    fn help(self) -> &'static str {
        match self {
            Refusal::NothingPasses => "a wider acceptance, a better gauge, or parts that come nearer to it",
            Refusal::NoLots => {
                "state the distribution of the parts first, and in `and` that of the lots, with scope = \"lot\""
            }
            Refusal::TwoDistributions => {
                "inspect lots by a sample, `sample = { lot = 500, parts = 80, allowed = 2 }`, or state one distribution"
            }
            Refusal::SeveralValues => {
                "state the distribution of the parts alone, or inspect every part: leave `sample` out"
            }
        }
    }

    /// Records it at an inspection.
    fn record(self, table: &Table, at: Option<Span>) {
        table.error(at, self.to_string(), self.label(), Some(self.help().to_owned()));
    }
}

impl From<InvalidDistribution> for Refusal {
    /// The distributions and the gauge were read before, so nothing else can be wrong with them.
    fn from(_: InvalidDistribution) -> Refusal {
        Refusal::NothingPasses
    }
}

/// A delivered tolerance, with its inspection, as its accepted parts have it; what is wrong is recorded at the inspection.
pub(super) fn apply(table: &Table, delivered: Tolerance, inspection: Inspection, span: Span) -> Tolerance {
    let Some(first) = &delivered.spread else {
        if !Distribution::keys().any(|key| table.has(key)) {
            let help = "state the distribution of the delivered parts beside it".to_owned();
            table.error(span, "an inspection of what does not vary", "no distribution", Some(help));
        }
        return delivered;
    };
    if !table.is_sound(KEY) || !table.is_sound("and") || !table.is_sound("scope") {
        return delivered;
    }
    match inspect(inspection, first, delivered.second.as_ref()) {
        Ok((inspected, spread, second)) => {
            let mut accepted = delivered;
            accepted.spread = Some(spread);
            accepted.second = second;
            accepted.inspected = Some(Box::new(inspected));
            accepted.inspected_at = Some(span);
            accepted
        }
        Err(refusal) => {
            refusal.record(table, Some(span));
            delivered
        }
    }
}

/// The inspection of one or two distributions, and these of the accepted parts.
pub(super) fn inspect(
    inspection: Inspection,
    first: &Spread,
    second: Option<&Spread>,
) -> Result<(Inspected, Spread, Option<Spread>), Refusal> {
    let is_by_sample = inspection.sampling.is_some();
    if is_by_sample && second.is_some_and(|second| second.scope != Scope::Lot) {
        return Err(Refusal::NoLots);
    }
    if !is_by_sample && inspection.is_in_place() && second.is_some() {
        return Err(Refusal::TwoDistributions);
    }
    // Where the only distribution is that of the lots, parts do not differ from their lot.
    let are_parts_alike = is_by_sample && second.is_none() && first.scope == Scope::Lot;
    let (delivered, lot) = if are_parts_alike {
        (Distribution::Normal(Normal::new(0.0)?), Some(&first.distribution))
    } else {
        (first.distribution.clone(), second.map(|second| &second.distribution))
    };
    let lot = lot.cloned();
    let accepted = delivered.clone();
    let mut inspected = Inspected { inspection, delivered, lot, accepted, taken_lots: None };
    let (mut spread, mut second) = (first.clone(), second.cloned());
    let Some(accept) = inspected.inspection.accept else { return Ok((inspected, spread, second)) };
    let gauge = inspected.inspection.gauge;
    match (inspected.inspection.sampling, &inspected.lot) {
        (Some(plan), Some(lot)) => {
            let parts = inspected.delivered.clone();
            let lots = Sampled::new(lot.clone(), parts, accept, gauge, plan)?;
            let of_lots = if are_parts_alike { Some(&mut spread) } else { second.as_mut() };
            if let Some(of_lots) = of_lots {
                of_lots.distribution = Distribution::Sampled(lots.clone());
            }
            inspected.taken_lots = Some(lots);
        }
        // Lots that are alike are taken or not by luck; the parts stay as they are.
        (Some(_), None) => {}
        (None, _) => {
            let parts = Screened::new(inspected.delivered.clone(), accept, gauge)?;
            inspected.accepted = Distribution::Screened(parts);
            spread.distribution = inspected.accepted.clone();
        }
    }
    Ok((inspected, spread, second))
}

/// Records what is wrong with the inspection of parts that have so many values each, where their tolerance has one.
pub(crate) fn check(tolerance: &Tolerance, table: &Table, values: usize) {
    let Some(inspected) = &tolerance.inspected else { return };
    let inspection = &inspected.inspection;
    let are_lots_sampled = inspection.sampling.is_some() && inspected.lot.is_some();
    let refusal = if are_lots_sampled && values > 1 {
        Refusal::SeveralValues
    } else if taken(inspected, values) < FEWEST_TAKEN {
        Refusal::NothingPasses
    } else {
        return;
    };
    refusal.record(table, tolerance.inspected_at.clone());
}
