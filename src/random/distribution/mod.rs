//! The distributions a tolerance can have: how a deviation is spread. One distribution a file, which declares its keys, and one line in
//! the list below.
//!
//! Sampling is the quantile of a uniform, so one path serves Monte Carlo, low-discrepancy points, rare events,
//! correlation and screening. Two kinds of distributions leave it for their plain draws: the normal one takes a shorter way
//! ([`crate::math::deviate`]), and those whose quantile has no closed form are drawn by `rand_distr` from a [`Stream`] for each draw. Where a
//! quantile of these is asked for, it is inverted by iteration: the deviations are of the same distribution, but not the same numbers.

mod invalid;
mod read;

#[cfg(test)]
mod tests;

use super::{Key, Stream, Window, draw};
use crate::io::{self, Declared, Keys, Special, Table};
use crate::math;
pub(crate) use invalid::InvalidDistribution;
use plus_or_minus::Within;
use rand::Rng;
use read::Reader;
pub(crate) use read::Stated;

/// The key under which a tolerance states a distribution: its name, the keys of the table behind it, an example.
macro_rules! distribution {
    ($name:literal, $keys:expr, $example:literal) => {
        Key::special($name, || $crate::io::Accepts::AboutDifference($name, &$keys), $example, "")
    };
}

/// What a distribution answers to. Deviations are in the unit of the quantity that deviates.
trait Univariate: Sized {
    /// Name in prose.
    const NAME: &'static str;

    /// Key under which a study states it; `None` where no study does.
    const KEY: Option<&'static io::Key<Special>> = None;

    /// The same in the form that a table lists its keys.
    const DECLARED: &'static [&'static dyn Declared] = match Self::KEY {
        Some(key) => &[key],
        None => &[],
    };

    /// How it is made of a limit to either side, where a drawing may mean it by "plus or minus".
    const WITHIN: Option<Within> = None;

    /// Whether a plain draw reads a stream of its own, see [`Univariate::sample`], and is not the quantile of a uniform.
    const READS_STREAM: bool = false;

    /// Whether it is an event that happens or does not, of which a standard deviation says nothing.
    const IS_EVENT: bool = false;

    /// What an inspection takes or rejects, one by one, to leave this distribution.
    const TAKEN: &'static str = "parts";

    /// Reads the table behind [`Univariate::KEY`]; `None` where it states none that can be read (the error is recorded).
    fn read(_table: &Table, _of: &Stated) -> Option<Self> {
        None
    }

    /// Turns uniforms in (0, 1) into deviations, in place; rising.
    fn transform(&self, u: &mut [f64]);

    /// The probability of a deviation of at most `x`.
    fn cdf(&self, x: f64) -> f64;

    /// See [`Distribution::joint_cdf`]; `reading` is finite.
    fn joint_cdf(&self, _x: f64, _reading: f64, _gauge: f64) -> Option<f64> {
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
    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self;

    /// The standard deviation, of a normal distribution of mean 0 alone.
    fn normal_sd(&self) -> Option<f64> {
        None
    }

    /// Where a normal distribution is cut off to either side, in standard deviations before the cut.
    fn cut(&self) -> Option<f64> {
        None
    }

    /// See [`Distribution::rejected`].
    fn rejected(&self) -> Option<f64> {
        None
    }

    /// See [`Distribution::components`]; empty where it is none of others.
    fn components(&self) -> Vec<(f64, f64, &Distribution)> {
        Vec::new()
    }

    /// See [`Distribution::is_exact`].
    fn is_exact(&self) -> bool {
        self.range() == Some((0.0, 0.0))
    }

    /// The transform that gives exactly 0 where there is no spread.
    fn quantiles(&self, u: &mut [f64]) {
        if self.is_exact() {
            u.fill(0.0);
        } else {
            self.transform(u);
        }
    }

    /// A deviation from as many words of a generator as it takes.
    fn sample<R: Rng + ?Sized>(&self, words: &mut R) -> f64 {
        let mut deviation = [draw::uniform(words.next_u32())];
        self.quantiles(&mut deviation);
        deviation[0]
    }

    /// See [`Distribution::draw`].
    fn draw<const W: usize>(
        &self,
        key: Key,
        first_trial: u64,
        slot: u32,
        rows: &mut [[f32; W]],
        room: &mut [[f64; W]],
    ) {
        if Self::READS_STREAM {
            each_stream(key, first_trial, slot, rows, |stream| self.sample(stream) as f32);
            return;
        }
        draw::fill::<W>(key, first_trial, slot, room.as_flattened_mut());
        self.quantiles(room.as_flattened_mut());
        for (row, doubles) in rows.iter_mut().zip(room) {
            *row = doubles.map(|x| x as f32);
        }
    }

    /// See [`Distribution::draw_scores`].
    fn draw_scores<const W: usize>(
        &self,
        key: Key,
        first_trial: u64,
        slot: u32,
        scores: &mut [[f64; W]],
        _rows: &mut [[f32; W]],
    ) {
        if Self::READS_STREAM {
            each_stream(key, first_trial, slot, scores, |stream| inside(self.cdf(self.sample(stream))));
        } else {
            draw::fill::<W>(key, first_trial, slot, scores.as_flattened_mut());
        }
        math::normal::quantiles(scores.as_flattened_mut());
    }

    /// See [`Distribution::transform_scores`].
    fn transform_scores(&self, scores: &mut [f64]) {
        for z in &mut *scores {
            *z = inside(math::normal::probability(*z));
        }
        self.quantiles(scores);
    }
}

