//! A tolerance as written on a drawing: a nominal value, the law of its deviation, and what shares one draw.

use crate::io::{Check, Dimension, Table};
use crate::random::{Draws, Place, Shape};
use std::ops::Range;

/// What one draw covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// Each channel has its own.
    Channel,
    /// A run of channels on one chip shares it.
    Chip,
    /// All channels of a unit share it.
    Unit,
}

impl Scope {
    /// Words for `scope`.
    pub const KINDS: &[(&'static str, Scope)] =
        &[("channel", Scope::Channel), ("chip", Scope::Chip), ("unit", Scope::Unit)];

    /// The word in the study file.
    pub fn name(self) -> &'static str {
        match self {
            Scope::Channel => "channel",
            Scope::Chip => "chip",
            Scope::Unit => "unit",
        }
    }
}

/// How a value deviates from its nominal.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// Law of the deviation, in the unit of the value (SI).
    pub shape: Shape,
    /// What shares one draw.
    pub scope: Scope,
}

/// A nominal value and, if it varies, its spread. SI, or dB for levels.
#[derive(Clone, Debug, PartialEq)]
pub struct Tolerance {
    /// The value on the drawing.
    pub nominal: f64,
    /// Its spread; `None` where it does not vary.
    pub spread: Option<Spread>,
    /// Where its draws stand, once bound to the plan's sources.
    pub(in crate::random) place: Option<Place>,
}

impl Tolerance {
    /// A value without spread.
    pub fn exact(nominal: f64) -> Tolerance {
        Tolerance { nominal, spread: None, place: None }
    }

    /// Something that befalls a channel or not: 0 where it does not, see [`Shape::chance`].
    pub fn by_chance(probability: f64) -> Tolerance {
        let spread = Spread {
            shape: Shape::Uniform(crate::random::shape::Uniform::new(probability).unwrap()),
            scope: Scope::Channel,
        };
        Tolerance { spread: (probability > 0.0).then_some(spread), ..Tolerance::exact(0.0) }
    }

    /// Reads a required tolerance: a quantity alone, or `{ nominal = ..., normal = { sd = ... }, scope = "..." }`.
    pub fn read(parent: &Table, key: &'static str, dimension: Dimension, check: Check) -> Tolerance {
        read(parent, key, dimension, check, None, None)
    }

    /// The same, for a key that may be absent and whose nominal may be left out; both then take `default`.
    pub fn read_or(
        parent: &Table,
        key: &'static str,
        dimension: Dimension,
        check: Check,
        default: f64,
    ) -> Tolerance {
        read(parent, key, dimension, check, Some(default), None)
    }

    /// The same, for a part whose scope is not for the study to choose.
    pub fn read_in_scope(
        parent: &Table,
        key: &'static str,
        dimension: Dimension,
        check: Check,
        default: f64,
        scope: Scope,
    ) -> Tolerance {
        read(parent, key, dimension, check, Some(default), Some(scope))
    }

    /// The value of each lane for one slot (a bit, a state; 0 where there is but one) of one channel.
    #[inline(always)]
    pub fn at<const W: usize>(&self, draws: &Draws<W>, slot: usize, channel: usize) -> [f64; W] {
        match &self.place {
            None => [self.nominal; W],
            Some(place) => {
                let deviation = draws.at(place, slot, channel);
                std::array::from_fn(|l| self.nominal + f64::from(deviation[l]))
            }
        }
    }

    /// The deviation of each lane in single precision; the value is that plus [`Tolerance::nominal`].
    #[inline(always)]
    pub fn deviation_at<'a, const W: usize>(
        &self,
        draws: &'a Draws<W>,
        slot: usize,
        channel: usize,
    ) -> &'a [f32; W] {
        match &self.place {
            None => const { &[0.0; W] },
            Some(place) => draws.at(place, slot, channel),
        }
    }

    /// The deviations of neighbouring channels, `[channel][lane]`; `None` where it does not vary or channels share a
    /// draw.
    #[inline(always)]
    pub fn deviations<'a, const W: usize>(
        &self,
        draws: &'a Draws<W>,
        slot: usize,
        channels: Range<usize>,
    ) -> Option<&'a [[f32; W]]> {
        draws.rows(self.place.as_ref()?, slot, channels)
    }

    /// True for a tolerance that is exactly zero.
    pub fn is_zero(&self) -> bool {
        self.spread.is_none() && self.nominal == 0.0
    }

    /// Standard deviation of the value, 0 where it does not vary.
    pub fn sd(&self) -> f64 {
        self.spread.as_ref().map_or(0.0, |s| s.shape.sd())
    }
}

fn read(
    parent: &Table,
    key: &'static str,
    dimension: Dimension,
    check: Check,
    default: Option<f64>,
    scope: Option<Scope>,
) -> Tolerance {
    if !parent.is_table(key) {
        return Tolerance::exact(quantity(parent, key, dimension, check, default));
    }
    let Some(table) = parent.table(key) else { return Tolerance::exact(default.unwrap_or(1.0)) };
    let nominal = quantity(&table, "nominal", dimension, check, default);
    let scope = scope.unwrap_or_else(|| table.choice_or("scope", "scope", Scope::KINDS, Scope::Channel));
    let spread = Shape::read(&table, dimension).map(|shape| Spread { shape, scope });
    Tolerance { nominal, spread, place: None }
}

/// A value without unit is written as a bare number, all others as text with their unit.
fn quantity(
    table: &Table,
    key: &'static str,
    dimension: Dimension,
    check: Check,
    default: Option<f64>,
) -> f64 {
    match (dimension, default) {
        (Dimension::Ratio, None) => table.number(key, check),
        (Dimension::Ratio, Some(default)) => table.number_or(key, check, default),
        (_, None) => table.quantity(key, dimension, check),
        (_, Some(default)) => table.quantity_or(key, dimension, check, default),
    }
}
