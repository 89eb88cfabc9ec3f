//! A run for scripts: a format that is kept. An absent value is an absent key.

use crate::bench::KINDS_OF_WORK;
use crate::decide::{BELOW, LotYields, OF};
use crate::engine::{
    CalibrationSummary, Failure, FigureSummary, LimitSummary, MissSummary, PERCENTILES, PlaceSummary,
};
use crate::model::Model;
use crate::report::error_free::{ErrorFreeBeam, error_free_beams};
use crate::report::json_parts::{Built, Column, Head, Line, Share, Yield, celsius, column, finite, line};
use crate::report::margins::notes;
use crate::report::{Ending, Run};
use crate::stats::Estimate;
use serde::Serialize;
use std::collections::BTreeMap;

/// The document of a run, ready to be serialised.
pub(crate) fn run_json<'a>(run: &Run<'a>) -> impl Serialize + use<'a> {
    let calibrations = run.summary.calibrations.iter().enumerate();
    Document {
        built: Built {
            head: Head::of(run.model),
            trials: run.summary.trials,
            seconds: run.seconds,
            confidence: run.model.confidence,
            partial: matches!(run.ending, Ending::Stopped { .. }),
            warnings: run.warnings,
        },
        error_free_beams: error_free_beams(run.model),
        calibrations: calibrations
            .map(|(number, of)| {
                let passes = run.passes.get(number).filter(|_| of.yield_.is_some());
                let lots = passes.and_then(|passes| LotYields::of(passes, run.model.confidence));
                Calibration { lots: lots.as_ref().map(Lots::of), ..calibration(run.model, of) }
            })
            .collect(),
        notes: notes(run),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    built: Built<'a>,
    error_free_beams: Vec<ErrorFreeBeam<'a>>,
    calibrations: Vec<Calibration<'a>>,
    /// Limits that every unit meets, or misses, by far.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    notes: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct Calibration<'a> {
    name: &'a str,
    #[serde(rename = "yield", skip_serializing_if = "Option::is_none")]
    yield_: Option<Yield>,
    bench_minutes: Minutes,
    /// Units that fail whatever their figures are, by reason.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    failed_for: BTreeMap<&'static str, u64>,
    /// How the yield differs from lot to lot, where units share lots.
    #[serde(skip_serializing_if = "Option::is_none")]
    lots: Option<Lots>,
    limits: Vec<Limit<'a>>,
    /// Missed limits, most units first; those that the very same units miss are listed together.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    misses: Vec<Miss<'a>>,
    /// The same by figure and beam, at any frequency and temperature.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    misses_by_beam: Vec<Miss<'a>>,
    /// Yields of single beams, frequencies and temperatures, and of their combinations.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    places: Vec<Place<'a>>,
    figures: Vec<Figure<'a>>,
}

#[derive(Serialize)]
struct Lots {
    /// Whole lots.
    count: u64,
    /// Units of a lot.
    units: u64,
    /// The share of good units that `share_below` refers to.
    below: f64,
    share_below: Interval,
    worst_of: u64,
    worst: Interval,
    sd: f64,
    sd_by_chance: f64,
    sd_of_yields: f64,
}

#[derive(Serialize)]
struct Interval {
    value: f64,
    low: f64,
    high: f64,
    confidence: f64,
    method: &'static str,
}

impl Lots {
    fn of(of: &LotYields) -> Lots {
        let interval = |of: &Estimate| Interval {
            value: of.value,
            low: of.low,
            high: of.high,
            confidence: of.confidence,
            method: of.method,
        };
        Lots {
            count: of.lots,
            units: of.units,
            below: BELOW,
            share_below: interval(&of.below),
            worst_of: OF,
            worst: interval(&of.worst),
            sd: of.sd,
            sd_by_chance: of.sd_by_chance,
            sd_of_yields: of.sd_of_yields,
        }
    }
}

#[derive(Serialize)]
struct Minutes {
    mean: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    sd: Option<f64>,
    /// Means by kind of work, where the bench takes time at all.
    #[serde(flatten)]
    split: BTreeMap<&'static str, f64>,
}

