//! The form of an acceptance of one size: two-sided about a middle, or one-sided.

use crate::io::Amount;
use crate::random::Window;

/// The form of an acceptance, which stays the same when its size changes. A size is half the width, or the one end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Form {
    /// Two-sided about this middle, in the unit of the sizes.
    Around(f64),
    /// An upper end only.
    UpTo,
    /// A lower end only.
    From,
}

impl Form {
    /// The form of a window; `unit` is the sizes' unit in SI.
    pub(crate) fn of(window: Window, unit: f64) -> Form {
        match (window.low.is_finite(), window.high.is_finite()) {
            (true, false) => Form::From,
            (false, true) => Form::UpTo,
            _ if window.low == -window.high => Form::Around(0.0),
            _ => Form::Around(0.5 * (window.low + window.high) / unit),
        }
    }

    /// The size of a window of this form.
    pub(crate) fn size_of(&self, window: Window, unit: f64) -> f64 {
        match self {
            Form::Around(_) => 0.5 * (window.high - window.low) / unit,
            Form::UpTo => window.high / unit,
            Form::From => window.low / unit,
        }
    }

    /// The acceptance of a size, SI.
    pub(crate) fn window(&self, size: f64, unit: f64) -> Window {
        match self {
            Form::Around(middle) => Window { low: (middle - size) * unit, high: (middle + size) * unit },
            Form::UpTo => Window { low: f64::NEG_INFINITY, high: size * unit },
            Form::From => Window { low: size * unit, high: f64::INFINITY },
        }
    }

    /// The acceptance as TOML.
    pub(crate) fn written(&self, size: &Amount) -> String {
        match self {
            Form::Around(0.0) => format!("\"{size}\""),
            Form::Around(middle) => {
                let [from, to] = [middle - size.number, middle + size.number].map(|end| size.with(end));
                format!("{{ from = \"{from}\", to = \"{to}\" }}")
            }
            Form::UpTo => format!("{{ to = \"{size}\" }}"),
            Form::From => format!("{{ from = \"{size}\" }}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_is_its_form_and_its_size() {
        let mm = Amount { number: 0.3, unit: "mm".into() };
        for (low, high, size, written) in [
            (-0.3, 0.3, 0.3, "\"0.3 mm\""),
            (-0.1, 0.5, 0.3, "{ from = \"-0.1 mm\", to = \"0.5 mm\" }"),
            (f64::NEG_INFINITY, 0.3, 0.3, "{ to = \"0.3 mm\" }"),
            (-0.3, f64::INFINITY, -0.3, "{ from = \"-0.3 mm\" }"),
        ] {
            let window = Window { low: low * 1e-3, high: high * 1e-3 };
            let form = Form::of(window, 1e-3);
            assert!((form.size_of(window, 1e-3) - size).abs() < 1e-12);
            assert_eq!(form.written(&mm.with(size)), written);
            let back = form.window(size, 1e-3);
            let close = |a: f64, b: f64| a == b || (a - b).abs() < 1e-15;
            assert!(close(back.low, window.low) && close(back.high, window.high), "{back:?}");
        }
    }
}
