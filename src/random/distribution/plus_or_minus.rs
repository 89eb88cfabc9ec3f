//! "Plus or minus", as a drawing has it, with what it leaves out: the distribution.

use super::{Distribution, InvalidDistribution, Stated, read::made};
use crate::io::{Check, Table};

/// Key of a study.
pub(super) const KEY: &str = "plus_or_minus";

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

/// A limit is at least a tenth of a standard deviation and at most ten of a normal distribution.
pub(super) const SIGMAS: Check = Check::Within(0.1, 10.0);

/// Reads `{ limit, shape, sigmas }`, a way of writing one of the other distributions.
pub(super) fn read(table: &Table, of: &Stated) -> Option<Distribution> {
    let limit = table.quantity("limit", of.dimension, Check::Positive);
    let within = table.choice("shape", "shape", &Distribution::all_within());
    let is_known = table.has("shape") && table.is_sound("shape");
    if !is_known {
        // Whether `sigmas` is required is not known either.
        table.has("sigmas");
        return None;
    }
    if !within.takes_sigmas && table.has("sigmas") {
        table.error(
            table.span_of("sigmas"),
            "`sigmas` without a normal law",
            "this shape ends at the limit",
            Some("leave `sigmas` out, or write shape = \"normal\" or \"truncated_normal\"".into()),
        );
        return None;
    }
    let sd = if within.takes_sigmas { limit / table.number("sigmas", SIGMAS) } else { 0.0 };
    made(table, (within.make)(limit, sd))
}