#[derive(Serialize)]
struct Limit<'a> {
    #[serde(flatten)]
    line: Line<'a>,
    #[serde(rename = "yield")]
    yield_: Yield,
    first_missed: u64,
    only_missed: u64,
}

#[derive(Serialize)]
struct Miss<'a> {
    limits: Vec<Line<'a>>,
    missed: Share,
    nothing_else: Share,
}

/// A place; an absent key stands for all beams, all frequencies, all temperatures.
#[derive(Serialize)]
struct Place<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    beam: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    frequency_hz: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    temperature_c: Option<f64>,
    #[serde(rename = "yield")]
    yield_: Yield,
}

#[derive(Serialize)]
struct Figure<'a> {
    #[serde(flatten)]
    column: Column<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mean: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    standard_error: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sd: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    predicted_mean: Option<f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    percentiles: BTreeMap<u32, f64>,
    /// Only those that reach the confidence.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    percentile_intervals: BTreeMap<u32, [f64; 2]>,
}

pub(super) fn calibration<'a>(model: &'a Model, of: &'a CalibrationSummary) -> Calibration<'a> {
    Calibration {
        name: &of.name,
        yield_: of.yield_.as_ref().map(Yield::of),
        bench_minutes: minutes(of),
        failed_for: Failure::ALL
            .iter()
            .zip(of.failed)
            .filter(|(_, count)| *count > 0)
            .map(|(failure, count)| (failure.reason(), count))
            .collect(),
        lots: None,
        limits: of.limits.iter().map(|of| limit(model, of)).collect(),
        misses: of.misses.iter().map(|of| miss(model, of)).collect(),
        misses_by_beam: of.families.iter().map(|of| miss(model, of)).collect(),
        places: of.places.iter().map(|of| place(model, of)).collect(),
        figures: of.figures.iter().map(|of| figure(model, of)).collect(),
    }
}

fn minutes(of: &CalibrationSummary) -> Minutes {
    let seconds = &of.bench_seconds;
    let varies = seconds.min < seconds.max;
    let kinds = KINDS_OF_WORK.iter().zip(&of.split_seconds);
    let split = kinds.map(|(kind, seconds)| (*kind, seconds.mean / 60.0));
    Minutes {
        mean: seconds.mean / 60.0,
        sd: finite(seconds.sd() / 60.0).filter(|_| varies),
        split: split.filter(|_| seconds.mean > 0.0).collect(),
    }
}

fn limit<'a>(model: &'a Model, of: &LimitSummary) -> Limit<'a> {
    Limit {
        line: line(model, &of.limit),
        yield_: Yield::of(&of.yield_),
        first_missed: of.first_missed,
        only_missed: of.only_missed,
    }
}

fn miss<'a>(model: &'a Model, of: &MissSummary) -> Miss<'a> {
    Miss {
        limits: of.limits.iter().map(|limit| line(model, &model.limits[*limit])).collect(),
        missed: Share::of(&of.missed),
        nothing_else: Share::of(&of.nothing_else),
    }
}

fn place<'a>(model: &'a Model, of: &PlaceSummary) -> Place<'a> {
    Place {
        beam: of.beam.map(|beam| model.beams[beam].name.as_str()),
        frequency_hz: of.frequency,
        temperature_c: of.temperature.map(celsius),
        yield_: Yield::of(&of.yield_),
    }
}

