//! A comparison for scripts: the results of every plan, and its differences from another on the same units.

use crate::decide::{MeanDifference, YieldDifference};
use crate::report::CompareRun;
use crate::report::Ending;
use crate::report::compare_verdict::verdict;
use crate::report::json_parts::{Built, Column, Head, column};
use crate::report::run_json::{Calibration, calibration};
use crate::stats::Estimate;
use serde::Serialize;

/// Most units listed of those that a plan saves, and of those that it loses.
const LISTED: usize = 1000;

/// The document of a comparison, ready to be serialised.
pub(crate) fn compare_json<'a>(run: &CompareRun<'a>) -> impl Serialize + use<'a> {
    let compared = run.compared;
    let others = (0..run.names.len()).filter(|of| *of != run.against);
    let designs = run.designs.iter().zip(run.models).map(|(design, model)| Design {
        file: &design.file,
        study: &model.title,
        study_hash: &model.study_hash,
    });
    let steps = (0..run.models.len()).flat_map(|design| compared.bench_steps(design)).map(|step| Step {
        from: &run.names[step.from],
        to: &run.names[step.to],
        minutes: step.seconds / 60.0,
        buys: step.buys(),
        yield_: yields(step.over),
    });
    Document {
        built: Built {
            head: Head::of(&run.models[0]),
            trials: compared.trials(),
            seconds: run.seconds,
            confidence: compared.confidence,
            partial: matches!(run.ending, Ending::Stopped { .. }),
            warnings: run.warnings,
        },
        designs: designs.collect(),
        plans: (0..run.names.len()).map(|of| plan(run, of)).collect(),
        against: &run.names[run.against],
        differences: others.map(|of| difference(run, of)).collect(),
        steps: steps.collect(),
        cautions: run.cautions(),
        verdict: verdict(run),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    built: Built<'a>,
    designs: Vec<Design<'a>>,
    plans: Vec<Plan<'a>>,
    /// Name of the plan that the others are compared with.
    against: &'a str,
    differences: Vec<Difference<'a>>,
    steps: Vec<Step<'a>>,
    /// Differences of the other designs from the first, other than hardware.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cautions: Vec<String>,
    verdict: String,
}

#[derive(Serialize)]
struct Design<'a> {
    file: &'a str,
    study: &'a str,
    study_hash: &'a str,
}

#[derive(Serialize)]
struct Plan<'a> {
    plan: &'a str,
    /// Number of the design, from 0.
    design: usize,
    #[serde(flatten)]
    calibration: Calibration<'a>,
}

#[derive(Serialize)]
struct Difference<'a> {
    plan: &'a str,
    /// Where both have limits.
    #[serde(rename = "yield", skip_serializing_if = "Option::is_none")]
    yield_: Option<Yields>,
    /// The first ones.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    saved_units: Vec<u64>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    lost_units: Vec<u64>,
    means: Vec<Mean<'a>>,
}

#[derive(Serialize)]
struct Yields {
    difference: Estimate,
    /// How many times wider the interval of two unpaired runs of as many units would be.
    narrowed_by: f64,
    both_pass: u64,
    saved: u64,
    lost: u64,
    both_fail: u64,
    told_apart: bool,
    /// Where the difference is not significant and more units are likely to make it so.
    #[serde(skip_serializing_if = "Option::is_none")]
    units_to_tell: Option<u64>,
}

#[derive(Serialize)]
struct Mean<'a> {
    #[serde(flatten)]
    column: Column<'a>,
    difference: Estimate,
    #[serde(skip_serializing_if = "Option::is_none")]
    narrowed_by: Option<f64>,
}

#[derive(Serialize)]
struct Step<'a> {
    from: &'a str,
    to: &'a str,
    /// Extra bench time of the second.
    minutes: f64,
    /// Whether the yield rises significantly.
    buys: bool,
    #[serde(rename = "yield")]
    yield_: Yields,
}

fn plan<'a>(run: &CompareRun<'a>, candidate: usize) -> Plan<'a> {
    let design = run.compared.candidates[candidate].design;
    Plan {
        plan: &run.names[candidate],
        design,
        calibration: calibration(&run.models[design], run.compared.summary(candidate)),
    }
}

fn difference<'a>(run: &CompareRun<'a>, candidate: usize) -> Difference<'a> {
    let compared = run.compared;
    let design = compared.candidates[candidate].design;
    let yield_ = compared.yield_difference(candidate, run.against);
    let listed = |one: usize, other: usize| match yield_ {
        Some(_) => compared.saved(one, other).take(LISTED).collect(),
        None => Vec::new(),
    };
    let mean = |of: MeanDifference| {
        let number = compared.measures[of.measure].columns[design]?;
        Some(Mean {
            column: column(&run.models[design], number),
            difference: of.difference,
            narrowed_by: of.width_ratio,
        })
    };
    Difference {
        plan: &run.names[candidate],
        saved_units: listed(candidate, run.against),
        lost_units: listed(run.against, candidate),
        means: compared.mean_differences(candidate, run.against).into_iter().filter_map(mean).collect(),
        yield_: yield_.map(yields),
    }
}

fn yields(over: YieldDifference) -> Yields {
    let told_apart = over.is_significant();
    let units_to_tell = over.pairs.units_to_tell(over.difference.confidence);
    Yields {
        narrowed_by: over.width_ratio,
        both_pass: over.pairs.both,
        saved: over.pairs.only_first,
        lost: over.pairs.only_second,
        both_fail: over.pairs.neither,
        told_apart,
        units_to_tell: units_to_tell.filter(|_| !told_apart),
        difference: over.difference,
    }
}
