//! The pattern of one element.

use crate::array::Direction;
use crate::io::{Check, Key, Nested, Quantity, Table, keys};
use crate::math::scalar;

/// Amplitude pattern cos^q of the angle from broadside.
///
/// Formula: E = cos^q(theta); q = 0 radiates equally in all directions. Power goes as cos^2q.
/// Source: the cosine-power element of antenna handbooks (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Element {
    /// The exponent q of the amplitude, >= 0.
    pub exponent: f64,
}

/// A power pattern of cos^40 is that of a horn; narrower ones leave an array nothing to scan.
const MOST_EXPONENT: f64 = 20.0;

keys! {
    KEYS: "Pattern of one element; equal in all directions where it is left out";
    COSINE_EXPONENT: Quantity =
        Key::number("cosine_exponent", Check::Within(0.0, MOST_EXPONENT), "0.6",
            "Exponent q of the amplitude pattern cos^q of the angle from broadside");
}

/// Key of the element in the table of the array.
pub(crate) const ELEMENT: Key<Nested> = Key::table("element", &KEYS, "{ cosine_exponent = 0.6 }");

impl Element {
    /// Reads `element = { cosine_exponent = 0.6 }`; absent means isotropic.
    pub(crate) fn read(parent: &Table) -> Element {
        let exponent = match parent.table(ELEMENT) {
            Some(table) => table.read(&COSINE_EXPONENT),
            None => 0.0,
        };
        Element { exponent }
    }

    /// Power gain toward a direction over broadside, linear; 0 at and beyond the edge of visible
    /// space unless the element is isotropic.
    pub(crate) fn power(&self, direction: Direction) -> f64 {
        if self.exponent == 0.0 {
            return 1.0;
        }
        let cosine_squared = 1.0 - direction.u * direction.u - direction.v * direction.v;
        if cosine_squared > 0.0 { scalar::pow(cosine_squared, self.exponent) } else { 0.0 }
    }
}
