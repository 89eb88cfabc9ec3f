//! An inspection for scripts. An absent value is an absent key; deviations are in the document's unit.

use crate::decide::inspect::{
    BuiltUnits, Cheapest, Choice, Form, GaugeAs, Question, Search, SettingResult, TriedAcceptance, Units,
    Widest,
};
use crate::decide::{Answer, LimitResult, Probe, Refusal, inspect};
use crate::report::InspectRun;
use crate::report::inspect_parts_json::{Ends, PartsOf, Share, Shares, ends, parts_of, share, shares};
use crate::report::inspect_verdict::{total, verdict};
use crate::report::json_parts::{Built, Demand, Head, Yield};
use crate::report::limit_csv::verdict as verdict_word;
use serde::Serialize;

/// The document of an inspection, ready to be serialised.
pub(crate) fn inspect_json<'a>(run: &InspectRun<'a>) -> impl Serialize + use<'a> {
    let cautions = run.cautions().map(|of| format!("{}: {}", of.message, of.label));
    Document {
        built: Built {
            head: Head::of(run.model),
            trials: run.model.trials.most(),
            seconds: run.seconds,
            confidence: run.model.confidence,
            partial: run.is_partial,
            warnings: run.warnings.len(),
        },
        calibration: run.model.calibrations.first().map_or("", |of| &of.name),
        source: run.source,
        unit: run.unit,
        question: match run.question {
            Question::Stated => "stated",
            Question::Widest(_) => "widest",
            Question::Cheapest => "cheapest",
        },
        demand: match run.question {
            Question::Widest(demand) => Some(Demand::of(&demand)),
            _ => None,
        },
        currency: run.cost.map(|cost| cost.currency.as_str()),
        settings: run.answers.iter().map(|answer| setting(run, answer)).collect(),
        cautions: cautions.chain(run.of_offers.iter().cloned()).collect(),
        verdict: verdict(run),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    built: Built<'a>,
    calibration: &'a str,
    source: &'a str,
    unit: &'a str,
    question: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    demand: Option<Demand>,
    #[serde(skip_serializing_if = "Option::is_none")]
    currency: Option<&'a str>,
    settings: Vec<Setting<'a>>,
    /// Warnings about the inspection itself, and differences of the offers other than hardware.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cautions: Vec<String>,
    verdict: String,
}

#[derive(Serialize)]
struct Setting<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    supplier: Option<&'a str>,
    gauge: &'static str,
    answer: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    limit: Option<Limit>,
    #[serde(skip_serializing_if = "Option::is_none")]
    accept: Option<Ends>,
    /// The line that puts it into the study.
    #[serde(skip_serializing_if = "Option::is_none")]
    inspection: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    parts: Option<PartsOf>,
    #[serde(skip_serializing_if = "Option::is_none")]
    units: Option<UnitsOf>,
    #[serde(skip_serializing_if = "Option::is_none")]
    range: Option<[f64; 2]>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    tried: Vec<TriedOf>,
    /// Values that the study refuses, so that they were not tried.
    #[serde(skip_serializing_if = "<[Refusal]>::is_empty")]
    refused: &'a [Refusal],
}

/// A limit with its confidence interval, or with the range of limits not shown to differ from it.
#[derive(Serialize)]
struct Limit {
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<f64>,
    confidence: f64,
    larger_is_looser: bool,
}

#[derive(Serialize)]
struct UnitsOf {
    without: MadeOf,
    #[serde(skip_serializing_if = "Option::is_none")]
    with: Option<MadeOf>,
    /// Yield with the inspection less yield without.
    #[serde(skip_serializing_if = "Option::is_none")]
    gain: Option<Share>,
    /// Saving on a good unit with it.
    #[serde(skip_serializing_if = "Option::is_none")]
    saving: Option<Share>,
}

#[derive(Serialize)]
struct MadeOf {
    #[serde(rename = "yield")]
    yield_: Yield,
    #[serde(skip_serializing_if = "Option::is_none")]
    cost: Option<Share>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    partial: bool,
}

/// A limit tried; without a value, no inspection.
#[derive(Serialize)]
struct TriedOf {
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<f64>,
    #[serde(rename = "yield")]
    yield_: Yield,
    #[serde(skip_serializing_if = "Option::is_none")]
    verdict: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    shares: Option<Shares>,
    /// Share of the delivered parts that is turned away.
    turned_away: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    cost: Option<Share>,
    /// Whether its cost is not shown to differ from the least.
    #[serde(skip_serializing_if = "Option::is_none")]
    is_alike: Option<bool>,
}

