//! A change and its interval in words. A sentence says which way a quantity moves only where the interval excludes 0, so every
//! sentence takes the direction, and the size, from here.

use crate::report::number::points;
use crate::stats::Estimate;

/// The direction of a change, as far as its interval shows it, with its size.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Change {
    /// The interval is above 0.
    Up(Estimate),
    /// The interval is below 0; the size is that of the fall, above 0.
    Down(Estimate),
    /// The interval contains 0.
    Unclear,
}

impl Change {
    /// What the interval of a difference shows.
    pub(super) fn of(difference: &Estimate) -> Change {
        match () {
            _ if difference.low > 0.0 => Change::Up(difference.clone()),
            _ if difference.high < 0.0 => Change::Down(difference.negated()),
            _ => Change::Unclear,
        }
    }

    /// The same of `up` and `down`, each made from the size, or of `unclear`.
    pub(super) fn say(
        difference: &Estimate,
        up: impl FnOnce(&Estimate) -> String,
        down: impl FnOnce(&Estimate) -> String,
        unclear: impl FnOnce() -> String,
    ) -> String {
        match Change::of(difference) {
            Change::Up(size) => up(&size),
            Change::Down(size) => down(&size),
            Change::Unclear => unclear(),
        }
    }
}

/// Whether the interval of a difference is above 0.
pub(super) fn is_gain(difference: &Estimate) -> bool {
    matches!(Change::of(difference), Change::Up(_))
}

/// "3.1 points (2.8 to 3.4)"
pub(super) fn in_points(of: &Estimate) -> String {
    let (value, interval) = points(of);
    format!("{value} points ({interval})")
}

/// "-0.2 to 3.1 points", of a change whose interval shows no direction.
pub(super) fn between_points(of: &Estimate) -> String {
    format!("{} points", points(of).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(value: f64, low: f64, high: f64) -> Estimate {
        Estimate { value, low, high, confidence: 0.95, method: "by hand", count: 1000 }
    }

    #[test]
    fn a_direction_is_only_what_the_interval_shows() {
        let (up, down) = (of(0.031, 0.028, 0.034), of(-0.031, -0.034, -0.028));
        assert_eq!(Change::of(&up), Change::Up(up.clone()));
        assert_eq!(Change::of(&down), Change::Down(up.clone()));
        // An interval that ends on 0 contains 0.
        for unclear in
            [of(0.015, -0.002, 0.031), of(-0.015, -0.031, 0.002), of(0.01, 0.0, 0.02), of(0.0, 0.0, 0.0)]
        {
            assert_eq!(Change::of(&unclear), Change::Unclear, "{unclear:?}");
        }
        assert_eq!(Change::of(&of(f64::NAN, f64::NAN, f64::NAN)), Change::Unclear);
        let say = |difference: &Estimate| {
            Change::say(
                difference,
                |by| format!("buys {}", in_points(by)),
                |by| format!("costs {}", in_points(by)),
                || format!("cannot tell ({})", between_points(difference)),
            )
        };
        assert_eq!(say(&up), "buys 3.1 points (2.8 to 3.4)");
        assert_eq!(say(&down), "costs 3.1 points (2.8 to 3.4)");
        assert_eq!(say(&of(-0.015, -0.031, 0.002)), "cannot tell (-3.1 to 0.2 points)");
    }
}
