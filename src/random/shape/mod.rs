//! The shapes a tolerance can have: how a deviation about zero is spread. One file a shape.
//!
//! Sampling is the quantile of a uniform, so one path serves Monte Carlo, low-discrepancy points,
//! rare events and screening; but plain normal draws take a shorter way ([`crate::math::deviate`]).

mod normal;
mod read;
mod triangular;
mod truncated_normal;
mod uniform;

#[cfg(test)]
mod tests;

use super::{Key, draw};
pub use normal::Normal;
pub use triangular::Triangular;
pub use truncated_normal::TruncatedNormal;
pub use uniform::Uniform;

/// The law of a deviation about zero, symmetric, in the unit of the quantity that deviates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// A normal law.
    Normal(Normal),
    /// A normal law cut off at both sides.
    TruncatedNormal(TruncatedNormal),
    /// Evenly over an interval.
    Uniform(Uniform),
    /// A density that falls in a straight line to both sides.
    Triangular(Triangular),
}

impl Shape {
    /// Draws deviations into `rows`, `[index][lane]`, in single precision: of a normal law by [`draw::normals`], of the
    /// others the quantiles of the uniforms of [`draw::fill`]. `room` holds as many doubles, for the laws that need them.
    pub fn draw<const W: usize>(
        &self,
        key: Key,
        first_trial: u64,
        slot: u32,
        rows: &mut [[f32; W]],
        room: &mut [[f64; W]],
    ) {
        if let Self::Normal(law) = self {
            draw::normals(key, first_trial, slot, law.sd() as f32, rows);
            return;
        }
        draw::fill::<W>(key, first_trial, slot, room.as_flattened_mut());
        self.transform(room.as_flattened_mut());
        for (row, doubles) in rows.iter_mut().zip(room) {
            *row = doubles.map(|x| x as f32);
        }
    }

    /// Turns uniforms in (0, 1) into deviations, in place. A law without spread gives exactly 0.
    pub fn transform(&self, u: &mut [f64]) {
        if self.is_exact() {
            u.fill(0.0);
            return;
        }
        match self {
            Self::Normal(law) => law.transform(u),
            Self::TruncatedNormal(law) => law.transform(u),
            Self::Uniform(law) => law.transform(u),
            Self::Triangular(law) => law.transform(u),
        }
    }

    /// The deviation that is not exceeded with probability `p`, 0 < p < 1; the bits of
    /// [`Shape::transform`].
    pub fn quantile(&self, p: f64) -> f64 {
        let mut deviation = [p];
        self.transform(&mut deviation);
        deviation[0]
    }

    /// The probability of a deviation of at most `x`.
    pub fn cdf(&self, x: f64) -> f64 {
        if self.is_exact() {
            return if x >= 0.0 { 1.0 } else { 0.0 };
        }
        match self {
            Self::Normal(law) => law.cdf(x),
            Self::TruncatedNormal(law) => law.cdf(x),
            Self::Uniform(law) => law.cdf(x),
            Self::Triangular(law) => law.cdf(x),
        }
    }

    /// The standard deviation of the deviations (of a truncated law: after the cut).
    pub fn sd(&self) -> f64 {
        match self {
            Self::Normal(law) => law.sd(),
            Self::TruncatedNormal(law) => law.sd(),
            Self::Uniform(law) => law.sd(),
            Self::Triangular(law) => law.sd(),
        }
    }

    /// The largest size a deviation can have; none if there is no largest.
    pub fn half_range(&self) -> Option<f64> {
        match self {
            Self::Normal(law) => law.half_range(),
            Self::TruncatedNormal(law) => law.half_range(),
            Self::Uniform(law) => law.half_range(),
            Self::Triangular(law) => law.half_range(),
        }
    }

    /// The law of the deviations multiplied by `factor`; as all laws are symmetric, its sign does
    /// not matter.
    pub fn scaled(&self, factor: f64) -> Self {
        let factor = factor.abs();
        match self {
            Self::Normal(law) => Self::Normal(law.scaled(factor)),
            Self::TruncatedNormal(law) => Self::TruncatedNormal(law.scaled(factor)),
            Self::Uniform(law) => Self::Uniform(law.scaled(factor)),
            Self::Triangular(law) => Self::Triangular(law.scaled(factor)),
        }
    }

    /// The law's name in prose.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Normal(_) => "normal",
            Self::TruncatedNormal(_) => "truncated normal",
            Self::Uniform(_) => "uniform",
            Self::Triangular(_) => "triangular",
        }
    }

    /// Whether there is no spread at all.
    fn is_exact(&self) -> bool {
        self.half_range() == Some(0.0)
    }
}

/// `value` if it can be a spread; NaN cannot.
fn spread(name: &str, value: f64) -> Result<f64, String> {
    if value >= 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(format!("the {name} must be finite and not negative"))
    }
}
