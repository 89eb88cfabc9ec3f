//! Keys that take a tolerance.

use crate::io::{Check, Dimension, Key};
use crate::random::Scope;

/// What a key takes whose value varies: a quantity alone, or a table of a nominal value and its spread.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Toleranced {
    /// The keys that lead to it from its block, or from the study: "coupling.level".
    pub path: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    /// What the nominal value must hold.
    pub check: Check,
    /// The nominal value where none is stated; none where one must be.
    pub nominal: Option<f64>,
    /// What shares one draw, where the study does not choose it.
    pub scope: Option<Scope>,
    /// Whether the key must be there.
    pub is_required: bool,
}

impl Key<Toleranced> {
    /// A key that takes a tolerance. Its name is the last part of its path.
    pub(crate) const fn tolerance(
        path: &'static str,
        dimension: Dimension,
        check: Check,
        example: &'static str,
        about: &'static str,
    ) -> Self {
        let takes = Toleranced { path, dimension, check, nominal: None, scope: None, is_required: true };
        Key { name: last(path), takes, example, about }
    }

    /// The same key, which may be absent, or a table without a nominal value: either is exactly this.
    pub(crate) const fn or_exactly(self, nominal: f64) -> Self {
        self.taking(Toleranced { nominal: Some(nominal), is_required: false, ..self.takes })
    }

    /// The same key, whose scope is not for the study to choose, of parts without an inspection.
    pub(crate) const fn in_scope(self, scope: Scope) -> Self {
        self.taking(Toleranced { scope: Some(scope), ..self.takes })
    }

    /// The same key where it must be there.
    pub(crate) const fn needed(self) -> Self {
        self.taking(Toleranced { is_required: true, ..self.takes })
    }

    /// The same key where it may be absent; its table still needs a nominal value.
    pub(crate) const fn or_nothing(self) -> Self {
        self.taking(Toleranced { is_required: false, ..self.takes })
    }
}

/// What stands behind the last point.
const fn last(path: &'static str) -> &'static str {
    let bytes = path.as_bytes();
    let mut from = bytes.len();
    while from > 0 && bytes[from - 1] != b'.' {
        from -= 1;
    }
    path.split_at(from).1
}
