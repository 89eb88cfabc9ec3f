//! Each study that ships teaches what its head comment says.

use crate::support;
use beamyield::engine::{CalibrationSummary, Summary};
use beamyield::figure::Figure;

fn of<'s>(summary: &'s Summary, name: &str) -> &'s CalibrationSummary {
    summary.calibrations.iter().find(|plan| plan.name == name).expect("a plan of the study")
}

fn share(summary: &Summary, name: &str) -> (f64, f64, f64) {
    let estimate = of(summary, name).yield_.clone().expect("the study has limits");
    (estimate.low, estimate.value, estimate.high)
}

#[test]
fn quay_link() {
    let text = include_str!("../../studies/quay-link-16.toml").replace("trials = 20000", "trials = 4000");
    let summary = support::run(&support::plan(&text));
    assert!(share(&summary, "none").2 < 0.25, "few units pass as built");
    assert!(share(&summary, "level and peak").2 < 0.75, "the peak is too flat");
    for good in ["level and null", "level and fit"] {
        assert!(share(&summary, good).0 > 0.87, "{good} phases nine units in ten");
    }
    // What then fails owes it to the jumper.
    let without =
        text.replace("triangular = { half_width = \"0.25 mm\" }", "triangular = { half_width = \"0 mm\" }");
    assert_ne!(without, text);
    let ideal = support::run(&support::plan(&without));
    for good in ["level and null", "level and fit"] {
        let (lost, still) = (1.0 - share(&summary, good).1, 1.0 - share(&ideal, good).1);
        assert!(still < 0.4 * lost, "{good}: {still} of {lost} without the jumper's spread");
    }
}

#[test]
fn tile() {
    let text = include_str!("../../studies/tile-8x8.toml").replace("trials = 4000", "trials = 1000");
    let plan = support::plan(&text);
    let summary = support::run(&plan);
    // Errors shared by a chip do not average out: as built, the beam points worse than the formula for independent errors.
    let broadside = of(&summary, "none").figures.iter().find(|figure| {
        let column = plan.columns[figure.column];
        column.figure == Figure::PointingError && column.look == 0
    });
    let pointing = broadside.expect("a pointing error");
    let predicted = pointing.predicted_mean.expect("the beam is centred");
    let bound = 4.0 * pointing.moments.standard_error();
    assert!(pointing.moments.mean > 1.2 * predicted + bound, "{} against {predicted}", pointing.moments.mean);
    // The null is set by the errors: the error-free one is far deeper than what units reach.
    let null = of(&summary, "level and fit").figures.iter().find(|figure| {
        let column = plan.columns[figure.column];
        column.figure == Figure::NullDepth && column.look == 0
    });
    let error_free = plan.looks[0].error_free_value(Figure::NullDepth).expect("a null");
    assert!(null.expect("a null depth").moments.mean > error_free + 10.0);
}

#[test]
fn line() {
    let text = include_str!("../../studies/line-64.toml").replace("trials = 20000", "trials = 2000");
    let plan = support::plan(&text);
    let summary = support::run(&plan);
    let phase = |name| support::moments(&plan, &summary, name, Figure::ResidualPhaseRms, 0).mean;
    assert!(phase("fit") < 3.0, "a fit leaves the rounding");
    assert!(
        phase("peak") > 2.0 * phase("fit") && phase("climb") > phase("peak"),
        "a flat top leaves degrees"
    );
}
