//! Amounts of money for people: as many digits as their interval justifies, then the study's currency.

use crate::report::number::{ABSENT, decimals_for, decimals_off_0, fixed};
use crate::stats::Estimate;

/// Decimals of an amount that is exact.
const CENTS: i32 = 2;

/// An estimate of this size or more is shown without decimals.
const LARGE: f64 = 1000.0;

/// Most decimals of an amount: prices may be in thousands.
const MOST: i32 = 5;

/// Decimals of an amount with this uncertainty; of an exact one by its size.
fn decimals(value: f64, uncertainty: f64) -> i32 {
    match decimals_for(uncertainty) {
        // Decimals mean nothing beside so much.
        Some(_) if value.abs() >= LARGE => 0,
        // No one writes tenths: two decimals, or none.
        Some(1) if uncertainty < 1.0 => CENTS,
        Some(1) => 0,
        Some(decimals) => decimals.clamp(0, MOST),
        None => decimals_for(value).map_or(CENTS, |decimals| (decimals + 1).clamp(CENTS, MOST)),
    }
}

/// An exact amount: "31.40".
pub(super) fn bare(value: f64) -> String {
    fixed(value, decimals(value, 0.0))
}

/// An exact amount with its currency: "31.40 EUR".
pub(super) fn amount(value: f64, currency: &str) -> String {
    format!("{} {currency}", bare(value))
}

/// An estimated amount with its currency, and its interval without: "31.40 EUR", "31.12 to 31.69". The ends are rounded outward; an open
/// end says so, and does not limit the digits of the amount.
pub(super) fn money(of: &Estimate, currency: &str) -> (String, String) {
    let decimals = match decimals_off_0(of.low, of.high, decimals(of.value, half(of))) {
        1 => CENTS,
        decimals => decimals.min(MOST),
    };
    let scale = (0..decimals).fold(1.0, |scale, _| scale * 10.0);
    // A small margin, so that a round end stays round.
    let down = || fixed((of.low * scale + 1e-6).floor() / scale, decimals);
    let up = || fixed((of.high * scale - 1e-6).ceil() / scale, decimals);
    let interval = match (of.low.is_finite(), of.high.is_finite()) {
        (true, true) if of.low == of.high => fixed(of.value, decimals),
        (true, true) => format!("{} to {}", down(), up()),
        (true, false) => format!("{} or more", down()),
        (false, true) => format!("{} or less", up()),
        (false, false) => ABSENT.to_owned(),
    };
    (format!("{} {currency}", fixed(of.value, decimals)), interval)
}

/// An amount with the decimals of an estimate beside it: "31".
pub(super) fn beside(value: f64, of: &Estimate) -> String {
    fixed(value, decimals(of.value, half(of)))
}

/// The mean distance of the closed ends from the value.
fn half(of: &Estimate) -> f64 {
    match (of.low.is_finite(), of.high.is_finite()) {
        (true, true) => 0.5 * (of.high - of.low),
        (true, false) => of.value - of.low,
        (false, true) => of.high - of.value,
        (false, false) => 0.0,
    }
}

/// An estimated amount in a sentence: "31.40 EUR (31.12 to 31.69)"; an exact one without interval.
pub(super) fn in_sentence(of: &Estimate, currency: &str) -> String {
    let (value, interval) = money(of, currency);
    if of.low == of.high { value } else { format!("{value} ({interval})") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(value: f64, low: f64, high: f64) -> Estimate {
        Estimate { value, low, high, confidence: 0.95, method: "", count: 1000 }
    }

    #[test]
    fn an_exact_amount_has_two_decimals() {
        assert_eq!(amount(31.4, "EUR"), "31.40 EUR");
        assert_eq!(amount(-1200.0, "CHF"), "-1200.00 CHF");
        assert_eq!([0.0, 0.5, 0.0423, 0.001].map(bare), ["0.00", "0.50", "0.042", "0.00100"]);
        assert_eq!(bare(f64::INFINITY), "-");
    }

    #[test]
    fn an_uncertain_amount_is_rounded_by_its_interval_and_that_outward() {
        for (estimate, value, interval) in [
            (of(31.4, 28.3, 34.6), "31 EUR", "28 to 35"),
            (of(31.4, 31.123, 31.687), "31.40 EUR", "31.12 to 31.69"),
            (of(1234.5, 1190.2, 1280.9), "1234 EUR", "1190 to 1281"),
            (of(5136.17, 5136.16, 5138.03), "5136 EUR", "5136 to 5139"),
            (of(0.84512, 0.8411, 0.8493), "0.845 EUR", "0.841 to 0.850"),
            (of(31.4, 30.0, 33.0), "31 EUR", "30 to 33"),
            (of(2.5, 2.5, 2.5), "2.50 EUR", "2.50"),
            (of(31.4, 0.3, 63.0), "31.40 EUR", "0.30 to 63.00"),
            (of(900.0, 700.0, f64::INFINITY), "900 EUR", "700 or more"),
            (of(-900.0, f64::NEG_INFINITY, -700.4), "-900 EUR", "-700 or less"),
            (of(5.0, f64::NEG_INFINITY, f64::INFINITY), "5.00 EUR", "-"),
        ] {
            assert_eq!(money(&estimate, "EUR"), (value.to_owned(), interval.to_owned()));
        }
        assert_eq!(in_sentence(&of(31.4, 28.3, 34.6), "EUR"), "31 EUR (28 to 35)");
        assert_eq!(in_sentence(&of(2.5, 2.5, 2.5), "EUR"), "2.50 EUR");
        assert_eq!(beside(7.1234, &of(31.4, 31.123, 31.687)), "7.12");
    }
}
