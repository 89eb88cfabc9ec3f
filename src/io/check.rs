//! What a number must hold, said in the unit that the number was written in.

use std::ops::RangeInclusive;

/// What a number must hold beside being finite. Bounds are in SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Check {
    /// Any finite number.
    Any,
    /// Above zero.
    Positive,
    /// Zero or above.
    NonNegative,
    /// From the first to the second, both included.
    Within(f64, f64),
}

impl Check {
    /// Whether a value holds; NaN and the infinities never do.
    pub(crate) fn holds(self, value: f64) -> bool {
        value.is_finite()
            && match self {
                Check::Any => true,
                Check::Positive => value > 0.0,
                Check::NonNegative => value >= 0.0,
                Check::Within(low, high) => low <= value && value <= high,
            }
    }

    /// What is required, with the bounds as `write` writes them: "must be above 2 mm".
    pub(super) fn demand(self, write: impl Fn(f64) -> String) -> String {
        match self {
            Check::Any => "must be finite".to_owned(),
            Check::Positive => "must be above zero".to_owned(),
            Check::NonNegative => "must not be negative".to_owned(),
            Check::Within(low, high) => {
                format!("must be from {} to {}", write(low), write(high))
            }
        }
    }

    /// A value that holds: the preferred one if it does.
    pub(super) fn stand_in(self, preferred: f64) -> f64 {
        match self {
            _ if self.holds(preferred) => preferred,
            Check::Within(low, high) => 0.5 * (low + high),
            Check::Any | Check::Positive | Check::NonNegative => 1.0,
        }
    }
}

/// What is required of a count: "must be from 1 to 12".
pub(super) fn count_demand(range: &RangeInclusive<u64>) -> String {
    match (*range.start(), *range.end()) {
        (low, u64::MAX) => format!("must be at least {low}"),
        (low, high) if low == high => format!("must be {low}"),
        (low, high) => format!("must be from {low} to {high}"),
    }
}

/// A count that holds: the smallest above zero if there is one.
pub(super) fn count_stand_in(range: &RangeInclusive<u64>) -> u64 {
    (*range.start()).max(1).min(*range.end())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::io::Key;
    use crate::io::diagnostic::{Findings, SourceText, render};
    use crate::io::quantity::Dimension;
    use crate::io::table::Document;

    const ALL: [Check; 4] = [Check::Any, Check::Positive, Check::NonNegative, Check::Within(2.0, 3.0)];

    #[test]
    fn bounds_belong_to_the_side_that_is_said() {
        let holds = |value| ALL.map(|check| check.holds(value));
        assert_eq!(holds(-1.0), [true, false, false, false]);
        assert_eq!(holds(0.0), [true, false, true, false]);
        assert_eq!(holds(2.0), [true, true, true, true]);
        assert_eq!(holds(3.0), [true, true, true, true]);
        assert_eq!(holds(4.0), [true, true, true, false]);
    }

    #[test]
    fn what_is_not_finite_never_holds() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(ALL.map(|check| check.holds(value)), [false; 4]);
        }
    }

    #[test]
    fn a_stand_in_holds_whatever_is_preferred() {
        for check in ALL {
            for preferred in [-7.0, 0.0, 2.5, 50.0, f64::NAN] {
                assert!(check.holds(check.stand_in(preferred)), "{check:?}");
            }
            let held = check.stand_in(2.5);
            assert_eq!(held == 2.5, check.holds(2.5), "{check:?}");
        }
        for range in [0..=0, 0..=5, 3..=9, 1..=u64::MAX] {
            assert!(range.contains(&count_stand_in(&range)));
        }
    }

    #[test]
    fn what_is_out_of_range_is_said_in_its_own_unit() {
        let text = "a = \"-3 mm\"\nb = \"200 deg\"\nc = \"5 mil\"\nd = -1\ne = nan\nf = 13\ng = -1\nh = 5\ni = 99999999999999999999999999999999999999999\nj = \"120 %\"\nk = inf\n";
        let document = Document::parse(SourceText { name: "input.toml".into(), text: text.into() });
        let findings = Findings::default();
        {
            let t = document.root(&findings);
            let length = |name, check| t.read(&Key::quantity(name, Dimension::Length, check, "", ""));
            let number = |name, check| t.read(&Key::number(name, check, "", ""));
            let count = |name, range| t.read(&Key::count(name, range, "", ""));
            let right = std::f64::consts::FRAC_PI_2;
            length("a", Check::Positive);
            t.read(&Key::quantity("b", Dimension::Angle, Check::Within(-right, right), "", ""));
            length("c", Check::Within(0.000254, 0.00254));
            number("d", Check::NonNegative);
            number("e", Check::Any);
            count("f", 1..=12);
            count("g", 1..=u64::MAX);
            count("h", 4..=4);
            number("i", Check::Any);
            number("j", Check::Within(0.0, 1.0));
            number("k", Check::Positive);
        }
        snapbox::assert_data_eq!(
            render(&document.source, &findings.into_vec(), false),
            snapbox::str![[r#"
error: `a` is -3 mm, but must be above zero
 --> input.toml:1:5
  |
1 | a = "-3 mm"
  |     ^^^^^^^ out of range

error: `b` is 200 deg, but must be from -90 deg to 90 deg
 --> input.toml:2:5
  |
2 | b = "200 deg"
  |     ^^^^^^^^^ out of range

error: `c` is 5 mil, but must be from 10 mil to 100 mil
 --> input.toml:3:5
  |
3 | c = "5 mil"
  |     ^^^^^^^ out of range

error: `d` is -1, but must not be negative
 --> input.toml:4:5
  |
4 | d = -1
  |     ^^ out of range

error: `e` is nan, but must be finite
 --> input.toml:5:5
  |
5 | e = nan
  |     ^^^ out of range

error: `f` is 13, but must be from 1 to 12
 --> input.toml:6:5
  |
6 | f = 13
  |     ^^ out of range

error: `g` is -1, but must be at least 1
 --> input.toml:7:5
  |
7 | g = -1
  |     ^^ out of range

error: `h` is 5, but must be 4
 --> input.toml:8:5
  |
8 | h = 5
  |     ^ out of range

error: `i` is 9999999999999999999999999999999999999999..., but must be finite
 --> input.toml:9:5
  |
9 | i = 99999999999999999999999999999999999999999
  |     ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ out of range

error: `j` is 120 %, but must be from 0 % to 100 %
  --> input.toml:10:5
   |
10 | j = "120 %"
   |     ^^^^^^^ out of range

error: `k` is inf, but must be finite
  --> input.toml:11:5
   |
11 | k = inf
   |     ^^^ out of range

11 errors in input.toml

"#]]
        );
    }
}
