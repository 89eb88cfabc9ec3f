//! A tolerance behind its inspection: what is delivered, and what is built in.

use crate::io::Table;
use crate::math::scalar;
use crate::random::{Inspection, Normal, Sampled, Scope, Screened, Shape, Spread, Tolerance};

/// An inspection and the parts that come to it.
#[derive(Clone, Debug)]
pub struct Inspected {
    /// How they are inspected.
    pub inspection: Inspection,
    /// Law of a delivered part; about the shift of its lot where one is drawn for each lot and the lots are inspected by a sample.
    pub delivered: Shape,
    /// What shifts all parts of a lot: a second law, or the only one where lots are inspected by a sample and all parts of a lot are alike.
    pub lot: Option<Shape>,
    /// Law of an accepted part, about the shift of its lot where there is one.
    pub accepted: Shape,
    /// Law of that shift in the lots that are taken, where lots that differ are inspected by a sample.
    pub taken_lots: Option<Sampled>,
}

/// Fewer parts taken of those delivered are a slip.
const FEWEST_TAKEN: f64 = 1e-6;

/// What is wrong with an inspection: message, label, what would be right.
type Refusal = (&'static str, &'static str, Option<&'static str>);

impl Inspected {
    /// A delivered tolerance, with its inspection, as its accepted parts have it; what is wrong is recorded at the inspection.
    pub(in crate::random) fn apply(table: &Table, delivered: Tolerance, inspection: Inspection) -> Tolerance {
        let span = inspection.span.clone();
        let Some(first) = &delivered.spread else {
            if !Shape::keys().any(|key| table.has(key)) {
                let help = "state the law of the delivered parts beside it".to_owned();
                table.error(span, "an inspection of what does not vary", "no law", Some(help));
            }
            return delivered;
        };
        if !table.is_sound(Inspection::KEY) || !table.is_sound("and") || !table.is_sound("scope") {
            return delivered;
        }
        match Inspected::new(inspection, first, delivered.second.as_ref()) {
            Ok((inspected, spread, second)) => {
                Tolerance { spread: Some(spread), second, inspected: Some(Box::new(inspected)), ..delivered }
            }
            Err((message, label, help)) => {
                table.error(span, message, label, help.map(str::to_owned));
                delivered
            }
        }
    }

    /// The inspection of one or two laws, and these of the accepted parts.
    pub(in crate::random) fn new(
        inspection: Inspection,
        first: &Spread,
        second: Option<&Spread>,
    ) -> Result<(Inspected, Spread, Option<Spread>), Refusal> {
        let is_by_sample = inspection.sampling.is_some();
        if is_by_sample && second.is_some_and(|second| second.scope != Scope::Lot) {
            return Err((
                "a sample tells lots apart, but no law beside that of the parts has scope lot",
                "which of the two laws shifts a lot?",
                Some("state the law of the parts first, and in `and` that of the lots, with scope = \"lot\""),
            ));
        }
        if !is_by_sample && inspection.is_in_place() && second.is_some() {
            return Err((
                "every part of a tolerance with two laws is inspected",
                "by which of the two would it choose?",
                Some(
                    "inspect lots by a sample, `sample = { lot = 500, parts = 80, allowed = 2 }`, or state one law",
                ),
            ));
        }
        // Where the only law is that of the lots, parts do not differ from their lot.
        let are_parts_alike = is_by_sample && second.is_none() && first.scope == Scope::Lot;
        let (delivered, lot) = if are_parts_alike {
            (Normal::new(0.0).map(Shape::Normal).map_err(|_| NOTHING)?, Some(&first.shape))
        } else {
            (first.shape.clone(), second.map(|second| &second.shape))
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
                let lots = Sampled::new(lot.clone(), parts, accept, gauge, plan).map_err(|_| NOTHING)?;
                let of_lots = if are_parts_alike { Some(&mut spread) } else { second.as_mut() };
                if let Some(of_lots) = of_lots {
                    of_lots.shape = Shape::Sampled(lots.clone());
                }
                inspected.taken_lots = Some(lots);
            }
            // Lots that are alike are taken or not by luck; the parts stay as they are.
            (Some(_), None) => {}
            (None, _) => {
                let parts = Screened::new(inspected.delivered.clone(), accept, gauge).map_err(|_| NOTHING)?;
                inspected.accepted = Shape::Screened(parts);
                spread.shape = inspected.accepted.clone();
            }
        }
        Ok((inspected, spread, second))
    }

    /// Mean and standard deviation of the delivered parts, over all lots.
    pub fn delivered_moments(&self) -> (f64, f64) {
        moments(&self.delivered, self.lot.as_ref())
    }

    /// The same of the accepted parts.
    pub fn accepted_moments(&self) -> (f64, f64) {
        let taken_lots = self.taken_lots.clone().map(Shape::Sampled);
        moments(&self.accepted, taken_lots.as_ref().or(self.lot.as_ref()))
    }

    /// Records what is wrong with an inspection of parts of `values` values each.
    pub(in crate::random) fn check(&self, table: &Table, values: usize) {
        let refusal = if self.inspection.sampling.is_some() && self.lot.is_some() && values > 1 {
            (
                "lots of parts that have several values each, which shift apart, are inspected by a sample",
                "which of the values does a lot fail by?",
                Some("state the law of the parts alone, or inspect every part: leave `sample` out"),
            )
        } else if self.taken(values) < FEWEST_TAKEN {
            NOTHING
        } else {
            return;
        };
        let (message, label, help) = refusal;
        table.error(self.inspection.span.clone(), message, label, help.map(str::to_owned));
    }
}

/// Mean and standard deviation of a law and another that adds to it.
fn moments(of: &Shape, and: Option<&Shape>) -> (f64, f64) {
    let (mean, sd) = and.map_or((0.0, 0.0), |and| (and.mean(), and.sd()));
    (of.mean() + mean, scalar::hypot(of.sd(), sd))
}

/// Of an inspection that takes nothing.
const NOTHING: Refusal = (
    "hardly a part in a million passes this inspection",
    "takes too few parts",
    Some("a wider acceptance, a better gauge, or parts that come nearer to it"),
);
