//! The distributions a tolerance can have: how a deviation is spread. One distribution a file; register it in the list below, and in
//! `read.rs` if a study can name it.
//!
//! Sampling is the quantile of a uniform, so one path serves Monte Carlo, low-discrepancy points, rare events,
//! correlation and screening; but plain normal draws take a shorter way ([`crate::math::deviate`]).

mod read;

#[cfg(test)]
mod tests;

use super::{Key, Window, draw};
use crate::math;
pub use read::Stated;

/// What a distribution answers to. Deviations are in the unit of the quantity that deviates.
trait Univariate: Sized {
    /// Name in prose.
    const NAME: &'static str;

    /// Turns uniforms in (0, 1) into deviations, in place; rising.
    fn transform(&self, u: &mut [f64]);

    /// The probability of a deviation of at most `x`.
    fn cdf(&self, x: f64) -> f64;

    /// See [`Distribution::read_below`]; `reading` is finite.
    fn read_below(&self, _x: f64, _reading: f64, _gauge: f64) -> Option<f64> {
        None
    }

    /// The mean deviation; a symmetric distribution has none.
    fn mean(&self) -> f64 {
        0.0
    }

    /// The standard deviation.
    fn sd(&self) -> f64;

    /// The lowest and the highest deviation, if there are both.
    fn range(&self) -> Option<(f64, f64)>;

    /// The distribution of the deviations times `factor`, which may be negative.
    fn scaled(&self, factor: f64) -> Self;
}

macro_rules! distributions {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub use $module::$Type;)*

        /// The distribution of a deviation from nominal, in the unit of the quantity that deviates.
        #[derive(Clone, Debug, PartialEq)]
        pub enum Distribution { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type($Type)),* }

        impl Distribution {
            /// The distribution's name in prose.
            pub fn name(&self) -> &'static str {
                match self { $(Self::$Type(_) => $Type::NAME),* }
            }

            /// The mean deviation: 0 but for distributions that are not symmetric.
            pub fn mean(&self) -> f64 {
                match self { $(Self::$Type(distribution) => distribution.mean()),* }
            }

            /// The standard deviation of the deviations (of a truncated distribution: after the cut).
            pub fn sd(&self) -> f64 {
                match self { $(Self::$Type(distribution) => distribution.sd()),* }
            }

            /// The lowest and the highest deviation; none if one of them does not exist.
            pub fn range(&self) -> Option<(f64, f64)> {
                match self { $(Self::$Type(distribution) => distribution.range()),* }
            }

            /// The distribution of the deviations multiplied by `factor`; a negative one mirrors it.
            pub fn scaled(&self, factor: f64) -> Self {
                match self { $(Self::$Type(distribution) => Self::$Type(distribution.scaled(factor))),* }
            }

            fn transform_spread(&self, u: &mut [f64]) {
                match self { $(Self::$Type(distribution) => distribution.transform(u)),* }
            }

            fn cdf_spread(&self, x: f64) -> f64 {
                match self { $(Self::$Type(distribution) => distribution.cdf(x)),* }
            }

            fn read_below_spread(&self, x: f64, reading: f64, gauge: f64) -> Option<f64> {
                match self { $(Self::$Type(distribution) => distribution.read_below(x, reading, gauge)),* }
            }
        }
    };
}

distributions! {
    normal::Normal,
    truncated_normal::TruncatedNormal,
    uniform::Uniform,
    triangular::Triangular,
    log_normal::LogNormal,
    arcsine::Arcsine,
    mixture::Mixture,
    empirical::Empirical,
    screened::Screened,
    sampled::Sampled,
    bernoulli::Bernoulli,
}

mod plus_or_minus;
pub(crate) mod weighted;

pub use mixture::Part;

impl Distribution {
    /// Draws deviations into `rows`, `[index][lane]`, in single precision: of a normal distribution by [`draw::normals`], of the
    /// others the quantiles of the uniforms of [`draw::fill`]. `room` holds as many doubles, for the distributions that need them.
    pub fn draw<const W: usize>(
        &self,
        key: Key,
        first_trial: u64,
        slot: u32,
        rows: &mut [[f32; W]],
        room: &mut [[f64; W]],
    ) {
        if let Self::Normal(distribution) = self {
            draw::normals(key, first_trial, slot, distribution.sd() as f32, rows);
            return;
        }
        draw::fill::<W>(key, first_trial, slot, room.as_flattened_mut());
        self.transform(room.as_flattened_mut());
        for (row, doubles) in rows.iter_mut().zip(room) {
            *row = doubles.map(|x| x as f32);
        }
    }

