//! A budget for scripts. An absent value is an absent key.

use crate::decide::budget::{Budget, CalibrationBudget, FigureBudget, Gain, Group, Perfect, VarianceShares};
use crate::engine::End;
use crate::model::Model;
use crate::report::BudgetRun;
use crate::report::budget_text::by_gain;
use crate::report::budget_verdict::verdict;
use crate::report::json_parts::{Built, Column, Head, column, finite};
use crate::stats::Estimate;
use serde::Serialize;

/// The document of a budget, ready to be serialised.
pub(crate) fn budget_json<'a>(run: &BudgetRun<'a>) -> impl Serialize + use<'a> {
    let Budget { units, causes, calibrations, end, .. } = run.budget;
    let model = run.model;
    Document {
        built: Built {
            head: Head::of(model),
            trials: *units,
            seconds: run.seconds,
            confidence: model.confidence,
            partial: *end == End::Interrupted,
            warnings: run.warnings,
        },
        causes: causes
            .iter()
            .map(|of| Cause { name: &of.name, holds: &of.holds, drawn: of.is_drawn() })
            .collect(),
        calibrations: calibrations.iter().map(|of| calibration(model, run.budget, of)).collect(),
        verdict: verdict(run),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    built: Built<'a>,
    causes: Vec<Cause<'a>>,
    calibrations: Vec<Calibration<'a>>,
    #[serde(skip_serializing_if = "String::is_empty")]
    verdict: String,
}

#[derive(Serialize)]
struct Cause<'a> {
    name: &'a str,
    holds: &'a [String],
    drawn: bool,
}

#[derive(Serialize)]
struct Calibration<'a> {
    name: &'a str,
    #[serde(rename = "yield", skip_serializing_if = "Option::is_none")]
    yield_: Option<Interval>,
    #[serde(skip_serializing_if = "Option::is_none")]
    failures: Option<Failures<'a>>,
    figures: Vec<Figure<'a>>,
}

#[derive(Serialize)]
struct Failures<'a> {
    #[serde(flatten)]
    shared: Shared,
    /// By gain, the largest first.
    causes: Vec<OfFailures<'a>>,
    /// Names of the cause that is shown to gain most, and of those that are not shown to gain less.
    mend_first: Vec<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    without_all: Option<Without>,
    together: Vec<Together<'a>>,
}

/// The yield gain without several causes.
#[derive(Serialize)]
struct Without {
    yield_without: Interval,
    gain: Interval,
    saved: u64,
    lost: u64,
}

/// Causes that gain more together than one by one.
#[derive(Serialize)]
struct Together<'a> {
    causes: Vec<&'a str>,
    #[serde(flatten)]
    without: Without,
    /// Sum of the gains one by one, a share of 1.
    one_by_one: f64,
    /// Whether one of them is shown to gain by itself.
    gains_alone: bool,
}

#[derive(Serialize)]
struct Figure<'a> {
    #[serde(flatten)]
    column: Column<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mean: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sd: Option<f64>,
    #[serde(flatten)]
    shared: Shared,
    causes: Vec<OfFigure<'a>>,
}

/// The shares of all causes.
#[derive(Serialize)]
struct Shared {
    #[serde(skip_serializing_if = "Option::is_none")]
    variance: Option<f64>,
    left_out: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    alone: Option<Interval>,
    #[serde(skip_serializing_if = "Option::is_none")]
    together: Option<Interval>,
}

#[derive(Serialize)]
struct Share<'a> {
    cause: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    alone: Option<Interval>,
    #[serde(skip_serializing_if = "Option::is_none")]
    in_all: Option<Interval>,
}

#[derive(Serialize)]
struct OfFailures<'a> {
    #[serde(flatten)]
    share: Share<'a>,
    /// By gain, from 1 on; absent where the gain is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    rank: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    yield_without: Option<Interval>,
    #[serde(skip_serializing_if = "Option::is_none")]
    gain: Option<Interval>,
    /// Units that pass without the cause alone, and with it alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    saved: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lost: Option<u64>,
}

