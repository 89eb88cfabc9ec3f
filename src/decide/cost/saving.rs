//! What is saved a unit, and from how many units on that pays for what is paid once.

use crate::stats::{Estimate, Pairs};

/// What a good unit costs less by one way to make it than by another.
#[derive(Clone, Debug)]
pub struct Saving {
    /// At the units that are due in a year, over which what is paid once is spread.
    pub amount: Estimate,
    /// Of it, what a good unit bears more of what is paid once.
    pub once: f64,
    /// What is paid once more.
    pub extra: f64,
    /// How the verdicts go together.
    pub pairs: Pairs,
}

/// For how many good units something pays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pays {
    /// From the first on.
    AtOnce,
    /// From so many on.
    From(u64),
    /// Up to so many: less is paid once, and more a unit.
    UpTo(u64),
    /// For none.
    Never,
}

impl Saving {
    /// The same without what is paid once.
    pub fn running(&self) -> Estimate {
        let of = &self.amount;
        Estimate {
            value: of.value + self.once,
            low: of.low + self.once,
            high: of.high + self.once,
            ..of.clone()
        }
    }

    /// Whether the units tell that it saves.
    pub fn pays_off(&self) -> bool {
        self.amount.low > 0.0
    }

    /// Whether the units tell the two costs apart.
    pub fn tells(&self) -> bool {
        self.amount.low > 0.0 || self.amount.high < 0.0
    }

    /// For how many good units it pays: at what is saved, and at the ends of its interval, the better one first.
    pub fn pays(&self) -> (Pays, [Pays; 2]) {
        let running = self.running();
        (pays(running.value, self.extra), [running.high, running.low].map(|end| pays(end, self.extra)))
    }

    /// Units after which the interval of a saving like this one would leave 0 out, as its ends draw in with the root of their number;
    /// `None` where there is none to tell, or no telling.
    pub fn units_to_tell(&self) -> Option<u64> {
        let of = &self.amount;
        let miss = if of.value > 0.0 { of.value - of.low } else { of.high - of.value };
        let ratio = miss / of.value.abs();
        let units = (of.count as f64 * ratio * ratio).ceil();
        units.is_finite().then_some(units as u64)
    }
}

/// For how many units a saving a unit makes good what is paid once.
fn pays(saving: f64, extra: f64) -> Pays {
    // A hair of room, so that what comes out even is not put off by rounding.
    const HAIR: f64 = 1e-9;
    let units = (extra / saving).abs();
    match () {
        _ if saving > 0.0 && extra <= 0.0 || saving == 0.0 && extra < 0.0 => Pays::AtOnce,
        _ if saving > 0.0 => Pays::From((units * (1.0 - HAIR)).ceil() as u64),
        _ if saving < 0.0 && extra < 0.0 => match (units * (1.0 + HAIR)).floor() as u64 {
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
    fn it_pays_from_where_the_savings_make_up_for_what_is_paid_once() {
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
    fn what_is_paid_once_is_taken_out_of_what_is_saved_a_unit() {
        // By hand: 20 saved (15 to 26) at 300 units after 3 a unit for 900: 23 (18 to 29) without; 900/23 = 39.1, 900/18 = 50, 900/29 = 31.03.
        let amount =
            Estimate { value: 20.0, low: 15.0, high: 26.0, confidence: 0.95, method: "", count: 4000 };
        let saving = Saving { amount, once: 3.0, extra: 900.0, pairs: Pairs::default() };
        assert_eq!(saving.pays(), (Pays::From(40), [Pays::From(32), Pays::From(50)]));
        assert!(saving.pays_off() && saving.tells());
    }

    #[test]
    fn the_units_that_would_tell_grow_with_the_square() {
        // By hand: 2 saved, down to -4: three times as narrow is nine times as many.
        let amount = Estimate { value: 2.0, low: -4.0, high: 9.0, confidence: 0.95, method: "", count: 4000 };
        let saving = Saving { amount: amount.clone(), once: 0.0, extra: 0.0, pairs: Pairs::default() };
        assert_eq!((saving.units_to_tell(), saving.tells()), (Some(36_000), false));
        assert_eq!(Saving { amount: amount.negated(), ..saving.clone() }.units_to_tell(), Some(36_000));
        let nothing = Estimate { value: 0.0, low: -1.0, high: 1.0, ..amount.clone() };
        assert_eq!(Saving { amount: nothing, ..saving.clone() }.units_to_tell(), None);
        let open = Estimate { low: f64::NEG_INFINITY, ..amount };
        assert_eq!(Saving { amount: open, ..saving }.units_to_tell(), None);
    }
}
