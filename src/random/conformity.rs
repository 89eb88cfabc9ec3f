//! What an inspection does to the parts: how many it turns away, and how many of them wrongly.

use crate::random::{Inspected, Window};

/// Shares of the delivered parts, and what those that are taken are like.
///
/// A part of several values (a bit each) conforms when all of them do, and is taken when all read within the acceptance.
///
/// Terms: JCGM 106:2012, clause 9.5: producer's and consumer's risk are the global ones, of a part drawn from those delivered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conformity {
    /// Parts that do not conform, of those delivered.
    pub nonconforming: f64,
    /// Parts whose reading (or one of them) lies outside the acceptance, of those delivered.
    pub rejected: f64,
    /// Parts that are taken and do not conform, of those delivered: the consumer's risk.
    pub consumer_risk: f64,
    /// Parts that conform and are not taken, of those delivered: the producer's risk.
    pub producer_risk: f64,
    /// Parts that do not conform, of those taken.
    pub escapes: f64,
}

impl Inspected {
    /// What the inspection does to parts of `values` values each, gauged one by one; `None` where no limit is set. Integrals right to 1e-6.
    ///
    /// Of a sampled inspection: what the gauge says of the parts of a sample.
    pub fn conformity(&self, values: usize) -> Option<Conformity> {
        let _ = values;
        unimplemented!()
    }

    /// The probability that a part that reads `reading` does not conform, from what the delivered parts are like: the specific
    /// consumer's risk (JCGM 106:2012, 9.3.2).
    pub fn specific_risk(&self, tolerance: Window, reading: f64) -> f64 {
        let _ = (tolerance, reading);
        unimplemented!()
    }

    /// Parts turned away for each that is built in; those of rejected lots of a sampled inspection.
    pub fn turned_away(&self, values: usize) -> f64 {
        let _ = values;
        unimplemented!()
    }

    /// Parts gauged for each that is built in.
    pub fn gauged(&self, values: usize) -> f64 {
        let _ = values;
        unimplemented!()
    }
}