#[derive(Serialize)]
struct OfFigure<'a> {
    #[serde(flatten)]
    share: Share<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mean_without: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sd_without: Option<f64>,
}

#[derive(Serialize)]
struct Interval {
    value: f64,
    low: f64,
    high: f64,
    confidence: f64,
    trials: u64,
}

fn interval(of: &Estimate) -> Interval {
    Interval { value: of.value, low: of.low, high: of.high, confidence: of.confidence, trials: of.count }
}

fn calibration<'a>(model: &'a Model, budget: &'a Budget, of: &'a CalibrationBudget) -> Calibration<'a> {
    let name = |cause: usize| budget.causes[cause].name.as_str();
    let failures = of.failures.as_ref().map(|owned| Failures {
        shared: shared(owned),
        causes: by_gain(of, owned)
            .into_iter()
            .map(|number| {
                let perfect: Option<&Perfect> = of.perfect[number].as_ref();
                OfFailures {
                    share: share(owned, number, name(number)),
                    rank: of.gains.order.iter().position(|of| *of == number).map(|place| place + 1),
                    yield_without: perfect.and_then(|of| of.yield_.as_ref()).map(interval),
                    gain: perfect.and_then(|of| of.gain.as_ref()).map(interval),
                    saved: perfect.map(|of| of.pairs.only_first),
                    lost: perfect.map(|of| of.pairs.only_second),
                }
            })
            .collect(),
        mend_first: of
            .gains
            .first
            .into_iter()
            .chain(of.gains.rivals.iter().map(|of| of.cause))
            .map(name)
            .collect(),
        without_all: of.gains.all.as_ref().map(without),
        together: of.gains.groups.iter().map(|group| together(group, &name)).collect(),
    });
    let figures = of.figures.iter().enumerate();
    Calibration {
        name: &of.name,
        yield_: of.yield_.as_ref().map(interval),
        failures,
        figures: figures.map(|(number, figure)| of_figure(model, budget, of, number, figure)).collect(),
    }
}

fn without(of: &Gain) -> Without {
    Without {
        yield_without: interval(&of.yield_),
        gain: interval(&of.gain),
        saved: of.pairs.only_first,
        lost: of.pairs.only_second,
    }
}

fn together<'a>(group: &Group, name: &impl Fn(usize) -> &'a str) -> Together<'a> {
    Together {
        causes: group.causes.iter().map(|cause| name(*cause)).collect(),
        without: without(&group.gain),
        one_by_one: group.one_by_one,
        gains_alone: group.any_alone,
    }
}

fn of_figure<'a>(
    model: &'a Model,
    budget: &'a Budget,
    of: &'a CalibrationBudget,
    number: usize,
    figure: &'a FigureBudget,
) -> Figure<'a> {
    let causes = budget.causes.iter().enumerate().map(|(cause, named)| {
        let without = of.perfect[cause].as_ref().map(|perfect| perfect.moments[number]);
        OfFigure {
            share: share(&figure.owned, cause, &named.name),
            mean_without: without.filter(|of| of.count > 0).map(|of| of.mean),
            sd_without: without.and_then(|of| finite(of.sd())),
        }
    });
    Figure {
        column: column(model, figure.column),
        mean: (figure.moments.count > 0).then_some(figure.moments.mean),
        sd: finite(figure.moments.sd()),
        shared: shared(&figure.owned),
        causes: causes.collect(),
    }
}

fn shared(owned: &VarianceShares) -> Shared {
    Shared {
        variance: owned.sd.map(|sd| sd * sd),
        left_out: owned.left_out,
        alone: owned.alone.as_ref().map(interval),
        together: owned.together.as_ref().map(interval),
    }
}

fn share<'a>(owned: &VarianceShares, cause: usize, name: &'a str) -> Share<'a> {
    let share = owned.shares[cause].as_ref();
    Share {
        cause: name,
        alone: share.map(|of| interval(&of.alone)),
        in_all: share.map(|of| interval(&of.in_all)),
    }
}
