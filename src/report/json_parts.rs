//! Parts that the JSON documents share.

use crate::decide;
use crate::model::{Limit, Model};
use crate::report::number::passed;
use crate::report::{FORMAT, PROGRAM};
use crate::stats::Estimate;
use crate::study::Bound;
use serde::Serialize;

/// The head of every document.
#[derive(Serialize)]
pub(super) struct Head<'a> {
    format: u32,
    program: &'static str,
    study: &'a str,
    study_hash: &'a str,
    seed: u64,
}

impl<'a> Head<'a> {
    /// Of a document about a model.
    pub(super) fn of(model: &'a Model) -> Head<'a> {
        Head {
            format: FORMAT,
            program: PROGRAM,
            study: &model.title,
            study_hash: &model.study_hash,
            seed: model.seed,
        }
    }
}

/// The head of every document about built units.
#[derive(Serialize)]
pub(super) struct Built<'a> {
    #[serde(flatten)]
    pub head: Head<'a>,
    /// Units; with several designs or values, units of each.
    pub trials: u64,
    pub seconds: f64,
    pub confidence: f64,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub partial: bool,
    pub warnings: usize,
}

/// A yield with its interval, and the units it rests on.
#[derive(Serialize)]
pub(super) struct Yield {
    value: f64,
    low: f64,
    high: f64,
    confidence: f64,
    passed: u64,
    trials: u64,
    /// The method of the interval.
    method: &'static str,
}

impl Yield {
    /// Of an estimated share.
    pub(super) fn of(share: &Estimate) -> Yield {
        Yield {
            value: share.value,
            low: share.low,
            high: share.high,
            confidence: share.confidence,
            passed: passed(share),
            trials: share.count,
            method: share.method,
        }
    }
}

/// A share of the units with its interval, and the units it rests on.
#[derive(Serialize)]
pub(super) struct Share {
    value: f64,
    low: f64,
    high: f64,
    confidence: f64,
    units: u64,
    trials: u64,
}

impl Share {
    /// Of an estimated share.
    pub(super) fn of(share: &Estimate) -> Share {
        Share {
            value: share.value,
            low: share.low,
            high: share.high,
            confidence: share.confidence,
            units: passed(share),
            trials: share.count,
        }
    }
}

/// A yield that is demanded.
#[derive(Serialize)]
pub(super) struct Demand {
    #[serde(rename = "yield")]
    share: f64,
    confidence: f64,
}

impl Demand {
    /// Of the demand of a search.
    pub(super) fn of(demand: &decide::Demand) -> Demand {
        Demand { share: demand.share, confidence: demand.confidence }
    }
}

/// A figure at a beam and a frequency.
#[derive(Serialize)]
pub(super) struct Column<'a> {
    figure: &'static str,
    unit: &'static str,
    beam: &'a str,
    frequency_hz: f64,
    /// Where the study distinguishes several.
    #[serde(skip_serializing_if = "Option::is_none")]
    temperature_c: Option<f64>,
}

/// A line of the spec: the column it bounds, and one of the two bounds.
#[derive(Serialize)]
pub(super) struct Line<'a> {
    #[serde(flatten)]
    column: Column<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    at_most: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    at_least: Option<f64>,
}

/// A column of the model by its number.
pub(super) fn column(model: &Model, number: usize) -> Column<'_> {
    let column = model.columns[number];
    let point = &model.points[column.point];
    Column {
        figure: column.figure.name(),
        unit: column.figure.unit().symbol(),
        beam: &model.beams[point.beam].name,
        frequency_hz: point.frequency,
        temperature_c: model.temperature_of(column.point).map(celsius),
    }
}

/// A limit of the model.
pub(super) fn line<'a>(model: &'a Model, limit: &Limit) -> Line<'a> {
    let (at_most, at_least) = match limit.bound {
        Bound::AtMost(most) => (Some(most), None),
        Bound::AtLeast(least) => (None, Some(least)),
    };
    Line { column: column(model, limit.column), at_most, at_least }
}

/// Kelvin on the Celsius scale, without the rounding errors of the subtraction.
pub(super) fn celsius(kelvin: f64) -> f64 {
    ((kelvin - 273.15) * 1e9).round() / 1e9
}

/// A number that JSON can hold.
pub(super) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
