//! The distribution of parts from two suppliers, or of one that changed its process.

use super::invalid::finite;
use super::{DISTRIBUTIONS, Distribution, InvalidDistribution, Stated, Univariate, read::made};
use crate::io::{Check, Difference, Key, Nested, Optional, Quantity, Special, Table, keys};
use crate::random::{self, draw};

/// How a study states it.
const KEY: Key<Special> = distribution!(
    "mixture",
    KEYS,
    "{ share = 0.3, first = { normal = { sd = \"0.1 mm\" } }, second = { offset = \"0.1 mm\", normal = { sd = \"0.1 mm\" } } }"
);

keys! {
    KEYS: "Parts of two kinds, from two suppliers say";
    SHARE: Quantity =
        Key::number("share", Check::Within(LEAST, 1.0 - LEAST), "0.3", "Share of the parts of the first kind");
    FIRST: Nested = Key::table("first", &FIRST_PART, "{ normal = { sd = \"0.1 mm\" } }").needed();
    SECOND: Nested = Key::table("second", &SECOND_PART, "{ offset = \"0.1 mm\", normal = { sd = \"0.1 mm\" } }").needed();
}

keys! {
    FIRST_PART: "Parts of the first kind: an offset and a distribution", with DISTRIBUTIONS;
    OFFSET: Optional<Difference> = Key::difference("offset", Check::Any, "Mean deviation; 0 where it is left out").optional();
}

keys! {
    SECOND_PART: "Parts of the second kind: an offset and a distribution", with DISTRIBUTIONS;
    SECOND_OFFSET: Optional<Difference> = OFFSET;
}

/// A share of the parts deviates by a first distribution about an offset of its own, the rest by a second about another.
///
/// With w the share of the first, F = w F1(x - o1) + (1 - w) F2(x - o2); the mean is w m1 + (1 - w) m2, where m is an
/// offset with its distribution's mean, and the variance w (s1^2 + (m1 - mean)^2) + (1 - w) (s2^2 + (m2 - mean)^2). The quantile is
/// the root of F(x) = u between the quantiles of the two, to the last digits of double precision; it rises with u, so
/// correlated parts of two suppliers are large together.
///
/// Source: definition; moments by the law of total variance.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Mixture {
    share: f64,
    parts: Box<[Part; 2]>,
}

/// One of the two distributions, moved by an offset.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Part {
    /// Added to every deviation.
    pub offset: f64,
    /// Distribution about the offset.
    pub distribution: Distribution,
}

impl Part {
    fn read(
        parent: &Table,
        key: Key<Nested>,
        offset: Key<Optional<Difference>>,
        of: &Stated,
    ) -> Option<Part> {
        let table = parent.required_table(key, key.example)?;
        let offset = table.read(&offset.of(of.dimension)).unwrap_or(0.0);
        let distribution = Distribution::required(&table, of)?;
        Some(Part { offset, distribution })
    }

    fn mean(&self) -> f64 {
        self.offset + self.distribution.mean()
    }
}

/// No share is nearer to none or all.
const LEAST: f64 = 1e-6;

impl Mixture {
    /// A mixture, `share` of it by the first of the parts.
    ///
    /// # Errors
    /// If `share` is not from 0.000001 to 0.999999, or an offset is not finite.
    pub(crate) fn new(share: f64, parts: [Part; 2]) -> Result<Self, InvalidDistribution> {
        if !(LEAST..=1.0 - LEAST).contains(&share) {
            return Err(InvalidDistribution::Share);
        }
        parts.iter().try_for_each(|part| finite("an offset", part.offset).map(drop))?;
        Ok(Self { share, parts: Box::new(parts) })
    }

    /// `of` of both parts, by their shares.
    fn average(&self, of: impl Fn(&Part) -> f64) -> f64 {
        self.share * of(&self.parts[0]) + (1.0 - self.share) * of(&self.parts[1])
    }

    fn quantile(&self, u: f64, digits: Digits) -> f64 {
        let [first, second] = self.parts.each_ref().map(|part| part.offset + part.distribution.quantile(u));
        root(first.min(second), first.max(second), digits, |x| self.cdf(x) - u)
    }
}

impl Univariate for Mixture {
    const NAME: &'static str = "mixture";
    const KEY: Option<&'static Key<Special>> = Some(&KEY);

    fn read(table: &Table, of: &Stated) -> Option<Self> {
        let share = table.read(&SHARE);
        let first = Part::read(table, FIRST, OFFSET, of);
        let second = Part::read(table, SECOND, SECOND_OFFSET, of);
        made(table, Self::new(share, [first?, second?]))
    }

    fn transform(&self, u: &mut [f64]) {
        for u in u {
            *u = self.quantile(*u, Digits::Double);
        }
    }

