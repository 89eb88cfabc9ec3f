//! A value as units have it: a tolerance whose draws have their place.

use crate::math::scalar;
use crate::random::{Draws, Place, Spread, Tolerance};
use std::ops::Range;

/// A nominal value and what is drawn to deviate from it. It is made of a [`Tolerance`] by [`Sources::bind`](crate::random::Sources::bind);
/// SI, or dB for levels.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Value {
    /// The value on the drawing.
    pub nominal: f64,
    deviation: Deviation,
}

/// What a value deviates by.
#[derive(Clone, Debug, PartialEq)]
enum Deviation {
    /// By nothing, in any unit.
    Exact,
    /// By what is drawn at a place, of two distributions their sum. The distributions stand apart: they are large, and draws are read without them.
    Drawn { place: Place, distributions: Box<Pair> },
}

/// The distribution of a deviation, and what adds to it on another scope.
#[derive(Clone, Debug, PartialEq)]
struct Pair {
    first: Spread,
    second: Option<Spread>,
}

impl Value {
    /// A value that does not vary.
    pub(crate) fn exact(nominal: f64) -> Value {
        Value { nominal, deviation: Deviation::Exact }
    }

    /// A tolerance whose first distribution is `spread`, its draws at a place.
    pub(in crate::random) fn drawn(of: &Tolerance, spread: &Spread, place: Place) -> Value {
        let distributions = Box::new(Pair { first: spread.clone(), second: of.second.clone() });
        Value { nominal: of.nominal, deviation: Deviation::Drawn { place, distributions } }
    }

    /// Where its draws stand, if it has any.
    #[inline(always)]
    pub(in crate::random) fn place(&self) -> Option<&Place> {
        match &self.deviation {
            Deviation::Exact => None,
            Deviation::Drawn { place, .. } => Some(place),
        }
    }

    /// The value of each lane for one slot (a bit, a state; 0 where there is but one) of one channel.
    #[inline(always)]
    pub(crate) fn at<const W: usize>(&self, draws: &Draws<W>, slot: usize, channel: usize) -> [f64; W] {
        match self.place() {
            None => [self.nominal; W],
            Some(place) => {
                let deviation = draws.at(place, slot, channel);
                std::array::from_fn(|l| self.nominal + f64::from(deviation[l]))
            }
        }
    }

    /// The deviation of each lane in single precision; the value is that plus [`Value::nominal`].
    #[inline(always)]
    pub(crate) fn deviation_at<'a, const W: usize>(
        &self,
        draws: &'a Draws<W>,
        slot: usize,
        channel: usize,
    ) -> &'a [f32; W] {
        match self.place() {
            None => const { &[0.0; W] },
            Some(place) => draws.at(place, slot, channel),
        }
    }

    /// The deviations of neighbouring channels, `[channel][lane]`; `None` where it does not vary or channels share a
    /// draw.
    #[inline(always)]
    pub(crate) fn deviations<'a, const W: usize>(
        &self,
        draws: &'a Draws<W>,
        slot: usize,
        channels: Range<usize>,
    ) -> Option<&'a [[f32; W]]> {
        draws.rows(self.place()?, slot, channels)
    }

    /// True for a value that is exactly zero.
    #[inline]
    pub(crate) fn is_zero(&self) -> bool {
        matches!(self.deviation, Deviation::Exact) && self.nominal == 0.0
    }

    /// The distribution of its deviation, of two the first; `None` where it does not vary.
    pub(crate) fn spread(&self) -> Option<&Spread> {
        match &self.deviation {
            Deviation::Exact => None,
            Deviation::Drawn { distributions, .. } => Some(&distributions.first),
        }
    }

    /// Standard deviation of the value, 0 where it does not vary.
    pub(crate) fn sd(&self) -> f64 {
        let Deviation::Drawn { distributions, .. } = &self.deviation else { return 0.0 };
        let first = distributions.first.distribution.sd();
        distributions.second.as_ref().map_or(first, |second| scalar::hypot(first, second.distribution.sd()))
    }
}