/// Fills `out`, `[index][lane]`, with what a value makes of the stream of each draw.
fn each_stream<T, const W: usize>(
    key: Key,
    first_trial: u64,
    slot: u32,
    out: &mut [[T; W]],
    value: impl Fn(&mut Stream) -> T,
) {
    for (index, row) in (0..).zip(out) {
        for (lane, out) in (0..).zip(row) {
            *out = value(&mut Stream::new(key, first_trial.wrapping_add(lane), index, slot));
        }
    }
}

macro_rules! distributions {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub(crate) use $module::$Type;)*

        /// The distribution of a deviation from nominal, in the unit of the quantity that deviates.
        #[derive(Clone, Debug, PartialEq)]
        pub(crate) enum Distribution { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type($Type)),* }

        /// Keys of a study, and how the table behind each is read; "plus or minus" is a way to write one of the others.
        const READERS: &[(Option<&io::Key<Special>>, Reader)] = &[
            $((
                <$Type as Univariate>::KEY,
                |table, of| <$Type as Univariate>::read(table, of).map(Distribution::$Type),
            ),)*
            (Some(&plus_or_minus::KEY), plus_or_minus::read),
        ];

        /// The keys under which a distribution is stated, one of them.
        pub(crate) static DISTRIBUTIONS: Keys = Keys {
            about: "",
            own: &[&plus_or_minus::KEY],
            with: &[$(&Keys { about: "", own: <$Type as Univariate>::DECLARED, with: &[], kinds: &[] }),*],
            kinds: &[],
        };

        impl Distribution {
            /// The distributions that "plus or minus" can mean, each with its key.
            fn all_within() -> Vec<(&'static str, Within)> {
                let all = [$((<$Type as Univariate>::KEY, <$Type as Univariate>::WITHIN)),*];
                all.into_iter().filter_map(|(key, within)| Some((key?.name, within?))).collect()
            }

            /// The distribution's name in prose.
            pub(crate) fn name(&self) -> &'static str {
                match self { $(Self::$Type(_) => $Type::NAME),* }
            }

            /// The mean deviation: 0 but for distributions that are not symmetric.
            pub(crate) fn mean(&self) -> f64 {
                match self { $(Self::$Type(distribution) => distribution.mean()),* }
            }

            /// The standard deviation of the deviations (of a truncated distribution: after the cut).
            pub(crate) fn sd(&self) -> f64 {
                match self { $(Self::$Type(distribution) => distribution.sd()),* }
            }

            /// The lowest and the highest deviation; none if one of them does not exist.
            pub(crate) fn range(&self) -> Option<(f64, f64)> {
                match self { $(Self::$Type(distribution) => distribution.range()),* }
            }

            /// The distribution of the deviations multiplied by `factor`; a negative one mirrors it.
            #[cfg(test)]
            pub(crate) fn scaled(&self, factor: f64) -> Self {
                match self { $(Self::$Type(distribution) => Self::$Type(distribution.scaled(factor))),* }
            }

            /// The standard deviation, of a plain normal distribution alone.
            pub(crate) fn normal_sd(&self) -> Option<f64> {
                match self { $(Self::$Type(distribution) => distribution.normal_sd()),* }
            }

            /// Where a normal distribution is cut off to either side, in standard deviations before the cut; `None` of any other.
            pub(crate) fn cut(&self) -> Option<f64> {
                match self { $(Self::$Type(distribution) => Univariate::cut(distribution)),* }
            }

            /// The share of the delivered parts or lots, see [`Distribution::taken`], that its incoming inspection rejects; `None` without one.
            pub(crate) fn rejected(&self) -> Option<f64> {
                match self { $(Self::$Type(distribution) => Univariate::rejected(distribution)),* }
            }

            /// What its incoming inspection takes or rejects: "parts" one by one, or whole "lots".
            pub(crate) fn taken(&self) -> &'static str {
                match self { $(Self::$Type(_) => $Type::TAKEN),* }
            }

            /// Whether it is an event that happens or does not: its standard deviation is the root of a probability.
            pub(crate) fn is_event(&self) -> bool {
                match self { $(Self::$Type(_) => $Type::IS_EVENT),* }
            }

            /// Whether there is no spread at all.
            pub(super) fn is_exact(&self) -> bool {
                match self { $(Self::$Type(distribution) => distribution.is_exact()),* }
            }

            /// The distributions that it is mixed of, each with its share of all and its offset; itself where it is not mixed. Their
            /// quantiles are cheap, those of a mixture are not.
            pub(crate) fn components(&self) -> Vec<(f64, f64, &Distribution)> {
                let components = match self { $(Self::$Type(distribution) => Univariate::components(distribution)),* };
                if components.is_empty() { vec![(1.0, 0.0, self)] } else { components }
            }

            /// Draws deviations into `rows`, `[index][lane]`, in single precision: of a normal distribution by [`draw::normals`], of those
            /// without a closed quantile by a [`Stream`] for each, of all others the quantiles of the uniforms of [`draw::fill`]. `room`
            /// holds as many doubles, for the distributions that need them.
            pub(crate) fn draw<const W: usize>(
                &self,
                key: Key,
                first_trial: u64,
                slot: u32,
                rows: &mut [[f32; W]],
                room: &mut [[f64; W]],
            ) {
                match self { $(Self::$Type(distribution) => distribution.draw(key, first_trial, slot, rows, room)),* }
            }

            /// The normal scores of what [`Distribution::draw`] draws: the standard normal deviates at the probabilities of the
            /// deviations. `rows` is room for as many.
            pub(crate) fn draw_scores<const W: usize>(
                &self,
                key: Key,
                first_trial: u64,
                slot: u32,
                scores: &mut [[f64; W]],
                rows: &mut [[f32; W]],
            ) {
                match self { $(Self::$Type(distribution) => distribution.draw_scores(key, first_trial, slot, scores, rows)),* }
            }

            /// Turns normal scores into deviations, in place.
            pub(crate) fn transform_scores(&self, scores: &mut [f64]) {
                match self { $(Self::$Type(distribution) => distribution.transform_scores(scores)),* }
            }

            /// Turns uniforms in (0, 1) into deviations, in place. A distribution without spread gives exactly 0.
            pub(crate) fn transform(&self, u: &mut [f64]) {
                match self { $(Self::$Type(distribution) => distribution.quantiles(u)),* }
            }

            fn cdf_with_spread(&self, x: f64) -> f64 {
                match self { $(Self::$Type(distribution) => distribution.cdf(x)),* }
            }

            fn joint_cdf_with_spread(&self, x: f64, reading: f64, gauge: f64) -> Option<f64> {
                match self { $(Self::$Type(distribution) => distribution.joint_cdf(x, reading, gauge)),* }
            }
        }

        /// Deviations from any generator: of a [`Stream::of_plain_draws`] the first is the quantile at its first word, and of those without a
        /// closed quantile as `rand_distr` draws them.
        impl rand_distr::Distribution<f64> for Distribution {
            fn sample<R: Rng + ?Sized>(&self, words: &mut R) -> f64 {
                match self { $(Self::$Type(distribution) => Univariate::sample(distribution, words)),* }
            }
        }
    };
}

