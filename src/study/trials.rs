//! How many units are built.

use crate::io::{Check, Table};

/// A fixed number of trials, or as many as the yield needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Trials {
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

/// Most trials of one run.
pub const MOST_TRIALS: u64 = 1_000_000_000_000;

impl Trials {
    /// Reads `trials = 20000` or `trials = { yield_half_width = 0.005, at_most = 200000 }`.
    pub(super) fn read(root: &Table) -> Trials {
        if !root.is_table("trials") {
            return Trials::Fixed(root.count("trials", 1..=MOST_TRIALS));
        }
        match root.table("trials") {
            Some(table) => Trials::UntilYield {
                half_width: table.number("yield_half_width", Check::Within(1e-6, 0.5)),
                at_most: table.count("at_most", 1..=MOST_TRIALS),
            },
            None => Trials::Fixed(1),
        }
    }

    /// Most trials that can be run.
    pub fn most(&self) -> u64 {
        match *self {
            Trials::Fixed(count) => count,
            Trials::UntilYield { at_most, .. } => at_most,
        }
    }
}
