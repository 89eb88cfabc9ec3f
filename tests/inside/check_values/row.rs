//! A reference value, and the result of a run.

use beamyield::math::scalar;
use beamyield::stats::Moments;

/// Allowed standard errors of a found value, besides the row's own tolerance.
const STANDARD_ERRORS: f64 = 4.0;

/// A value from outside with its tolerance.
pub(crate) struct Row {
    id: &'static str,
    value: f64,
    tolerance: f64,
}

/// A row by its id and its value as printed; it is right to one unit of the last digit.
pub(crate) fn row(id: &'static str, printed: &str) -> Row {
    let decimals = printed.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    Row { id, value: printed.parse().expect("a number"), tolerance: scalar::exp10(-(decimals as f64)) }
}

impl Row {
    /// The row with another tolerance than its last digit.
    pub(crate) fn within(self, tolerance: f64) -> Row {
        Row { tolerance, ..self }
    }

    /// The row with a tolerance no smaller than another.
    pub(crate) fn within_at_least(self, tolerance: f64) -> Row {
        let tolerance = tolerance.max(self.tolerance);
        self.within(tolerance)
    }

    /// The row with a tolerance that is a share of its value.
    pub(crate) fn within_share(self, share: f64) -> Row {
        let tolerance = share * self.value.abs();
        self.within(tolerance)
    }

    /// The value as printed.
    pub(crate) fn value(&self) -> f64 {
        self.value
    }

    /// Allowed deviation of a value, besides its statistical error.
    pub(crate) fn tolerance(&self) -> f64 {
        self.tolerance
    }

    fn bound(&self, found: LimitResult) -> f64 {
        self.tolerance + STANDARD_ERRORS * found.standard_error
    }

    /// Fails unless the found value is within the tolerance and four standard errors.
    #[track_caller]
    pub(crate) fn is_met_by(&self, found: LimitResult) {
        let Row { id, value, .. } = self;
        println!("{id}: expected {value}, seen {:.6}, bound {:.6}", found.value, self.bound(found));
        let distance = (found.value - value).abs();
        assert!(distance <= self.bound(found), "{id}: {value} expected, {found:?}");
    }

    /// Fails unless the found value is outside: the negative control of [`Row::is_met_by`].
    #[track_caller]
    pub(crate) fn is_missed_by(&self, found: LimitResult) {
        let Row { id, value, .. } = self;
        let distance = (found.value - value).abs();
        assert!(distance > self.bound(found), "{id}: {value} should be missed, {found:?}");
    }
}

/// The result of a run, with its standard error.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LimitResult {
    pub value: f64,
    pub standard_error: f64,
}

impl LimitResult {
    /// A value without statistical error.
    pub(crate) fn exactly(value: f64) -> LimitResult {
        LimitResult { value, standard_error: 0.0 }
    }

    /// A mean.
    pub(crate) fn mean(of: &Moments) -> LimitResult {
        LimitResult { value: of.mean, standard_error: of.standard_error() }
    }

    /// The root of a mean of squares.
    pub(crate) fn root(squares: &Moments) -> LimitResult {
        let value = squares.mean.sqrt();
        LimitResult { value, standard_error: squares.standard_error() / (2.0 * value) }
    }

    /// A mean of linear powers, in dB.
    pub(crate) fn level(powers: &Moments) -> LimitResult {
        let nepers = powers.standard_error() / powers.mean;
        LimitResult {
            value: 10.0 * scalar::log10(powers.mean),
            standard_error: 10.0 / scalar::ln(10.0) * nepers,
        }
    }

    /// The same times a factor.
    pub(crate) fn times(self, factor: f64) -> LimitResult {
        LimitResult { value: factor * self.value, standard_error: factor.abs() * self.standard_error }
    }

    /// The same and a number.
    pub(crate) fn plus(self, shift: f64) -> LimitResult {
        LimitResult { value: self.value + shift, ..self }
    }
}

/// Linear power of a level in dB.
pub(crate) fn linear(db: f64) -> f64 {
    scalar::exp10(db / 10.0)
}
