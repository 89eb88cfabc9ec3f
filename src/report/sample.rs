//! A small study and a small summary of it, made by hand, for the tests of this folder.

use crate::engine::{
    CalibrationSummary, FigureSummary, LimitSummary, MissSummary, Outcomes, PERCENTILES, PlaceSummary,
    PlanOutcomes, Summary,
};
use crate::figure::Figure;
use crate::io::SourceText;
use crate::math::normal;
use crate::model::{Model, compile};
use crate::report::{Ending, Run};
use crate::stats::{Column, Estimate, Moments, clopper_pearson};
use crate::study::{self, Study};

const TEXT: &str = r#"
title = "Sample"
seed = 7
trials = 1000
frequencies = ["10 GHz"]
figures = ["pointing_error", "peak_side_lobe"]
array = { layout = { kind = "linear", count = 8, spacing = "15 mm" }, chip = 2 }
beam = [{ name = "-20 deg", theta = "-20 deg" }, { name = "ahead", theta = "0 deg" }]
block = [
    { name = "feed", kind = "cable", length = { nominal = "50 mm", normal = { sd = "0.2 mm" } }, velocity_factor = 0.7 },
    { name = "amplifier", kind = "amplifier", gain = { nominal = "20 dB", uniform = { half_width = "0.5 dB" }, scope = "chip" } },
    { name = "shifter", kind = "phase_shifter", bits = 4, bit_phase_error = { normal = { sd = "2 deg" } } },
    { name = "attenuator", kind = "attenuator", bits = 4, step = "0.5 dB" },
    { name = "tail", kind = "trace", length = "10 mm", effective_permittivity = 3.0 },
]
bench = { receiver = { noise = "0.1 dB" }, reference_plane = { after = "attenuator" }, time = { reconnection = "10 s", reading = "0.5 s" } }
calibration = [
    { name = "none" },
    { name = "+fit", level = { toward = "weakest" }, align = { method = "fit", reference = 0 }, offsets = "phases" },
]
limit = [
    { figure = "peak_side_lobe", at_most = "-11 dB" },
    { figure = "pointing_error", at_most = "0.5 deg", beam = "ahead" },
]
"#;

/// The study.
pub(super) fn study() -> Study {
    study::parse(&SourceText { name: "sample.toml".into(), text: TEXT.into() }).unwrap()
}

/// Its model: two beams, two figures, three limits, two calibration plans.
pub(super) fn model() -> Model {
    compile(&study(), TEXT)
}

/// 1000 units, of which 900 pass uncalibrated (70 miss side lobes at the second beam, 30 the pointing) and all pass
/// calibrated.
pub(super) fn summary(model: &Model) -> Summary {
    let share = |count| clopper_pearson(count, 1000, 0.95);
    let calibration = |name: &str, missed: [u64; 3], only: [u64; 3], mean: f64, prediction, seconds| {
        let limits = model.limits.iter().enumerate().map(|(i, limit)| LimitSummary {
            limit: *limit,
            yield_: share(1000 - missed[i]),
            first_missed: missed[i],
            only_missed: only[i],
        });
        let miss = |limit: usize| MissSummary {
            limits: vec![limit],
            missed: share(missed[limit]),
            nothing_else: share(only[limit]),
        };
        let misses: Vec<MissSummary> =
            [1, 2, 0].into_iter().filter(|limit| missed[*limit] > 0).map(miss).collect();
        let place = |(beam, limits): (usize, &[u64])| PlaceSummary {
            beam: Some(beam),
            frequency: None,
            temperature: None,
            yield_: share(1000 - limits.iter().sum::<u64>()),
        };
        CalibrationSummary {
            name: name.into(),
            yield_: Some(share(1000 - missed.iter().sum::<u64>())),
            bench_seconds: constant(seconds),
            split_seconds: Default::default(),
            failed: [0; 3],
            limits: limits.collect(),
            misses: misses.clone(),
            families: misses,
            places: [&missed[..1], &missed[1..]].into_iter().enumerate().map(place).collect(),
            figures: (0..model.columns.len()).map(|column| figure(model, column, mean, prediction)).collect(),
        }
    };
    let none = calibration("none", [0, 70, 30], [0, 40, 30], -13.0, Some(-13.1), 0.0);
    let fit = calibration("+fit", [0; 3], [0; 3], -14.0, None, 150.0);
    Summary { trials: 1000, calibrations: vec![none, fit] }
}

/// A thousand times one value.
fn constant(value: f64) -> Moments {
    Moments { count: 1000, mean: value, m2: 0.0, min: value, max: value, lots: None }
}

/// Values of a standard deviation of 0.2 about a mean (side lobes) or about zero (pointing).
fn figure(model: &Model, column: usize, mean: f64, predicted_mean: Option<f64>) -> FigureSummary {
    let is_side_lobe = model.columns[column].figure == Figure::PeakSideLobe;
    let mean = if is_side_lobe { mean } else { 0.0 };
    let percentiles = PERCENTILES.iter().zip([-0.4, -0.3, 0.0, 0.3, 0.4]).map(|(_, away)| Estimate {
        value: mean + away,
        low: mean + away - 0.1,
        high: mean + away + 0.1,
        confidence: 0.95,
        method: "by hand",
        count: 1000,
    });
    let values: Vec<f64> =
        (0..1000).map(|i| mean + 0.2 * normal::quantile((f64::from(i) + 0.5) / 1000.0)).collect();
    let mut kept = Column::new();
    kept.keep(&values);
    FigureSummary {
        column,
        moments: Moments {
            count: 1000,
            mean,
            m2: 0.04 * 999.0,
            min: mean - 1.0,
            max: mean + 1.0,
            lots: None,
        },
        predicted_mean: predicted_mean.filter(|_| is_side_lobe),
        percentiles: percentiles.collect(),
        values: kept,
    }
}

/// Unit 64 after both plans: it lacks its last figure after the first, and passes after the second.
pub(super) fn outcomes(model: &Model) -> Outcomes {
    let of = |values: [f64; 4]| {
        let mut outcomes = PlanOutcomes::new(model);
        let seconds = [[60.0], [0.0], [30.0], [0.0]];
        outcomes.push(model, 1, &values.map(|value| [value]), &seconds, &[[false]; 2]);
        outcomes
    };
    let plans = vec![of([0.25, -0.5, -13.5, f64::NAN]), of([0.25, -0.5, -13.5, -12.0])];
    Outcomes { first_trial: 64, trials: 1, calibrations: plans }
}

/// The run of that summary.
pub(super) fn run<'a>(model: &'a Model, summary: &'a Summary) -> Run<'a> {
    Run { model, summary, seconds: 1.5, ending: Ending::AsAsked, warnings: 2, passes: &[], failing_unit: &[] }
}