fn setting<'a>(run: &InspectRun<'a>, answer: &'a SettingResult) -> Setting<'a> {
    let inspection = answer.parts.as_ref().map(|parts| &parts.inspected.inspection);
    Setting {
        supplier: answer.setting.supplier.as_deref(),
        gauge: gauge_word(answer.setting.gauge),
        answer: answer_word(answer),
        limit: limit(run, answer),
        accept: inspection.and_then(|of| of.accept).map(|window| ends(run, window)),
        inspection: inspection.map(|of| run.line(of)),
        parts: answer.parts.as_ref().map(|parts| parts_of(run, parts)),
        units: answer.units.as_ref().map(units_of),
        range: match &answer.search {
            Search::Widest(Widest { found, .. }) => Some([found.span.from, found.span.to]),
            _ => None,
        },
        tried: match &answer.search {
            Search::Widest(widest) => probed(widest),
            Search::Cheapest(Some(cheapest)) => {
                cheapest.tried.iter().map(|tried| priced(cheapest, tried)).collect()
            }
            Search::Stated | Search::Cheapest(None) => Vec::new(),
        },
        refused: answer.search.refused(),
    }
}

/// A gauge as one word.
pub(super) fn gauge_word(gauge: GaugeAs) -> &'static str {
    match gauge {
        GaugeAs::Stated => "stated",
        GaugeAs::Exact => "exact",
        GaugeAs::TwiceAsBad => "twice_as_bad",
    }
}

fn answer_word(answer: &SettingResult) -> &'static str {
    match answer.search.choice() {
        Choice::Stated => "stated",
        Choice::Size(_) => "limit",
        Choice::NoInspection => "no_inspection",
        Choice::Nothing => "none",
    }
}

fn limit(run: &InspectRun, answer: &SettingResult) -> Option<Limit> {
    match &answer.search {
        Search::Stated => None,
        Search::Widest(Widest {
            found: LimitResult { answer: Answer::Limit(limit), demand, .. }, ..
        }) => {
            let (meets, misses) = (limit.meets, limit.misses);
            let (low, high) = if limit.larger_is_looser { (meets, misses) } else { (misses, meets) };
            Some(Limit {
                value: limit.best,
                low,
                high,
                confidence: demand.confidence,
                larger_is_looser: limit.larger_is_looser,
            })
        }
        Search::Widest(_) | Search::Cheapest(None) => None,
        Search::Cheapest(Some(cheapest)) => {
            let value = cheapest.least().size?;
            let (low, high) = cheapest.alike()?;
            Some(Limit {
                value: Some(value),
                low: Some(low),
                high: Some(high),
                confidence: run.model.confidence,
                larger_is_looser: !matches!(run.form, Form::From),
            })
        }
    }
}

fn units_of(of: &Units) -> UnitsOf {
    UnitsOf {
        without: made(&of.without),
        with: of.with.as_ref().map(made),
        gain: of.gain().as_ref().map(share),
        saving: of.saving().as_ref().map(share),
    }
}

fn made(of: &BuiltUnits) -> MadeOf {
    MadeOf { yield_: Yield::of(&of.yield_), cost: total(of).map(share), partial: of.is_cut }
}

fn probed(Widest { found, shares: of_probes }: &Widest) -> Vec<TriedOf> {
    let of = |(probe, of): (&Probe, &inspect::Shares)| TriedOf {
        value: Some(probe.value),
        yield_: Yield::of(&probe.yield_),
        verdict: Some(verdict_word(probe.verdict)),
        shares: of.conformity.map(shares),
        turned_away: of.turned_away,
        cost: None,
        is_alike: None,
    };
    found.probes.iter().zip(of_probes).map(of).collect()
}

fn priced(cheapest: &Cheapest, tried: &TriedAcceptance) -> TriedOf {
    TriedOf {
        value: tried.size,
        yield_: Yield::of(&tried.made.yield_),
        verdict: None,
        shares: tried.shares.conformity.map(shares),
        turned_away: tried.shares.turned_away,
        cost: total(&tried.made).map(share),
        is_alike: Some(cheapest.is_alike(tried)),
    }
}
