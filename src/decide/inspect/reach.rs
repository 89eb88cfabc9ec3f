//! The range of acceptances for a search.

use crate::decide::inspect::Form;
use crate::decide::{Span, significant};
use crate::inspection::taken_within;
use crate::random::Inspected;

/// The share of the parts, or of the lots, that the tightest acceptance takes, and the share that the widest rejects.
const TIGHTEST_TAKES: f64 = 0.02;
const WIDEST_REJECTS: f64 = 1e-5;

/// Bisection steps for the ends, finer than their rounding.
const HALVINGS: usize = 24;

/// Reach of the sizes beyond the outermost deviations of a distribution, in standard deviations of the gauge.
const GAUGE_SDS: f64 = 8.0;

/// The range of sizes for a search, in the unit of the search (`unit` in SI): from an acceptance that takes about 2 % of the parts of
/// `values` values, or of their lots, to one that rejects about 1 in 100,000. `None` where parts do not vary.
pub(super) fn reach(inspected: &Inspected, values: usize, form: Form, unit: f64) -> Option<Span> {
    let rejected = |size: f64| 1.0 - taken_within(inspected, form.window(size, unit), values);
    let (lowest, highest) = outermost(inspected, unit);
    let (tight, loose) = match form {
        Form::Around(middle) => (0.0, (highest - middle).max(middle - lowest)),
        Form::UpTo => (lowest, highest),
        Form::From => (highest, lowest),
    };
    let end = |share: f64| {
        let (mut inside, mut outside) = (tight, loose);
        for _ in 0..HALVINGS {
            // Both ends round to the same size, and so does everything between.
            if round(inside) == round(outside) {
                break;
            }
            let size = 0.5 * (inside + outside);
            if rejected(size) > share { inside = size } else { outside = size }
        }
        round(outside)
    };
    let ends = [end(1.0 - TIGHTEST_TAKES), end(WIDEST_REJECTS)];
    let (from, to) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
    (from < to).then(|| Span::of_quantities(from, to))
}

/// The outermost relevant readings, in the unit of the search.
fn outermost(inspected: &Inspected, unit: f64) -> (f64, f64) {
    const FAR: f64 = 1e-9;
    let gauge = inspected.inspection.gauge;
    let distributions = [Some(&inspected.delivered), inspected.lot.as_ref()];
    let at = |p: f64| {
        distributions.into_iter().flatten().map(|distribution| distribution.quantile(p)).sum::<f64>()
    };
    let (low, high) = (at(FAR) + gauge.bias, at(1.0 - FAR) + gauge.bias);
    // Keep the edge of a distribution without tails inside.
    let room = GAUGE_SDS * gauge.sd + 1e-3 * (high - low);
    ((low - room) / unit, (high + room) / unit)
}

/// To two digits.
fn round(size: f64) -> f64 {
    format!("{:.1e}", significant(size)).parse().unwrap_or(size)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::io::SourceText;
    use crate::model::compile;
    use crate::study::parse;

    /// Parts of sd 1 mm, by a gauge.
    fn inspected(gauge: &str) -> Inspected {
        let text = format!(
            r#"
title = "Parts"
seed = 1
trials = 1
frequencies = ["10 GHz"]
array = {{ layout = {{ kind = "linear", count = 2, spacing = "15 mm" }} }}
beam = [{{ name = "ahead", theta = "0 deg" }}]
block = [
    {{ name = "lead", kind = "cable", velocity_factor = 0.7, length = {{ nominal = "90 mm", normal = {{ sd = "1 mm" }}, inspection = {{ gauge = {gauge} }} }} }},
    {{ name = "shifter", kind = "phase_shifter", bits = 4 }},
]
calibration = [{{ name = "none" }}]
"#
        );
        let study = parse(&SourceText { name: "parts.toml".into(), text: text.clone() }).unwrap();
        *compile(&study, &text).sources.list()[0].inspected.clone().unwrap()
    }

    #[test]
    fn the_ends_for_a_normal_distribution() {
        // 2 Phi(0.02507) - 1 = 0.02 and 2 Phi(-4.417) = 1e-5: tables of the normal distribution.
        let span = reach(&inspected("{ sd = \"0 mm\" }"), 1, Form::Around(0.0), 1e-3).unwrap();
        assert_eq!((span.from, span.to), (0.025, 4.4));
        // To one side: Phi(-2.054) = 0.02, Phi(-4.265) = 1e-5.
        let span = reach(&inspected("{ sd = \"0 mm\" }"), 1, Form::UpTo, 1e-3).unwrap();
        assert_eq!((span.from, span.to), (-2.1, 4.3));
        let span = reach(&inspected("{ sd = \"0 mm\" }"), 1, Form::From, 1e-3).unwrap();
        assert_eq!((span.from, span.to), (-4.3, 2.1));
        // A gauge as wide as the parts: all readings spread by sqrt(2).
        let span = reach(&inspected("{ sd = \"1 mm\" }"), 1, Form::UpTo, 1e-3).unwrap();
        assert_eq!((span.from, span.to), (-2.9, 6.0));
    }
}
