//! Numbers for people: as many digits as their uncertainty justifies.

use crate::stats::Estimate;

/// Most significant digits of a number in a table.
const DIGITS: i32 = 4;

/// Most decimals that are worth printing; beyond them a number is written with its power of ten.
const MOST_DECIMALS: i32 = 7;

/// Shown in place of an absent number.
pub(super) const ABSENT: &str = "-";

/// The leading digit of a number and its power of ten; `None` for 0 and what is not finite.
fn leading(value: f64) -> Option<(char, i32)> {
    if !value.is_finite() || value == 0.0 {
        return None;
    }
    // Writing decimals is exact everywhere, a logarithm is not. Four digits, so that 0.09999999 counts as 0.1.
    let text = format!("{:.3e}", value.abs());
    let (mantissa, power) = text.split_once('e')?;
    Some((mantissa.chars().next()?, power.parse().ok()?))
}

/// Decimals that show a value to the first digit of its uncertainty, or to the second where the first is a 1.
pub(super) fn decimals_for(uncertainty: f64) -> Option<i32> {
    let (digit, power) = leading(uncertainty)?;
    Some(if digit == '1' { 1 - power } else { -power })
}

/// A number with so many decimals, without a negative zero; [`ABSENT`] where it is not finite.
pub(super) fn fixed(value: f64, decimals: i32) -> String {
    if !value.is_finite() {
        return ABSENT.to_owned();
    }
    if decimals > MOST_DECIMALS {
        return if value == 0.0 { "0".to_owned() } else { format!("{value:.1e}") };
    }
    let text = format!("{value:.*}", decimals.max(0) as usize);
    let is_zero = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    if is_zero { text.replace('-', "") } else { text }
}

/// A value with the digits that its uncertainty justifies, at most four; without uncertainty, four.
pub(super) fn rounded(value: f64, uncertainty: f64) -> String {
    let by_size = leading(value).map_or(0, |(_, power)| DIGITS - 1 - power);
    let decimals = decimals_for(uncertainty)
        .map_or(by_size, |decimals| if value == 0.0 { decimals } else { decimals.min(by_size) });
    fixed(value, decimals)
}

