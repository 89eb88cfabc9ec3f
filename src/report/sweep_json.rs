//! A sweep for scripts: the points with the results of each, the steps between neighbours, the knees.

use crate::decide::Knee;
use crate::engine::End;
use crate::report::SweepRun;
use crate::report::json_parts::{Built, Head};
use crate::report::run_json::{Calibration, calibration};
use crate::report::sweep_verdict::verdict;
use crate::stats::Estimate;
use serde::Serialize;
use std::collections::BTreeMap;

/// The document of a sweep, ready to be serialised.
pub(crate) fn sweep_json<'a>(run: &SweepRun<'a>) -> impl Serialize + use<'a> {
    let sweep = run.sweep;
    let point = |number: usize| {
        let ran = &sweep.points[number];
        let of = ran.iter().flat_map(|ran| &ran.summary.calibrations);
        Point {
            values: values(run, number),
            trials: ran.as_ref().map_or(0, |ran| ran.summary.trials),
            study_hash: &run.model(number).study_hash,
            calibrations: of.map(|of| calibration(run.model(number), of)).collect(),
        }
    };
    let refused =
        sweep.refused.iter().map(|(point, reason)| RefusedOf { values: values(run, *point), reason });
    let calibrations = run.models[0].calibrations.iter().enumerate();
    let steps = calibrations.clone().filter(|_| run.has_limits()).flat_map(|(number, of)| {
        sweep.steps(number).into_iter().map(move |step| StepOf {
            calibration: &of.name,
            parameter: &sweep.axes[step.axis].name,
            from: values(run, step.from),
            to: values(run, step.to),
            gained: step.pairs.only_first,
            lost: step.pairs.only_second,
            yield_gain: step.gain,
        })
    });
    let knees = calibrations.filter(|_| run.has_limits()).flat_map(|(number, of)| {
        (0..sweep.axes.len()).flat_map(move |axis| {
            sweep.lines(axis).into_iter().map(move |first| {
                let line = sweep.line(axis, first);
                let (verdict, at, units) = match sweep.knee(number, &line) {
                    Knee::At(place) => ("at", Some(place), None),
                    Knee::Unsure(place, units) => ("unsure", Some(place), units),
                    Knee::BeyondRange => ("beyond_range", None, None),
                    Knee::Nowhere => ("no_difference", None, None),
                    Knee::Unknown => ("points_missing", None, None),
                };
                let mut others = values(run, first);
                others.remove(sweep.axes[axis].name.as_str());
                KneeOf {
                    calibration: &of.name,
                    parameter: &sweep.axes[axis].name,
                    others,
                    verdict,
                    value: at.map(|place| sweep.value(axis, line[place])),
                    units_to_tell: units,
                }
            })
        })
    });
    Document {
        built: Built {
            head: Head::of(&run.models[0]),
            trials: run.trials(),
            seconds: run.seconds,
            confidence: sweep.confidence,
            partial: sweep.end == End::Interrupted,
            warnings: run.warnings,
        },
        parameters: sweep
            .axes
            .iter()
            .map(|axis| Parameter { name: &axis.name, values: &axis.values })
            .collect(),
        points: sweep.sound().map(point).collect(),
        refused: refused.collect(),
        steps: steps.collect(),
        knees: knees.collect(),
        cautions: run.cautions(),
        verdict: verdict(run),
    }
}

fn values<'a>(run: &SweepRun<'a>, point: usize) -> BTreeMap<&'a str, &'a str> {
    let sweep = run.sweep;
    sweep.axes.iter().map(|axis| axis.name.as_str()).zip(sweep.values(point)).collect()
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    built: Built<'a>,
    parameters: Vec<Parameter<'a>>,
    points: Vec<Point<'a>>,
    /// Refused points.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    refused: Vec<RefusedOf<'a>>,
    steps: Vec<StepOf<'a>>,
    knees: Vec<KneeOf<'a>>,
    /// Differences of the points other than hardware.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cautions: Vec<String>,
    verdict: String,
}

#[derive(Serialize)]
struct Parameter<'a> {
    name: &'a str,
    values: &'a [String],
}

#[derive(Serialize)]
struct Point<'a> {
    values: BTreeMap<&'a str, &'a str>,
    /// Of the study with these values.
    study_hash: &'a str,
    /// Units built: 0 for a point that was not reached before a stop.
    trials: u64,
    calibrations: Vec<Calibration<'a>>,
}

#[derive(Serialize)]
struct RefusedOf<'a> {
    values: BTreeMap<&'a str, &'a str>,
    /// The reader's reason.
    reason: &'a str,
}

#[derive(Serialize)]
struct StepOf<'a> {
    calibration: &'a str,
    parameter: &'a str,
    from: BTreeMap<&'a str, &'a str>,
    to: BTreeMap<&'a str, &'a str>,
    /// Units that pass after the step and not before it.
    gained: u64,
    /// Units that pass before the step and not after it.
    lost: u64,
    yield_gain: Estimate,
}

#[derive(Serialize)]
struct KneeOf<'a> {
    calibration: &'a str,
    parameter: &'a str,
    /// Values of the other parameter.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    others: BTreeMap<&'a str, &'a str>,
    verdict: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    units_to_tell: Option<u64>,
}
