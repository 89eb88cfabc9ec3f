//! "Plus or minus", as a drawing has it, with what it leaves out: the distribution.

use super::{Distribution, InvalidDistribution, Stated, read::made};
use crate::io::{Check, Difference, Key, Optional, Quantity, Special, Table, Word, keys};

/// How a study states it.
pub(super) const KEY: Key<Special> =
    distribution!("plus_or_minus", KEYS, "{ limit = \"0.1 mm\", shape = \"normal\", sigmas = 3 }");

keys! {
    KEYS: "A limit to either side, with the distribution that it stands for";
    LIMIT: Difference = Key::difference("limit", Check::Positive, "Largest deviation to either side; of a normal distribution, so many sigmas");
    SHAPE: Word<Within> = Key::word("shape", "shape", Distribution::all_within, "normal", "The distribution");
    SIGMAS: Optional<Quantity> =
        Key::number("sigmas", Check::Within(0.1, 10.0), "3", "Standard deviations within the limit; required with the normal distributions").optional();
}

/// How a distribution is made of a limit to either side.
///
/// Source: JCGM 100:2008, clause 4.3 (how stated limits are taken for a distribution).
#[derive(Clone, Copy, Debug)]
pub(super) struct Within {
    /// Whether the limit is so many standard deviations, and not the end of the distribution.
    pub takes_sigmas: bool,
    /// Makes it of the limit and of its standard deviation, which is 0 where it takes none.
    pub make: fn(f64, f64) -> Result<Distribution, InvalidDistribution>,
}

/// Reads `{ limit, shape, sigmas }`, a way of writing one of the other distributions.
pub(super) fn read(table: &Table, of: &Stated) -> Option<Distribution> {
    let limit = table.read(&LIMIT.of(of.dimension));
    let within = table.read(&SHAPE);
    let is_known = table.has(SHAPE) && table.is_sound(SHAPE);
    if !is_known {
        // Whether `sigmas` is required is not known either.
        table.has(SIGMAS);
        return None;
    }
    if !within.takes_sigmas && table.has(SIGMAS) {
        table.error(
            table.span_of(SIGMAS),
            "`sigmas` without a normal distribution",
            "this distribution ends at the limit",
            Some("leave `sigmas` out, or write shape = \"normal\" or \"truncated_normal\"".into()),
        );
        return None;
    }
    let sd = if within.takes_sigmas { limit / table.read(&SIGMAS.required()) } else { 0.0 };
    made(table, (within.make)(limit, sd))
}
