//! What a tolerance keeps of the inspection that its parts come through: what is stated of it, and the distributions before and behind it. Facts
//! alone, which travel with the draws: the folder `inspection` reads them, and says what they do to the parts.

use crate::random::{Distribution, Gauge, Sampled, Sampling, Window};

/// An inspection of delivered parts, by a deviation of theirs.
///
/// A part conforms when its deviation is within the tolerance; it is taken when what the gauge reads is within the acceptance. The
/// guard band is how far the acceptance is inside the tolerance. Terms: JCGM 106:2012, clause 3.3.
#[derive(Clone, Debug)]
pub(crate) struct Inspection {
    /// What a part has to keep; where only the acceptance is stated, the same.
    pub tolerance: Option<Window>,
    /// What a reading has to keep; `None` where no limit is set and nothing is rejected.
    pub accept: Option<Window>,
    /// How far the acceptance is inside the tolerance, where it is stated, SI.
    #[cfg(test)]
    pub guard: Option<f64>,
    /// What reads the deviation.
    pub gauge: Gauge,
    /// How many parts of a lot are gauged; `None` for all.
    pub sampling: Option<Sampling>,
    /// Time to gauge one part, s.
    pub seconds: f64,
}

impl Inspection {
    /// Whether anything is rejected.
    pub(crate) fn is_in_place(&self) -> bool {
        self.accept.is_some()
    }
}

/// An inspection and the parts that are delivered to it.
#[derive(Clone, Debug)]
pub(crate) struct Inspected {
    /// How they are inspected.
    pub inspection: Inspection,
    /// Distribution of a delivered part; about the shift of its lot where one is drawn for each lot and the lots are inspected by a sample.
    pub delivered: Distribution,
    /// What shifts all parts of a lot: a second distribution, or the only one where lots are inspected by a sample and all parts of a lot are alike.
    pub lot: Option<Distribution>,
    /// Distribution of an accepted part, about the shift of its lot where there is one.
    pub accepted: Distribution,
    /// Distribution of that shift in the lots that are taken, where lots that differ are inspected by a sample.
    pub taken_lots: Option<Sampled>,
}
