//! Parts drawn, read and counted one by one: what an inspection does, by counting instead of by integrals.

use crate::math::normal;
use crate::random::{Distribution, Gauge, Inspected, Key, Window, draw};

/// Counts of a delivery. Every part counts by itself: of lots that are inspected by a sample, one part beside the sample stands for each lot,
/// so that shares of counts have binomial intervals also where parts of a lot are alike.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Delivered {
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

/// Parts that are drawn together.
const LANES: usize = 16;

/// The streams that a delivery is drawn from.
struct Streams {
    parts: Key,
    lots: Key,
    readings: Key,
}

/// Draws about as many parts of `values` values each, and a reading of every value, from streams of their own that the seed and the
/// source's name give; of a sampled inspection whole samples, one lot for each part that is counted. Nothing where no limit is set.
pub fn deliver(of: &Inspected, seed: u64, name: &str, parts: u64, values: usize) -> Delivered {
    let (Some(accept), Some(due)) = (of.inspection.accept, of.inspection.tolerance) else {
        return Delivered::default();
    };
    let key = |what: &str| Key::new(seed, &format!("{name}, {what}"));
    let streams = Streams {
        parts: key("delivered part"),
        lots: key("delivered lot"),
        readings: key("reading of a delivered part"),
    };
    // The sample stands before the part that is counted.
    let sample = of.inspection.sampling.map_or(0, |plan| plan.parts);
    let lots = (parts / (sample + 1)).max(1).div_ceil(LANES as u64);
    let mut counts = Delivered::default();
    for first in (0..lots).map(|batch| batch * LANES as u64) {
        let mut failed = [0_u64; LANES];
        for number in 0..sample {
            let part = part(of, &streams, first, number, values, accept, due);
            (0..LANES).for_each(|l| failed[l] += u64::from(!part.is_taken[l]));
        }
        let part = part(of, &streams, first, sample, values, accept, due);
        for l in 0..LANES {
            let is_accepted =
                of.inspection.sampling.map_or(part.is_taken[l], |plan| failed[l] <= plan.allowed);
            counts.add(part.conforms[l], part.is_taken[l], is_accepted);
            if is_accepted {
                counts.values += values as u64;
                counts.sum += part.sum[l];
                counts.sum_of_squares += part.sum_of_squares[l];
            }
        }
    }
    counts
}

/// The part of a number in each of the lots `first ..`.
fn part(
    of: &Inspected,
    streams: &Streams,
    first: u64,
    number: u64,
    values: usize,
    accept: Window,
    due: Window,
) -> Drawn {
    let mut part = Drawn {
        conforms: [true; LANES],
        is_taken: [true; LANES],
        sum: [0.0; LANES],
        sum_of_squares: [0.0; LANES],
    };
    for value in 0..values {
        // A value of a part is a slot of its own; a lot's shift is the same for all its parts.
        let slot = (number as usize * values + value) as u32;
        let mut x = deviations(&of.delivered, streams.parts, first, slot);
        if let Some(lot) = &of.lot {
            let shift = deviations(lot, streams.lots, first, value as u32);
            (0..LANES).for_each(|l| x[l] += shift[l]);
        }
        let Gauge { bias, sd } = of.inspection.gauge;
        let errors = errors(streams.readings, first, slot);
        for l in 0..LANES {
            part.conforms[l] &= due.holds(x[l]);
            part.is_taken[l] &= accept.holds(x[l] + bias + sd * errors[l]);
            part.sum[l] += x[l];
            part.sum_of_squares[l] += x[l] * x[l];
        }
    }
    part
}

/// A part of each lane.
struct Drawn {
    conforms: [bool; LANES],
    is_taken: [bool; LANES],
    sum: [f64; LANES],
    sum_of_squares: [f64; LANES],
}

impl Delivered {
    fn add(&mut self, conforms: bool, is_taken: bool, is_accepted: bool) {
        self.parts += 1;
        self.conforming += u64::from(conforms);
        self.taken += u64::from(is_taken);
        self.both += u64::from(conforms && is_taken);
        self.accepted += u64::from(is_accepted);
        self.accepted_conforming += u64::from(conforms && is_accepted);
    }
}

fn deviations(distribution: &Distribution, key: Key, first: u64, slot: u32) -> [f64; LANES] {
    let mut x = [0.0; LANES];
    draw::fill::<LANES>(key, first, slot, &mut x);
    distribution.transform(&mut x);
    x
}

/// Standard normal deviates.
fn errors(key: Key, first: u64, slot: u32) -> [f64; LANES] {
    let mut z = [0.0; LANES];
    draw::fill::<LANES>(key, first, slot, &mut z);
    normal::quantiles(&mut z);
    z
}

#[cfg(test)]
mod tests;