fn figure<'a>(model: &'a Model, of: &FigureSummary) -> Figure<'a> {
    let moments = &of.moments;
    let percentiles = || PERCENTILES.iter().zip(&of.percentiles);
    let reaches = |of: &Estimate| of.confidence >= model.confidence;
    Figure {
        column: column(model, of.column),
        mean: (moments.count > 0).then_some(moments.mean),
        standard_error: finite(moments.standard_error()),
        sd: finite(moments.sd()),
        predicted_mean: of.predicted_mean.and_then(finite),
        percentiles: percentiles().map(|(p, of)| (*p, of.value)).collect(),
        percentile_intervals: percentiles()
            .filter(|(_, of)| reaches(of))
            .map(|(p, of)| (*p, [of.low, of.high]))
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;
    use crate::stats::Moments;
    use serde_json::{Value, json};

    fn document(run: &Run) -> Value {
        serde_json::to_value(run_json(run)).unwrap()
    }

    fn keys(of: &Value) -> Vec<&str> {
        let mut keys: Vec<&str> = of.as_object().unwrap().keys().map(String::as_str).collect();
        keys.sort_unstable();
        keys
    }

    #[test]
    fn every_key_that_scripts_rely_on_is_there() {
        let model = sample::model();
        let summary = sample::summary(&model);
        let document = document(&sample::run(&model, &summary));
        assert_eq!(document["format"], 1);
        assert_eq!(document["study"], "Sample");
        assert_eq!(document["study_hash"].as_str().unwrap().len(), 16);
        assert_eq!(document["seed"], 7);
        assert_eq!(document["trials"], 1000);
        assert_eq!(document["seconds"], 1.5);
        assert_eq!(document["warnings"], 2);
        assert!(document.get("partial").is_none());
        let none = &document["calibrations"][0];
        assert_eq!(none["name"], "none");
        assert_eq!(none["yield"]["value"], 0.9);
        assert_eq!(none["yield"]["passed"], 900);
        assert_eq!(
            keys(&none["yield"]),
            ["confidence", "high", "low", "method", "passed", "trials", "value"]
        );
        let minutes = &document["calibrations"][1]["bench_minutes"];
        assert_eq!(minutes["mean"], 2.5);
        assert_eq!(keys(minutes), ["mean", "reading", "reconnection", "set_up", "setting"]);
        let limit = &none["limits"][1];
        assert_eq!(limit["figure"], "peak_side_lobe");
        assert_eq!((&limit["beam"], &limit["frequency_hz"]), (&json!("ahead"), &json!(10e9)));
        assert_eq!((&limit["at_most"], &limit["unit"]), (&json!(-11.0), &json!("dB")));
        assert!(limit.get("at_least").is_none());
        assert_eq!((&limit["first_missed"], &limit["only_missed"]), (&json!(70), &json!(40)));
        assert_eq!(keys(&limit["yield"]).len(), 7);
        let figure = none["figures"].as_array().unwrap().last().unwrap();
        assert_eq!(figure["figure"], "peak_side_lobe");
        assert_eq!((&figure["mean"], &figure["predicted_mean"]), (&json!(-13.0), &json!(-13.1)));
        assert_eq!(keys(&figure["percentiles"]), ["1", "5", "50", "95", "99"]);
        assert_eq!(figure["percentile_intervals"]["50"], json!([-13.1, -12.9]));
    }

    #[test]
    fn an_absent_value_is_an_absent_key() {
        let model = sample::model();
        let mut summary = sample::summary(&model);
        let of = &mut summary.calibrations[0];
        of.yield_ = None;
        of.figures[0].predicted_mean = Some(f64::NAN);
        // One value has no spread.
        of.figures[0].moments = Moments::default();
        of.figures[0].moments.push(1.0);
        // An interval that does not reach the confidence is left out.
        of.figures[0].percentiles.iter_mut().for_each(|p| p.confidence = 0.5);
        let document = document(&sample::run(&model, &summary));
        let none = &document["calibrations"][0];
        assert!(none.get("yield").is_none() && none.get("failed_for").is_none());
        let mut left = vec!["beam", "figure", "frequency_hz", "mean", "percentiles", "unit"];
        left.sort_unstable();
        assert_eq!(keys(&none["figures"][0]), left);
    }

    #[test]
    fn a_stopped_run_is_marked() {
        let model = sample::model();
        let summary = sample::summary(&model);
        let mut run = sample::run(&model, &summary);
        run.ending = Ending::Stopped { planned: 4000 };
        assert_eq!(document(&run)["partial"], true);
    }
}
