//! A number with the unit it was written in, for stepping through values without leaving that unit.

use std::fmt;

use super::quantity::number_length;

/// A number and its unit as written: "0.25 mm", "6", "5 %". Which quantity it is only its place in a document knows.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Amount {
    /// The number.
    pub number: f64,
    /// The unit, empty for a bare number.
    pub unit: String,
}

impl Amount {
    /// Reads a number that a unit may follow; `None` where a text does not begin with one.
    pub(crate) fn parse(text: &str) -> Option<Amount> {
        let text = text.trim().replace('\u{2212}', "-");
        let (number, unit) = text.split_at(number_length(&text));
        let number: f64 = number.parse().ok()?;
        number.is_finite().then(|| Amount { number, unit: unit.trim().to_owned() })
    }

    /// Another number in the same unit.
    pub(crate) fn with(&self, number: f64) -> Amount {
        Amount { number, unit: self.unit.clone() }
    }

    /// Whether it is a bare whole number.
    pub(crate) fn is_count(&self) -> bool {
        self.unit.is_empty() && self.number.fract() == 0.0
    }
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // 0.1 + 0.2 is written 0.3: no drawing has more than twelve digits.
        let number: f64 = format!("{:.11e}", self.number).parse().unwrap_or(self.number);
        match self.unit.as_str() {
            "" => write!(f, "{number}"),
            unit => write!(f, "{number} {unit}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_read_and_written_back() {
        for (text, number, unit) in
            [("0.25 mm", 0.25, "mm"), ("6", 6.0, ""), ("5%", 5.0, "%"), (" -1e-3 dB/m ", -1e-3, "dB/m")]
        {
            let amount = Amount::parse(text).unwrap();
            assert_eq!((amount.number, amount.unit.as_str()), (number, unit), "{text}");
            assert_eq!(Amount::parse(&amount.to_string()), Some(amount));
        }
        for text in ["", "mm", "peak", "1e999 mm", "-"] {
            assert_eq!(Amount::parse(text), None, "{text}");
        }
        let step = Amount::parse("0.1 mm").unwrap();
        assert_eq!(step.with(0.1 + 0.2).to_string(), "0.3 mm");
        assert!(step.with(3.0).to_string() == "3 mm" && !step.with(3.0).is_count());
    }
}
