//! The range of a search: how its values are spaced, and how they are rounded for a drawing.

use crate::math::scalar;

/// Resolution of values that are spaced by their ratio: a hundredth of the value.
const RATIO: f64 = 0.01;

/// Resolution of evenly spaced values: steps over the whole span.
const EVEN_STEPS: f64 = 500.0;

/// Values that are spaced by their ratio and begin at 0 are evenly spaced below this part of the largest.
const FROM_ZERO: f64 = 1e-3;

/// A range of values, from the smallest to the largest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Span {
    /// The smallest value.
    pub from: f64,
    /// The largest value.
    pub to: f64,
    /// How values between them are spaced.
    pub spacing: Spacing,
}

/// How values are spaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Spacing {
    /// By their ratio, for sizes.
    Ratio,
    /// Evenly, for values on both sides of 0.
    Even,
    /// Whole numbers.
    Whole,
}

impl Span {
    /// The spacing that suits quantities of a range.
    pub(crate) fn of_quantities(from: f64, to: f64) -> Span {
        Span { from, to, spacing: if from < 0.0 { Spacing::Even } else { Spacing::Ratio } }
    }

    /// `count` values from one end to the other, spaced by `spacing` and rounded for a drawing; fewer where rounded values coincide.
    pub(crate) fn values(&self, count: usize) -> Vec<f64> {
        let (from, to) = (self.position(self.from), self.position(self.to));
        let last = count.saturating_sub(1).max(1) as f64;
        let at = |number: usize| match number {
            0 => self.from,
            number if number + 1 == count => self.to,
            number => self.value(from + (to - from) * number as f64 / last),
        };
        let mut values: Vec<f64> = (0..count).map(at).collect();
        values.dedup();
        values
    }

    /// Values between two others, rounded for a drawing, the nearest to `value` first: all whole numbers up to a maximum, other values in
    /// even steps.
    pub(super) fn near(&self, value: f64, between: [f64; 2]) -> Vec<f64> {
        const MOST: f64 = 4096.0;
        const STEPS: usize = 17;
        let (low, high) = (between[0].min(between[1]), between[0].max(between[1]));
        let mut values: Vec<f64> = if self.spacing == Spacing::Whole {
            let (first, last) = ((low + 1.0).max(value - MOST), (high - 1.0).min(value + MOST));
            (0..=(last - first).max(0.0) as u64).map(|step| first + step as f64).collect()
        } else {
            Span { from: low, to: high, ..*self }.values(STEPS)
        };
        values.retain(|of| low < *of && *of < high && *of != value);
        let distance = |of: &f64| (self.position(*of) - self.position(value)).abs();
        values.sort_by(|a, b| distance(a).total_cmp(&distance(b)));
        values
    }

    /// A value's place on the scale on which the search divides.
    pub(super) fn position(&self, value: f64) -> f64 {
        match self.spacing {
            Spacing::Ratio => scalar::ln(value + self.offset()),
            Spacing::Even | Spacing::Whole => value,
        }
    }

    /// The value at a place, rounded for a drawing, inside the range.
    pub(super) fn value(&self, position: f64) -> f64 {
        let value = match self.spacing {
            Spacing::Ratio => significant(scalar::exp(position) - self.offset()),
            Spacing::Even => {
                let decimals = (-scalar::log10(self.resolution()) - 1e-9).ceil();
                format!("{position:.*}", decimals.clamp(0.0, 12.0) as usize).parse().unwrap_or(position)
            }
            Spacing::Whole => position.round_ties_even(),
        };
        value.clamp(self.from, self.to)
    }

    /// Resolution of places in the search.
    pub(super) fn resolution(&self) -> f64 {
        match self.spacing {
            Spacing::Ratio => scalar::ln(1.0 + RATIO),
            Spacing::Even => (self.to - self.from) / EVEN_STEPS,
            Spacing::Whole => 1.0,
        }
    }

    /// What is added to a value before its logarithm is taken, so that 0 has one.
    fn offset(&self) -> f64 {
        if self.from > 0.0 { 0.0 } else { FROM_ZERO * self.to }
    }
}

/// A number with four significant digits, for a drawing.
pub(crate) fn significant(value: f64) -> f64 {
    // Writing and reading decimals is exact, so that this rounds alike everywhere.
    format!("{value:.3e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_and_values_go_both_ways() {
        for span in [
            Span::of_quantities(0.05, 2.0),
            Span::of_quantities(0.0, 2.0),
            Span::of_quantities(-20.0, -10.0),
            Span { from: 1.0, to: 9.0, spacing: Spacing::Whole },
        ] {
            for value in [span.from, span.to, 1.0_f64.clamp(span.from, span.to)] {
                let back = span.value(span.position(value));
                assert!((back - value).abs() < 1e-9, "{span:?} {value} {back}");
            }
            let mut place = span.position(span.from);
            while place < span.position(span.to) {
                let next = span.value(place + span.resolution());
                assert!(next > span.value(place) || next == span.to, "{span:?} {next}");
                place += span.resolution();
            }
        }
    }

    #[test]
    fn values_are_rounded_for_a_drawing() {
        let span = Span::of_quantities(0.05, 2.0);
        assert_eq!(span.value(span.position(0.123456)), 0.1235);
        assert_eq!(span.value(span.position(1e9)), 2.0);
        // A span of 10 has a resolution of 0.02, written to 0.01.
        let span = Span::of_quantities(-20.0, -10.0);
        assert_eq!(span.value(-17.123456), -17.12);
        let span = Span { from: 1.0, to: 9.0, spacing: Spacing::Whole };
        assert_eq!((span.value(4.4), span.value(0.0)), (4.0, 1.0));
    }
}
