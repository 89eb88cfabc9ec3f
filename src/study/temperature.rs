//! Where it is warm: in use, on the bench, and where the nominal values hold.

use crate::io::{Check, Dimension, Key, List, Optional, Or, Quantity, Table};

/// 25 degC, where data sheets state their values.
const REFERENCE: f64 = 298.15;

/// From what a refrigerator of a laboratory reaches to what solder does not stand.
const TEMPERATURES: Check = Check::Within(1.0, 600.0);

/// Key of the temperature that nominal values are stated at.
pub(super) const REFERENCE_TEMPERATURE: Key<Or<Quantity, f64>> = key(
    "reference_temperature",
    "25 degC",
    "Temperature that nominal values are stated at; 25 degC where it is left out",
)
.or(REFERENCE);

/// Key of the temperatures in use.
pub(super) const IN_USE: Key<Optional<List<Quantity>>> = key(
    "temperatures",
    "[\"25 degC\", \"70 degC\"]",
    "Temperatures in use; the reference temperature where they are left out",
)
.list()
.optional();

/// Key of the temperature of the bench, in its table.
pub(super) const AT_BENCH: Key<Optional<Quantity>> = key(
    "temperature",
    "30 degC",
    "Temperature at calibration; the reference temperature where it is left out",
)
.optional();

const fn key(name: &'static str, example: &'static str, about: &'static str) -> Key<Quantity> {
    Key::quantity(name, Dimension::Temperature, TEMPERATURES, example, about)
}

/// Temperatures of a study, K.
pub(super) struct Temperatures {
    pub reference: f64,
    pub in_use: Vec<f64>,
    pub at_bench: f64,
}

impl Temperatures {
    /// Reads `reference_temperature` (25 degC unless stated), `temperatures` in use and `temperature` of the bench (the reference
    /// unless stated).
    pub(super) fn read(root: &Table, bench: Option<&Table>) -> Temperatures {
        let reference = root.read(&REFERENCE_TEMPERATURE);
        let mut in_use = vec![reference];
        if let Some(listed) = root.read(&IN_USE) {
            in_use = listed.iter().map(|(kelvin, _)| *kelvin).collect();
            for (i, (kelvin, span)) in listed.iter().enumerate() {
                if in_use[..i].contains(kelvin) {
                    let help = "leave one of the two out";
                    root.error(
                        span.clone(),
                        "a temperature stands twice",
                        "listed before",
                        Some(help.into()),
                    );
                }
            }
        }
        let at_bench = bench.map_or(reference, |bench| bench.read(&AT_BENCH).unwrap_or(reference));
        Temperatures { reference, in_use, at_bench }
    }

    /// Those in use; none where they could not be read.
    pub(super) fn used(&self, root: &Table) -> &[f64] {
        if root.is_sound(IN_USE) { &self.in_use } else { &[] }
    }
}