    /// The normal scores of what [`Distribution::draw`] draws: the standard normal deviates that lie where the deviations lie in
    /// their distribution. `rows` is room for as many.
    pub fn draw_scores<const W: usize>(
        &self,
        key: Key,
        first_trial: u64,
        slot: u32,
        scores: &mut [[f64; W]],
        rows: &mut [[f32; W]],
    ) {
        if let Self::Normal(_) = self {
            draw::normals(key, first_trial, slot, 1.0, rows);
            for (scores, row) in scores.iter_mut().zip(rows) {
                *scores = row.map(f64::from);
            }
            return;
        }
        draw::fill::<W>(key, first_trial, slot, scores.as_flattened_mut());
        math::normal::quantiles(scores.as_flattened_mut());
    }

    /// Turns normal scores into deviations, in place.
    pub fn transform_scores(&self, scores: &mut [f64]) {
        if let Self::Normal(distribution) = self {
            scores.iter_mut().for_each(|z| *z *= distribution.sd());
            return;
        }
        for z in &mut *scores {
            *z = math::normal::probability(*z).clamp(NEAREST_END, 1.0 - NEAREST_END);
        }
        self.transform(scores);
    }

    /// Turns uniforms in (0, 1) into deviations, in place. A distribution without spread gives exactly 0.
    pub fn transform(&self, u: &mut [f64]) {
        if self.is_exact() {
            u.fill(0.0);
        } else {
            self.transform_spread(u);
        }
    }

    /// The deviation that is not exceeded with probability `p`, 0 < p < 1; the bits of
    /// [`Distribution::transform`].
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
        self.cdf_spread(x)
    }

    /// The probability of a deviation of at most `x` whose reading is at most `reading`, by a gauge whose errors are normal, of standard
    /// deviation `gauge` > 0; either may be infinite. `None` where the distribution has no closed form for it.
    pub(super) fn read_below(&self, x: f64, reading: f64, gauge: f64) -> Option<f64> {
        if reading.is_infinite() {
            return Some(if reading > 0.0 { self.cdf(x) } else { 0.0 });
        }
        if self.is_exact() {
            return Some(if x >= 0.0 { math::normal::probability(reading / gauge) } else { 0.0 });
        }
        self.read_below_spread(x, reading, gauge)
    }

    /// The distribution's probabilities below the lower and up to the upper end of a window, both of which belong to it.
    pub(crate) fn probabilities(&self, window: Window) -> (f64, f64) {
        (self.cdf(window.low.next_down()), self.cdf(window.high))
    }

    /// The distributions that it is mixed of, each with its share of all and the offset that it stands about; itself where it is none. Their
    /// quantiles are cheap, those of a mixture are not.
    pub(crate) fn components(&self) -> Vec<(f64, f64, &Distribution)> {
        match self {
            Self::Mixture(distribution) => distribution.components().collect(),
            distribution => vec![(1.0, 0.0, distribution)],
        }
    }

    /// The largest size a deviation can have; none if there is no largest.
    pub fn half_range(&self) -> Option<f64> {
        self.range().map(|(lowest, highest)| highest.max(-lowest))
    }

    /// The distribution of something that happens with probability `p`, to either side alike; see [`Bernoulli`].
    ///
    /// # Errors
    /// If `p` is no probability; the message says so.
    pub fn bernoulli(p: f64) -> Result<Distribution, String> {
        Bernoulli::new(p).map(Distribution::Bernoulli)
    }

    /// The share of the delivered parts (of a sampled distribution: lots) that its incoming inspection turns away; none without one.
    pub fn rejected(&self) -> Option<f64> {
        match self {
            Self::Screened(distribution) => Some(distribution.rejected()),
            Self::Sampled(distribution) => Some(distribution.rejected()),
            _ => None,
        }
    }

    /// Whether there is no spread at all.
    pub(super) fn is_exact(&self) -> bool {
        self.range() == Some((0.0, 0.0))
    }
}

/// No probability that a deviation is made from is nearer to 0 or 1.
const NEAREST_END: f64 = f64::EPSILON / 2.0;

/// `value` if it can be a spread; NaN cannot.
fn spread(name: &str, value: f64) -> Result<f64, String> {
    if value >= 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(format!("the {name} must be finite and not negative"))
    }
}

/// The range of a symmetric distribution.
fn symmetric(half_width: f64) -> Option<(f64, f64)> {
    Some((-half_width, half_width))
}
