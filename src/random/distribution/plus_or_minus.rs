//! "Plus or minus", as a drawing has it, with what it leaves out: the distribution.

use super::{Arcsine, Distribution, Normal, Stated, Triangular, TruncatedNormal, Uniform, read::made};
use crate::io::{Check, Table};

/// What lies within plus and minus a limit: for the normal ones the limit is so many standard deviations.
///
/// Source: JCGM 100:2008, clause 4.3 (how stated limits are taken for a distribution).
#[derive(Clone, Copy, Debug, PartialEq)]
enum Within {
    Normal,
    TruncatedNormal,
    Uniform,
    Triangular,
    Arcsine,
}

const SHAPES: &[(&str, Within)] = &[
    ("normal", Within::Normal),
    ("truncated_normal", Within::TruncatedNormal),
    ("uniform", Within::Uniform),
    ("triangular", Within::Triangular),
    ("arcsine", Within::Arcsine),
];

/// A limit is at least a tenth of a standard deviation and at most ten of a normal distribution.
const SIGMAS: Check = Check::Within(0.1, 10.0);

/// Reads `{ limit, shape, sigmas }`, a way of writing one of the other distributions.
pub(super) fn read(table: &Table, of: &Stated) -> Option<Distribution> {
    let limit = table.quantity("limit", of.dimension, Check::Positive);
    let within = table.choice("shape", "shape", SHAPES);
    let is_known = table.has("shape") && table.is_sound("shape");
    if !is_known {
        // Whether `sigmas` is due is not known either.
        table.has("sigmas");
        return None;
    }
    let is_normal = matches!(within, Within::Normal | Within::TruncatedNormal);
    if !is_normal && table.has("sigmas") {
        table.error(
            table.span_of("sigmas"),
            "`sigmas` without a normal law",
            "this shape ends at the limit",
            Some("leave `sigmas` out, or write shape = \"normal\" or \"truncated_normal\"".into()),
        );
        return None;
    }
    let sd = if is_normal { limit / table.number("sigmas", SIGMAS) } else { 0.0 };
    let distribution = match within {
        Within::Normal => Normal::new(sd).map(Distribution::Normal),
        Within::TruncatedNormal => TruncatedNormal::new(sd, limit).map(Distribution::TruncatedNormal),
        Within::Uniform => Uniform::new(limit).map(Distribution::Uniform),
        Within::Triangular => Triangular::new(limit).map(Distribution::Triangular),
        Within::Arcsine => Arcsine::new(limit).map(Distribution::Arcsine),
    };
    made(table, distribution)
}
