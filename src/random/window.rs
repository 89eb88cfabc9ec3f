//! Two deviations and all between them: the limits of a tolerance, or those of a reading.

use crate::io::{Accepts, Check, Difference, Dimension, Key, Optional, Special, Table, Takes, keys};

/// All deviations from one to another; an end that is open is infinite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Window {
    /// The lowest, SI; minus infinity where none is too low.
    pub low: f64,
    /// The highest, SI; infinity where none is too high.
    pub high: f64,
}

keys! {
    KEYS: "Limits that are not alike to both sides";
    FROM: Optional<Difference> = Key::difference("from", Check::Any, "The lowest; without it, any").optional();
    TO: Optional<Difference> = Key::difference("to", Check::Any, "The highest; without it, any").optional();
}

impl Window {
    /// From minus to plus the same size.
    pub(crate) fn within(size: f64) -> Window {
        Window { low: -size, high: size }
    }

    /// Whether a deviation is inside; both ends are.
    pub(crate) fn holds(&self, deviation: f64) -> bool {
        self.low <= deviation && deviation <= self.high
    }

    /// With each end that is not open moved inward by as much, outward by a negative one; `None` where nothing is left.
    pub(crate) fn narrowed(&self, by: f64) -> Option<Window> {
        let window = Window { low: self.low + by, high: self.high - by };
        (window.low < window.high).then_some(window)
    }

    /// Moved up by as much, down by a negative one.
    pub(crate) fn shifted(&self, by: f64) -> Window {
        Window { low: self.low + by, high: self.high + by }
    }

    /// The window of deviations times `factor`, which may be negative but not 0.
    #[cfg(test)]
    pub(crate) fn scaled(&self, factor: f64) -> Window {
        let (a, b) = (self.low * factor, self.high * factor);
        Window { low: a.min(b), high: a.max(b) }
    }

    /// A key that takes one.
    pub(crate) const fn key(name: &'static str, about: &'static str) -> Key<Special> {
        let accepts = || {
            let table = Accepts::AboutDifference("window", &KEYS);
            Accepts::AnyOf(vec![Accepts::Difference(Check::Positive), table])
        };
        Key::special(name, accepts, "0.1 mm", about)
    }

    /// Reads `"0.5 mm"` (to either side), `{ from = "-0.2 mm", to = "0.5 mm" }`, or one of `from` and `to` alone. `None` where the key
    /// is absent, or cannot be read; the error is recorded, as is that of an absent key that must be there.
    pub(crate) fn read(parent: &Table, key: &Key<Special>, dimension: Dimension) -> Option<Window> {
        if !parent.has(key) && !key.takes.is_required() {
            return None;
        }
        if !parent.is_table(key) {
            let size = Key::difference(key.name, Check::Positive, key.about).of(dimension);
            let size = parent.read(&size);
            return parent.is_sound(key).then(|| Window::within(size));
        }
        let table = parent.table(key)?;
        let low = table.read(&FROM.of(dimension));
        let high = table.read(&TO.of(dimension));
        if low.is_none() && high.is_none() {
            let help = "give `from`, `to`, or both".to_owned();
            table.error(table.span(), format!("`{}` has no end", key.name), "expected an end", Some(help));
        }
        let window = Window { low: low.unwrap_or(f64::NEG_INFINITY), high: high.unwrap_or(f64::INFINITY) };
        if !parent.is_sound(key) {
            return None;
        }
        if window.low >= window.high {
            let help = "the lower end comes first: `from` is below `to`".to_owned();
            table.error(
                table.span(),
                format!("nothing is within `{}`", key.name),
                "ends before it begins",
                Some(help),
            );
            return None;
        }
        Some(window)
    }
}
