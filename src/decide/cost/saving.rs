//! The saving on a unit, and the number of units that pays back what is paid once.

use crate::stats::{Estimate, Pairs};

/// The saving on a good unit of one candidate over another.
#[derive(Clone, Debug)]
pub(crate) struct Saving {
    /// With one-time payments spread over the units of a year.
    pub amount: Estimate,
    /// Difference of the one-time payments, for each good unit.
    pub once: f64,
    /// Difference of the one-time payments, in total.
    pub extra: f64,
    /// The units by both verdicts.
    pub pairs: Pairs,
}

/// The break-even point: for how many good units a candidate pays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pays {
    /// From the first unit on.
    AtOnce,
    /// From this many units on.
    From(u64),
    /// Up to this many: the one-time payment is smaller, the price of a unit higher.
    UpTo(u64),
    /// For none.
    Never,
}

impl Saving {
    /// The same without one-time payments.
    pub(crate) fn running(&self) -> Estimate {
        let of = &self.amount;
        Estimate {
            value: of.value + self.once,
            low: of.low + self.once,
            high: of.high + self.once,
            ..of.clone()
        }
    }

    /// Whether the units show a saving.
    pub(crate) fn pays_off(&self) -> bool {
        self.amount.low > 0.0
    }

    /// Whether the interval of the saving excludes 0.
    pub(crate) fn is_significant(&self) -> bool {
        self.amount.low > 0.0 || self.amount.high < 0.0
    }

    /// The break-even point: at the estimated saving, and at the ends of its interval, the better one first.
    pub(crate) fn pays(&self) -> (Pays, [Pays; 2]) {
        let running = self.running();
        (pays(running.value, self.extra), [running.high, running.low].map(|end| pays(end, self.extra)))
    }

    /// Units after which the interval of a saving like this one would exclude 0, as its width falls with the square root of their number;
    /// `None` for a saving of 0, and where the interval is open.
    pub(crate) fn units_to_tell(&self) -> Option<u64> {
        let of = &self.amount;
        let miss = if of.value > 0.0 { of.value - of.low } else { of.high - of.value };
        let ratio = miss / of.value.abs();
        let units = (of.count as f64 * ratio * ratio).ceil();
        units.is_finite().then_some(units as u64)
    }
}

/// The break-even point of a saving on each unit and a difference of one-time payments.
fn pays(saving: f64, extra: f64) -> Pays {
    // Room for rounding, so that an exact break-even is not moved by a unit.
    const ROUNDING: f64 = 1e-9;
    let units = (extra / saving).abs();
    match () {
        _ if saving > 0.0 && extra <= 0.0 || saving == 0.0 && extra < 0.0 => Pays::AtOnce,
        _ if saving > 0.0 => Pays::From((units * (1.0 - ROUNDING)).ceil() as u64),
        _ if saving < 0.0 && extra < 0.0 => match (units * (1.0 + ROUNDING)).floor() as u64 {
            0 => Pays::Never,
            units => Pays::UpTo(units),
        },
        _ => Pays::Never,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_breaks_even_where_the_savings_equal_the_one_time_payment() {
        // By hand: 282.6/31.4 = 9 units, though 9 * 31.4 is not 282.6 to the last bit; 300/31.4 = 9.55.
        for (saving, extra, expected) in [
            (31.4, 282.6, Pays::From(9)),
            (31.4, 300.0, Pays::From(10)),
            (31.4, 0.0, Pays::AtOnce),
            (31.4, -5.0, Pays::AtOnce),
            (0.0, -5.0, Pays::AtOnce),
            (0.0, 5.0, Pays::Never),
            (0.0, 0.0, Pays::Never),
            (-2.0, 5.0, Pays::Never),
            (-2.0, 0.0, Pays::Never),
            (-2.0, -5.0, Pays::UpTo(2)),
            (-2.0, -1.0, Pays::Never),
            (f64::INFINITY, 5.0, Pays::From(0)),
            (f64::NEG_INFINITY, 5.0, Pays::Never),
        ] {
            assert_eq!(pays(saving, extra), expected, "{saving}, {extra}");
        }
    }

    #[test]
    fn the_running_saving_leaves_one_time_payments_out() {
        // By hand: 20 saved (15 to 26) at 300 units after 3 a unit for 900: 23 (18 to 29) without; 900/23 = 39.1, 900/18 = 50, 900/29 = 31.03.
        let amount =
            Estimate { value: 20.0, low: 15.0, high: 26.0, confidence: 0.95, method: "", count: 4000 };
        let saving = Saving { amount, once: 3.0, extra: 900.0, pairs: Pairs::default() };
        assert_eq!(saving.pays(), (Pays::From(40), [Pays::From(32), Pays::From(50)]));
        assert!(saving.pays_off() && saving.is_significant());
    }

    #[test]
    fn the_units_for_significance_grow_with_the_square() {
        // By hand: 2 saved, down to -4: three times as narrow is nine times as many.
        let amount = Estimate { value: 2.0, low: -4.0, high: 9.0, confidence: 0.95, method: "", count: 4000 };
        let saving = Saving { amount: amount.clone(), once: 0.0, extra: 0.0, pairs: Pairs::default() };
        assert_eq!((saving.units_to_tell(), saving.is_significant()), (Some(36_000), false));
        assert_eq!(Saving { amount: amount.negated(), ..saving.clone() }.units_to_tell(), Some(36_000));
        let nothing = Estimate { value: 0.0, low: -1.0, high: 1.0, ..amount.clone() };
        assert_eq!(Saving { amount: nothing, ..saving.clone() }.units_to_tell(), None);
        let open = Estimate { low: f64::NEG_INFINITY, ..amount };
        assert_eq!(Saving { amount: open, ..saving }.units_to_tell(), None);
    }
}