/// A value with up to `digits` significant digits and no trailing zeros.
pub(super) fn significant(value: f64, digits: i32) -> String {
    let decimals = leading(value).map_or(0, |(_, power)| digits - 1 - power);
    let text = fixed(value, decimals);
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A value in a column whose largest has three significant digits.
pub(super) fn beside(value: f64, largest: f64) -> String {
    fixed(value, leading(largest).map_or(0, |(_, power)| 2 - power))
}

/// A computed number; one so small that it can only be a rounding error is 0.
pub(super) fn computed(value: f64) -> String {
    if value.abs() < 1e-9 { "0".to_owned() } else { significant(value, DIGITS) }
}

/// An estimate with the digits that its interval justifies.
pub(super) fn estimate(of: &Estimate) -> String {
    rounded(of.value, 0.5 * (of.high - of.low))
}

/// A share of 1 in percent, and its interval. The ends are rounded outward, and a share of none or of all is given as a
/// bound: "at least 99.98 %".
pub(super) fn percent(of: &Estimate) -> (String, String) {
    let count = passed(of);
    let is_bound = count == 0 || count == of.count;
    let decimals = if is_bound {
        leading(100.0 * (of.high - of.low)).map_or(0, |(_, power)| -power)
    } else {
        decimals_for(50.0 * (of.high - of.low)).unwrap_or(0)
    };
    let decimals = decimals.max(0);
    let scale = (0..decimals).fold(1.0, |scale, _| scale * 10.0);
    // A small margin, so that a round end stays round.
    let down = fixed(((100.0 * of.low) * scale + 1e-9).floor() / scale, decimals);
    let up = fixed(((100.0 * of.high) * scale - 1e-9).ceil() / scale, decimals);
    let value = if count == 0 {
        format!("at most {up} %")
    } else if count == of.count {
        format!("at least {down} %")
    } else {
        format!("{} %", fixed(100.0 * of.value, decimals))
    };
    (value, format!("{down} to {up} %"))
}

/// "91.8 % (91.3 to 92.2 %)"
pub(super) fn with_interval(of: &Estimate) -> String {
    let (value, interval) = percent(of);
    format!("{value} ({interval})")
}

/// So many decimals, or more where an interval excludes 0 and its end would be rounded to 0.
pub(super) fn decimals_off_0(low: f64, high: f64, decimals: i32) -> i32 {
    let nearest = if low > 0.0 { low } else { -high };
    let unit = (0..decimals).fold(1.0, |unit, _| unit / 10.0);
    if nearest > 0.0 && nearest < unit {
        decimals_for(nearest).unwrap_or(decimals).max(decimals)
    } else {
        decimals
    }
}

/// A difference of two shares of 1 in points, and its interval, rounded outward, but never to 0: "14.2", "13.7 to 14.8".
pub(super) fn points(of: &Estimate) -> (String, String) {
    let decimals = decimals_for(50.0 * (of.high - of.low)).unwrap_or(0).max(0);
    let decimals = decimals_off_0(100.0 * of.low, 100.0 * of.high, decimals).min(MOST_DECIMALS);
    let scale = (0..decimals).fold(1.0, |scale, _| scale * 10.0);
    let down = ((100.0 * of.low) * scale + 1e-9).floor() / scale;
    let up = ((100.0 * of.high) * scale - 1e-9).ceil() / scale;
    (fixed(100.0 * of.value, decimals), format!("{} to {}", fixed(down, decimals), fixed(up, decimals)))
}

/// The number of observations behind a share: value times count, a whole number but for rounding.
pub(super) fn passed(share: &Estimate) -> u64 {
    (share.value * share.count as f64).round() as u64
}

/// A part of a count in percent, three digits; never "0 %" or "100 %" unless it is.
pub(super) fn share(part: u64, of: u64) -> String {
    let percent = 100.0 * part as f64 / of as f64;
    match significant(percent, 3) {
        text if text == "100" && part < of => "over 99.9 %".to_owned(),
        text => format!("{text} %"),
    }
}

/// Seconds in the unit a person would choose.
pub(super) fn duration(seconds: f64) -> String {
    if seconds < 120.0 {
        format!("{} s", significant(seconds, 3))
    } else {
        format!("{} min", significant(seconds / 60.0, 3))
    }
}

/// More units than anyone builds.
pub(super) const MOST_UNITS: u64 = 1_000_000_000;

/// A number of units rounded up to so many digits, for an estimated number.
pub(super) fn about(units: u64, digits: u32) -> u64 {
    let length = units.to_string().len() as u32;
    let scale = 10u64.pow(length.saturating_sub(digits));
    units.div_ceil(scale).saturating_mul(scale)
}

/// A confidence, "95 %".
pub(super) fn confidence(of: f64) -> String {
    format!("{} %", significant(100.0 * of, 4))
}

/// "1 unit", "2 units".
pub(super) fn counted(count: u64, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::clopper_pearson;

    #[test]
    fn digits_follow_the_uncertainty() {
        for (value, uncertainty, text) in [
            (0.052341, 0.0003, "0.0523"),
            (0.052341, 0.0001, "0.05234"),
            (0.052341, 1e-9, "0.05234"),
            (-13.2468, 0.04, "-13.25"),
            (1234.5, 30.0, "1234"),
            (-0.00004, 0.003, "0.000"),
            (0.0, 0.02, "0.00"),
            (2.5, f64::NAN, "2.500"),
            (1.5e-9, 0.0, "1.5e-9"),
            (f64::NAN, 0.1, "-"),
            (f64::INFINITY, 0.1, "-"),
        ] {
            assert_eq!(rounded(value, uncertainty), text);
        }
    }

    #[test]
    fn significant_digits_without_idle_zeros() {
        for (value, text) in
            [(0.0475862533, "0.04759"), (-12.4, "-12.4"), (0.10, "0.1"), (0.0, "0"), (120.0, "120")]
        {
            assert_eq!(significant(value, 4), text);
        }
        assert_eq!(computed(-3e-16), "0");
    }

    #[test]
    fn a_yield_is_rounded_by_its_interval_and_its_interval_outward() {
        // clopper_pearson(900, 1000, 0.95) is 0.879712 to 0.917895 (scipy 1.17.1, see stats::binomial).
        let (value, interval) = percent(&clopper_pearson(900, 1000, 0.95));
        assert_eq!((value.as_str(), interval.as_str()), ("90.0 %", "87.9 to 91.8 %"));
    }

    #[test]
    fn all_and_none_are_given_as_a_bound() {
        // 0.025^(1/20000) = 0.99981557.
        let (value, interval) = percent(&clopper_pearson(20_000, 20_000, 0.95));
        assert_eq!((value.as_str(), interval.as_str()), ("at least 99.98 %", "99.98 to 100.00 %"));
        let (value, interval) = percent(&clopper_pearson(0, 20_000, 0.95));
        assert_eq!((value.as_str(), interval.as_str()), ("at most 0.02 %", "0.00 to 0.02 %"));
        // One failure in 20000 is not all.
        let (value, _) = percent(&clopper_pearson(19_999, 20_000, 0.95));
        assert_eq!(value, "99.995 %");
    }

    #[test]
    fn a_number_of_units_is_rounded_up() {
        assert_eq!([7, 42, 1234, 98_765].map(|units| about(units, 2)), [7, 42, 1300, 99_000]);
        assert_eq!([7, 10, 42, 1234, 98_765].map(|units| about(units, 1)), [7, 10, 50, 2000, 100_000]);
        assert_eq!(about(u64::MAX, 1), u64::MAX);
    }

    #[test]
    fn a_difference_is_shown_in_points() {
        let of = |value, low, high| Estimate { value, low, high, confidence: 0.95, method: "", count: 1000 };
        let shown = |estimate: &Estimate| points(estimate);
        assert_eq!(shown(&of(0.14234, 0.13691, 0.14777)), ("14.2".into(), "13.6 to 14.8".into()));
        assert_eq!(shown(&of(-0.0001, -0.0013, 0.0011)), ("-0.01".into(), "-0.13 to 0.11".into()));
        assert_eq!(shown(&of(0.0, 0.0, 0.0)), ("0".into(), "0 to 0".into()));
        // An interval that excludes 0 shows it.
        assert_eq!(shown(&of(0.031, 0.0004, 0.062)), ("3.10".into(), "0.04 to 6.20".into()));
        assert_eq!(shown(&of(-0.031, -0.062, -0.004)), ("-3.1".into(), "-6.2 to -0.4".into()));
    }

    #[test]
    fn a_share_is_never_rounded_to_all() {
        assert_eq!(share(1, 8), "12.5 %");
        assert_eq!(share(19_999, 20_000), "over 99.9 %");
        assert_eq!(share(20_000, 20_000), "100 %");
        assert_eq!(share(1, 20_000), "0.005 %");
    }
}
