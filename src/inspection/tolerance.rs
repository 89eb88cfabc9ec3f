//! A tolerance whose table may state an inspection of its parts.

use crate::inspection::{inspected, stated};
use crate::io::{Accepts, Key, Keys, Special, Table, Takes};
use crate::random::{DISTRIBUTIONS, NOMINAL, SPREAD, Tolerance, Toleranced};

/// What the table of a tolerance is.
const ABOUT: &str = "A value with its tolerance";

/// A tolerance with a nominal value.
static TOLERANCE: Keys =
    Keys { about: ABOUT, own: &[&NOMINAL_OF_ALL, &stated::INSPECTION], with: &[&SPREAD], kinds: &[] };

/// A tolerance whose nominal value may be left out.
static DEVIATION: Keys =
    Keys { about: ABOUT, own: &[&NOMINAL, &stated::INSPECTION], with: &[&SPREAD], kinds: &[] };

/// A tolerance whose scope is not for the study to choose, of parts without an inspection.
static IN_SCOPE: Keys = Keys { about: ABOUT, own: &[&NOMINAL], with: &[&DISTRIBUTIONS], kinds: &[] };

const NOMINAL_OF_ALL: Key<Special> = NOMINAL.needed();

impl Takes for Toleranced {
    fn accepts(&self) -> Accepts {
        let (name, keys) = match (self.scope, self.nominal) {
            (Some(_), _) => ("in_scope", &IN_SCOPE),
            (None, Some(_)) => ("deviation", &DEVIATION),
            (None, None) => ("tolerance", &TOLERANCE),
        };
        let table = Accepts::About(self.dimension, name, keys);
        Accepts::AnyOf(vec![Accepts::Quantity(self.dimension, self.check), table])
    }

    fn is_required(&self) -> bool {
        self.is_required
    }
}

/// Reads a tolerance: a quantity alone, or `{ nominal = ..., normal = { sd = ... }, scope = "..." }`, to which
/// `and = { normal = { sd = ... }, scope = "..." }` may add a second distribution, and `inspection = { accept = "..." }` choose among its parts.
pub(crate) fn read_tolerance(parent: &Table, key: &Key<Toleranced>) -> Tolerance {
    let (delivered, table) = Tolerance::read_delivered(parent, key);
    let Some(table) = table else { return delivered };
    match stated::read(&table, key.takes.dimension.difference()) {
        Some((inspection, span)) => inspected::apply(&table, delivered, inspection, span),
        None => delivered,
    }
}
