//! A limit for scripts. An absent value is an absent key.

use crate::decide::{Answer, Limit, Probe, Refusal, SearchVariable};
use crate::report::json_parts::{Built, Demand, Head, Yield};
use crate::report::limit_csv::verdict as verdict_word;
use crate::report::limit_text::{LimitRun, interval, verdict};
use serde::Serialize;
use std::collections::BTreeMap;

/// The document of a search for a limit, ready to be serialised.
pub(crate) fn limit_json<'a>(run: &LimitRun<'a>) -> impl Serialize + use<'a> {
    let found = run.found;
    let (answer, limit) = match &found.answer {
        Answer::Limit(limit) => ("limit", Some(limit)),
        Answer::AllMeet => ("all_meet", None),
        Answer::NoneMeets => ("none_meets", None),
        Answer::Turns => ("turns", None),
        Answer::Unclear => ("unclear", None),
    };
    Document {
        // Its trials are the most units of one value.
        built: Built {
            head: Head::of(run.model),
            trials: found.demand.units,
            seconds: run.seconds,
            confidence: found.demand.confidence,
            partial: !found.is_finished,
            warnings: run.warnings,
        },
        calibration: run.model.calibrations.first().map_or("", |of| &of.name),
        demand: Demand::of(&found.demand),
        sought: sought(run),
        range: [found.span.from, found.span.to],
        answer,
        limit: limit.and_then(|limit| limit_of(run, limit)),
        loosest_that_meets: limit.and_then(|limit| value(run, limit.meets?)),
        tightest_that_misses: limit.and_then(|limit| value(run, limit.misses?)),
        units_built: found.units(),
        units_by_halving: found.units_by_halving,
        values: found.probes.iter().map(tried).collect(),
        refused: &found.refused,
        contradictions: found.contradictions.iter().map(|(tight, loose)| [*tight, *loose]).collect(),
        verdict: verdict(run),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    built: Built<'a>,
    calibration: &'a str,
    demand: Demand,
    sought: Vec<Parameter>,
    range: [f64; 2],
    answer: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    limit: Option<Estimate>,
    #[serde(skip_serializing_if = "Option::is_none")]
    loosest_that_meets: Option<Value>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tightest_that_misses: Option<Value>,
    units_built: u64,
    units_by_halving: u64,
    values: Vec<Tried>,
    /// Values that the study refuses, so that they were not tried.
    #[serde(skip_serializing_if = "<[Refusal]>::is_empty")]
    refused: &'a [Refusal],
    /// Numbers of values that contradict each other, the tighter one first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    contradictions: Vec<[usize; 2]>,
    verdict: String,
}

#[derive(Serialize)]
struct Parameter {
    parameter: String,
    #[serde(skip_serializing_if = "String::is_empty")]
    unit: String,
    /// The value that the factor scales.
    #[serde(skip_serializing_if = "Option::is_none")]
    scaled: Option<f64>,
}

/// A value, or a factor with the value of each parameter.
#[derive(Serialize)]
struct Value {
    value: f64,
    parameters: BTreeMap<String, String>,
}

#[derive(Serialize)]
struct Estimate {
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<f64>,
    low: f64,
    high: f64,
    confidence: f64,
    larger_is_looser: bool,
}

#[derive(Serialize)]
struct Tried {
    value: f64,
    #[serde(rename = "yield")]
    yield_: Yield,
    verdict: &'static str,
}

fn sought(run: &LimitRun) -> Vec<Parameter> {
    let of = |(parameter, amount): (&crate::study::Parameter, crate::io::Amount)| Parameter {
        parameter: parameter.to_string(),
        unit: amount.unit,
        scaled: matches!(run.sought, SearchVariable::Factor(_)).then_some(amount.number),
    };
    run.sought.amounts(1.0).into_iter().map(of).collect()
}

fn limit_of(run: &LimitRun, limit: &Limit) -> Option<Estimate> {
    let (low, high) = interval(limit)?;
    let confidence = run.found.demand.confidence;
    Some(Estimate { value: limit.best, low, high, confidence, larger_is_looser: limit.larger_is_looser })
}

fn value(run: &LimitRun, value: f64) -> Option<Value> {
    let amounts = run.sought.amounts(value).into_iter();
    let parameters = amounts.map(|(parameter, amount)| (parameter.to_string(), amount.to_string())).collect();
    Some(Value { value, parameters })
}

fn tried(probe: &Probe) -> Tried {
    Tried { value: probe.value, yield_: Yield::of(&probe.yield_), verdict: verdict_word(probe.verdict) }
}
