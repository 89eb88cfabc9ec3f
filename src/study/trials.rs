//! How many units are built.

use crate::io::{Accepts, Check, Count, Key, Quantity, Special, Table, keys};

/// A fixed number of trials, or as many as the yield needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Trials {
    /// This many.
    Fixed(u64),
    /// Until the yield interval's half length of every calibration is at most `half_width`, and no more than `at_most`.
    UntilYield {
        /// Half length of the interval asked for, as a share of 1.
        half_width: f64,
        /// Most trials.
        at_most: u64,
    },
}

impl Trials {
    /// Whether a run may end before the most trials.
    pub(crate) fn stops_early(self) -> bool {
        matches!(self, Trials::UntilYield { .. })
    }
}

/// Most trials of one run.
pub(crate) const MOST_TRIALS: u64 = 1_000_000_000_000;

keys! {
    KEYS: "As many units as the yield needs";
    YIELD_HALF_WIDTH: Quantity =
        Key::number("yield_half_width", Check::Within(1e-6, 0.5), "0.005",
            "Half length of the yield's interval that is aimed at, as a share of 1");
    AT_MOST: Count = Key::count("at_most", 1..=MOST_TRIALS, "200000", "Most units");
}

/// Key of a number of trials alone.
const FIXED: Key<Count> = Key::count(
    "trials",
    1..=MOST_TRIALS,
    "20000",
    "How many units are built: a number, or until the yield is known well enough",
);

/// Key of either.
pub(super) const TRIALS: Key<Special> = Key::special(
    FIXED.name,
    || Accepts::AnyOf(vec![Accepts::Count(1..=MOST_TRIALS), Accepts::Table(&KEYS)]),
    FIXED.example,
    FIXED.about,
)
.needed();

impl Trials {
    /// Reads `trials = 20000` or `trials = { yield_half_width = 0.005, at_most = 200000 }`.
    pub(super) fn read(root: &Table) -> Trials {
        if !root.is_table(TRIALS) {
            return Trials::Fixed(root.read(&FIXED));
        }
        match root.table(TRIALS) {
            Some(table) => Trials::UntilYield {
                half_width: table.read(&YIELD_HALF_WIDTH),
                at_most: table.read(&AT_MOST),
            },
            None => Trials::Fixed(1),
        }
    }

    /// Most trials that can be run.
    pub(crate) fn most(&self) -> u64 {
        match *self {
            Trials::Fixed(count) => count,
            Trials::UntilYield { at_most, .. } => at_most,
        }
    }
}
