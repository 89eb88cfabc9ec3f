//! Where it is warm: in use, on the bench, and where the nominal values hold.

use crate::io::{Check, Dimension, Table};

/// 25 degC, where data sheets state their values.
const REFERENCE: f64 = 298.15;

/// From what a refrigerator of a laboratory reaches to what solder does not stand.
const TEMPERATURES: Check = Check::Within(1.0, 600.0);

/// Temperatures of a study, K.
pub(super) struct Temperatures {
    pub reference: f64,
    pub in_use: Vec<f64>,
    pub at_bench: f64,
}

impl Temperatures {
    /// Reads `reference_temperature` (25 degC unless stated), `temperatures` in use and `temperature` of the bench (the reference
    /// unless stated).
    pub fn read(root: &Table, bench: Option<&Table>) -> Temperatures {
        let reference =
            root.quantity_or("reference_temperature", Dimension::Temperature, TEMPERATURES, REFERENCE);
        let mut in_use = vec![reference];
        if root.has("temperatures") {
            let listed = root.quantities("temperatures", Dimension::Temperature, TEMPERATURES);
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
        let at_bench = bench.map_or(reference, |bench| {
            bench.quantity_or("temperature", Dimension::Temperature, TEMPERATURES, reference)
        });
        Temperatures { reference, in_use, at_bench }
    }

    /// Those in use; none where they could not be read.
    pub fn used(&self, root: &Table) -> &[f64] {
        if root.is_sound("temperatures") { &self.in_use } else { &[] }
    }
}