distributions! {
    normal::Normal,
    truncated_normal::TruncatedNormal,
    uniform::Uniform,
    triangular::Triangular,
    arcsine::Arcsine,
    log_normal::LogNormal,
    weibull::Weibull,
    gamma::Gamma,
    beta::Beta,
    mixture::Mixture,
    empirical::Empirical,
    screened::Screened,
    sampled::Sampled,
    bernoulli::Bernoulli,
}

mod plus_or_minus;
pub(crate) mod weighted;

#[cfg(test)]
pub(crate) use mixture::Part;

impl Distribution {
    /// The deviation that is not exceeded with probability `p`, 0 < p < 1; the bits of
    /// [`Distribution::transform`].
    pub(crate) fn quantile(&self, p: f64) -> f64 {
        let mut deviation = [p];
        self.transform(&mut deviation);
        deviation[0]
    }

    /// The probability of a deviation of at most `x`.
    pub(crate) fn cdf(&self, x: f64) -> f64 {
        if self.is_exact() {
            return if x >= 0.0 { 1.0 } else { 0.0 };
        }
        self.cdf_with_spread(x)
    }

    /// The probability of a deviation of at most `x` whose reading is at most `reading`, by a gauge whose errors are normal, of standard
    /// deviation `gauge` > 0; either may be infinite. `None` where the distribution has no closed form for it.
    pub(super) fn joint_cdf(&self, x: f64, reading: f64, gauge: f64) -> Option<f64> {
        if reading.is_infinite() {
            return Some(if reading > 0.0 { self.cdf(x) } else { 0.0 });
        }
        if self.is_exact() {
            return Some(if x >= 0.0 { math::normal::probability(reading / gauge) } else { 0.0 });
        }
        self.joint_cdf_with_spread(x, reading, gauge)
    }

