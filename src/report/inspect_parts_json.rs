//! The effect of an inspection on the parts, for scripts. Deviations are in the document's unit.

use crate::decide::inspect::{Deviations, DrawnParts, Operating, PERCENTILES, Parts};
use crate::inspection::Conformity;
use crate::random::Window;
use crate::report::InspectRun;
use crate::report::json_parts::finite;
use crate::stats;
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
pub(super) struct Ends {
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    to: Option<f64>,
}

#[derive(Serialize)]
pub(super) struct PartsOf {
    a_unit: usize,
    values: usize,
    tolerance: Ends,
    gauge: GaugeOf,
    #[serde(skip_serializing_if = "Option::is_none")]
    shares: Option<Shares>,
    #[serde(skip_serializing_if = "Option::is_none")]
    counted: Option<Counted>,
    #[serde(skip_serializing_if = "Option::is_none")]
    at_limit: Option<AtLimitOf>,
    delivered: Spread,
    accepted: Spread,
    turned_away_a_part: f64,
    gauged_a_part: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    sampling: Option<SamplingOf>,
}

#[derive(Serialize)]
struct GaugeOf {
    bias: f64,
    sd: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    observed_sd: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    share: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    classes: Option<f64>,
}

#[derive(Serialize)]
pub(super) struct Shares {
    nonconforming: f64,
    rejected: f64,
    consumer_risk: f64,
    producer_risk: f64,
    escapes: f64,
}

#[derive(Serialize)]
struct Counted {
    parts: u64,
    nonconforming: Share,
    rejected: Share,
    consumer_risk: Share,
    producer_risk: Share,
    /// Absent where no part is accepted.
    #[serde(skip_serializing_if = "Option::is_none")]
    escapes: Option<Share>,
    built_in: Share,
    /// Parts that do not conform, of those; absent without one.
    #[serde(skip_serializing_if = "Option::is_none")]
    built_in_escapes: Option<Share>,
    /// Of the deviations of those; absent without one.
    #[serde(skip_serializing_if = "Option::is_none")]
    mean: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sd: Option<f64>,
}

/// An estimate and the number of its observations.
#[derive(Serialize)]
pub(super) struct Share {
    value: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<f64>,
    confidence: f64,
    count: u64,
}

#[derive(Serialize)]
struct AtLimitOf {
    reading: f64,
    specific_risk: f64,
    specific_risk_without_prior: f64,
}

#[derive(Serialize)]
struct Spread {
    mean: f64,
    sd: f64,
    percentiles: BTreeMap<u32, f64>,
}

#[derive(Serialize)]
struct SamplingOf {
    lot: u64,
    parts: u64,
    allowed: u64,
    /// Accepted lots, of those delivered.
    taken: f64,
    /// Parts that do not conform, of those in accepted lots.
    escapes: f64,
    quality_taken_with: Vec<Mark>,
    curve: Vec<[f64; 2]>,
}

#[derive(Serialize)]
struct Mark {
    chance: f64,
    failing: f64,
}

pub(super) fn ends(run: &InspectRun, window: Window) -> Ends {
    Ends { from: finite(run.in_unit(window.low)), to: finite(run.in_unit(window.high)) }
}

pub(super) fn parts_of(run: &InspectRun, parts: &Parts) -> PartsOf {
    let inspection = &parts.inspected.inspection;
    let all = Window { low: f64::NEG_INFINITY, high: f64::INFINITY };
    let gauge = parts.gauge;
    PartsOf {
        a_unit: parts.a_unit,
        values: parts.values,
        tolerance: ends(run, inspection.tolerance.or(inspection.accept).unwrap_or(all)),
        gauge: GaugeOf {
            bias: run.in_unit(inspection.gauge.bias),
            sd: run.in_unit(inspection.gauge.sd),
            observed_sd: gauge.map(|of| run.in_unit(of.observed_sd)),
            share: gauge.map(|of| of.share),
            classes: gauge.map(|of| of.classes),
        },
        shares: parts.conformity.map(shares),
        counted: parts.drawn.as_ref().map(|drawn| counted(run, drawn)),
        at_limit: parts.at_limit.map(|of| AtLimitOf {
            reading: run.in_unit(of.reading),
            specific_risk: of.known,
            specific_risk_without_prior: of.unknown,
        }),
        delivered: spread(run, &parts.delivered),
        accepted: spread(run, &parts.accepted),
        turned_away_a_part: parts.turned_away,
        gauged_a_part: parts.gauged,
        sampling: parts.operating.as_ref().map(sampling),
    }
}

pub(super) fn shares(of: Conformity) -> Shares {
    Shares {
        nonconforming: of.nonconforming,
        rejected: of.rejected,
        consumer_risk: of.consumer_risk,
        producer_risk: of.producer_risk,
        escapes: of.escapes,
    }
}

fn counted(run: &InspectRun, of: &DrawnParts) -> Counted {
    Counted {
        parts: of.parts,
        nonconforming: share(&of.nonconforming),
        rejected: share(&of.rejected),
        consumer_risk: share(&of.consumer_risk),
        producer_risk: share(&of.producer_risk),
        escapes: of.escapes.value.is_finite().then(|| share(&of.escapes)),
        built_in: share(&of.built_in),
        built_in_escapes: of.built_in_escapes.value.is_finite().then(|| share(&of.built_in_escapes)),
        mean: finite(run.in_unit(of.mean)),
        sd: finite(run.in_unit(of.sd)),
    }
}

pub(super) fn share(of: &stats::Estimate) -> Share {
    Share {
        value: of.value,
        low: finite(of.low),
        high: finite(of.high),
        confidence: of.confidence,
        count: of.count,
    }
}

fn spread(run: &InspectRun, of: &Deviations) -> Spread {
    let percentiles = PERCENTILES.into_iter().zip(of.percentiles.map(|value| run.in_unit(value)));
    Spread { mean: run.in_unit(of.mean), sd: run.in_unit(of.sd), percentiles: percentiles.collect() }
}

fn sampling(of: &Operating) -> SamplingOf {
    let mark = |(probability, failing): &(f64, f64)| Mark { chance: *probability, failing: *failing };
    SamplingOf {
        lot: of.sampling.lot,
        parts: of.sampling.parts,
        allowed: of.sampling.allowed,
        taken: of.taken,
        escapes: of.escapes,
        quality_taken_with: of.marks.iter().map(mark).collect(),
        curve: of.curve.iter().map(|(failing, probability)| [*failing, *probability]).collect(),
    }
}
