//! Parts drawn, read and counted one by one: what an inspection does, by counting instead of by integrals.

use crate::math::normal;
use crate::random::{Gauge, Inspected, Key, Stream, Window, draw};
use rand::Rng;
use rand_distr::Distribution as _;

/// Counts of a delivery. Every part counts by itself: of lots that are inspected by a sample, one part beside the sample is counted for each lot,
/// so that shares of counts have binomial intervals also where parts of a lot are alike.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Delivered {
    /// Parts that were delivered.
    pub parts: u64,
    /// Those that conform.
    pub conforming: u64,
    /// Those that read within the acceptance (of a sampled inspection: if they were gauged).
    pub taken: u64,
    /// Those that do both.
    pub both: u64,
    /// Parts that are built in: those taken; of a sampled inspection, those whose lot is taken.
    pub accepted: u64,
    /// Those of them that conform.
    pub accepted_conforming: u64,
    /// Values of the accepted parts: their number, the sum of their deviations and that of the squares.
    pub values: u64,
    /// Sum of the deviations.
    pub sum: f64,
    /// Sum of their squares.
    pub sum_of_squares: f64,
}

/// Lots are drawn in multiples of this.
const MULTIPLE: u64 = 16;

/// Draws about as many parts of `values` values each, and a reading of every value, from streams of their own that the seed and the
/// source's name give; of a sampled inspection whole samples, one lot for each part that is counted. Nothing where no limit is set.
pub(crate) fn deliver(of: &Inspected, seed: u64, name: &str, parts: u64, values: usize) -> Delivered {
    let (Some(accept), Some(tolerance)) = (of.inspection.accept, of.inspection.tolerance) else {
        return Delivered::default();
    };
    let key = |what: &str| Key::new(seed, &format!("{name}, {what}"));
    let delivery = Delivery {
        of,
        values,
        accept,
        tolerance,
        parts: key("delivered part"),
        lots: key("delivered lot"),
        readings: key("reading of a delivered part"),
    };
    // The sample is drawn before the part that is counted.
    let sample = of.inspection.sampling.map_or(0, |plan| plan.parts);
    let lots = (parts / (sample + 1)).max(1).next_multiple_of(MULTIPLE);
    let mut counts = Delivered::default();
    for lot in 0..lots {
        let is_rejected = |number: &u64| !delivery.part(lot, *number).is_taken;
        let failed = (0..sample).filter(is_rejected).count() as u64;
        let part = delivery.part(lot, sample);
        let is_accepted = of.inspection.sampling.map_or(part.is_taken, |plan| failed <= plan.allowed);
        counts.add(&part, is_accepted);
        if is_accepted {
            counts.values += values as u64;
            counts.sum += part.sum;
            counts.sum_of_squares += part.sum_of_squares;
        }
    }
    counts
}

/// An inspection, and the keys of the streams that its parts and readings are drawn from.
struct Delivery<'a> {
    of: &'a Inspected,
    values: usize,
    accept: Window,
    tolerance: Window,
    parts: Key,
    lots: Key,
    readings: Key,
}

/// A part that was drawn and gauged.
struct Part {
    conforms: bool,
    is_taken: bool,
    sum: f64,
    sum_of_squares: f64,
}

impl Delivery<'_> {
    /// The part of a number in a lot.
    fn part(&self, lot: u64, number: u64) -> Part {
        let mut part = Part { conforms: true, is_taken: true, sum: 0.0, sum_of_squares: 0.0 };
        for value in 0..self.values {
            // A value of a part is a slot of its own; a lot's shift is the same for all its parts.
            let slot = (number as usize * self.values + value) as u32;
            let mut x = self.of.delivered.sample(&mut Stream::of_plain_draws(self.parts, lot, slot));
            if let Some(shift) = &self.of.lot {
                x += shift.sample(&mut Stream::of_plain_draws(self.lots, lot, value as u32));
            }
            let Gauge { bias, sd } = self.of.inspection.gauge;
            let word = Stream::of_plain_draws(self.readings, lot, slot).next_u32();
            let reading = x + bias + sd * normal::quantile(draw::uniform(word));
            part.conforms &= self.tolerance.holds(x);
            part.is_taken &= self.accept.holds(reading);
            part.sum += x;
            part.sum_of_squares += x * x;
        }
        part
    }
}

impl Delivered {
    fn add(&mut self, part: &Part, is_accepted: bool) {
        self.parts += 1;
        self.conforming += u64::from(part.conforms);
        self.taken += u64::from(part.is_taken);
        self.both += u64::from(part.conforms && part.is_taken);
        self.accepted += u64::from(is_accepted);
        self.accepted_conforming += u64::from(part.conforms && is_accepted);
    }
}

#[cfg(test)]
mod tests;