    /// The distribution's probabilities below the lower and up to the upper end of a window, both of which belong to it.
    pub(crate) fn probabilities(&self, window: Window) -> (f64, f64) {
        (self.cdf(window.low.next_down()), self.cdf(window.high))
    }

    /// The distribution of the sum of two normal deviations; `None` where one is not normal.
    pub(crate) fn plus_normal(&self, other: &Distribution) -> Option<Distribution> {
        let sd = math::scalar::hypot(self.normal_sd()?, other.normal_sd()?);
        Normal::new(sd).map(Distribution::Normal).ok()
    }

    /// The largest size a deviation can have; none if there is no largest.
    pub(crate) fn half_range(&self) -> Option<f64> {
        self.range().map(|(lowest, highest)| highest.max(-lowest))
    }

    /// The distribution of something that happens with probability `p`, to either side alike; see [`Bernoulli`].
    ///
    /// # Errors
    /// If `p` is no probability.
    pub(crate) fn bernoulli(p: f64) -> Result<Distribution, InvalidDistribution> {
        Bernoulli::new(p).map(Distribution::Bernoulli)
    }
}

/// No probability that a deviation is made from is nearer to 0 or 1.
const NEAREST_END: f64 = f64::EPSILON / 2.0;

/// A probability that a quantile can be taken at.
fn inside(p: f64) -> f64 {
    p.clamp(NEAREST_END, 1.0 - NEAREST_END)
}

/// The range of a symmetric distribution.
fn symmetric(half_width: f64) -> Option<(f64, f64)> {
    Some((-half_width, half_width))
}