    fn draw<const W: usize>(
        &self,
        key: random::Key,
        first_trial: u64,
        slot: u32,
        rows: &mut [[f32; W]],
        room: &mut [[f64; W]],
    ) {
        if self.is_exact() {
            rows.fill([0.0; W]);
            return;
        }
        draw::fill::<W>(key, first_trial, slot, room.as_flattened_mut());
        for (row, u) in rows.as_flattened_mut().iter_mut().zip(room.as_flattened()) {
            *row = self.quantile(*u, Digits::Single) as f32;
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        self.average(|part| part.distribution.cdf(x - part.offset))
    }

    fn mean(&self) -> f64 {
        self.average(Part::mean)
    }

    fn sd(&self) -> f64 {
        let mean = self.mean();
        let square = |x: f64| x * x;
        self.average(|part| square(part.distribution.sd()) + square(part.mean() - mean)).sqrt()
    }

    fn range(&self) -> Option<(f64, f64)> {
        let [first, second] = self.parts.each_ref().map(|part| {
            let (lowest, highest) = part.distribution.range()?;
            Some((part.offset + lowest, part.offset + highest))
        });
        let (first, second) = (first?, second?);
        Some((first.0.min(second.0), first.1.max(second.1)))
    }

    #[cfg(test)]
    fn scaled(&self, factor: f64) -> Self {
        let parts = self.parts.each_ref().map(|part| Part {
            offset: factor * part.offset,
            distribution: part.distribution.scaled(factor),
        });
        Self { share: self.share, parts: Box::new(parts) }
    }

    /// Mixtures of mixtures taken apart.
    fn components(&self) -> Vec<(f64, f64, &Distribution)> {
        let parts = [self.share, 1.0 - self.share].into_iter().zip(self.parts.iter());
        let inner = parts.flat_map(|(share, part)| {
            let inner = part.distribution.components().into_iter();
            inner
                .map(move |(of_it, offset, distribution)| (share * of_it, part.offset + offset, distribution))
        });
        inner.collect()
    }
}

/// How close the two ends of a bracket come.
#[derive(Clone, Copy)]
enum Digits {
    /// To the last digits of double precision.
    Double,
    /// Until both are the same number in single precision, which is that of the place between them to the last bit.
    Single,
}

impl Digits {
    fn are_there(self, low: f64, high: f64) -> bool {
        match self {
            Digits::Double => high - low <= f64::EPSILON * low.abs().max(high.abs()),
            Digits::Single => (low as f32).to_bits() == (high as f32).to_bits(),
        }
    }

    /// How far beyond a place that is nearly right the next value is taken, of itself: so that it closes the bracket.
    fn beyond(self) -> f64 {
        match self {
            Digits::Double => 2.0 * f64::EPSILON,
            Digits::Single => 0.25 * f64::from(f32::EPSILON),
        }
    }
}

/// The place between `low` and `high` where the rising `f` reaches zero: of a jump, its place; of a stretch of zeros, one
/// of them. Inverse interpolation by the last three values (Brent, Algorithms for Minimization without Derivatives, 1973, ch. 4, from
/// memory), halved where three values do not halve the bracket: some nine values in place of sixty by halving.
fn root(mut low: f64, mut high: f64, digits: Digits, f: impl Fn(f64) -> f64) -> f64 {
    // The last three places with their values, the ends first; the third comes with the first step.
    let (below, above) = (f(low), f(high));
    let mut last = [(low, below), (low, below), (high, above)];
    if below >= 0.0 {
        return low;
    }
    let mut x = low - below * (high - low) / (above - below);
    let mut widths = [f64::INFINITY; 3];
    // Halving alone ends after some 60 steps, and every third step at the latest is one.
    for _ in 0..200 {
        let width = high - low;
        if digits.are_there(low, high) {
            break;
        }
        let is_slow = width > 0.5 * widths[0];
        widths = [widths[1], widths[2], width];
        if is_slow || !(low < x && x < high) {
            x = low + 0.5 * width;
            widths = [f64::INFINITY, f64::INFINITY, width];
        }
        let value = f(x);
        if value < 0.0 {
            low = x;
        } else {
            high = x;
        }
        if value == 0.0 {
            break;
        }
        last = [last[1], last[2], (x, value)];
        let [(p, fp), (q, fq), (r, fr)] = last;
        let next = p * fq * fr / ((fp - fq) * (fp - fr))
            + q * fp * fr / ((fq - fp) * (fq - fr))
            + r * fp * fq / ((fr - fp) * (fr - fq));
        let is_near = (next - x).abs() < 1e-3 * next.abs();
        let beyond = if is_near { digits.beyond() * next.abs() } else { 0.0 };
        x = if value < 0.0 { next + beyond } else { next - beyond };
    }
    high
}
