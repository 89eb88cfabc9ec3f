//! A costing for scripts.

use crate::decide::cost::Input;
use crate::decide::{Bill, CostResult, CostStep, OfferCase, Pareto, Pays, ReworkResult, Saving, Swing};
use crate::report::CostRun;
use crate::report::Ending;
use crate::report::cost_verdict::verdict;
use crate::report::json_parts::{Built, Head, Yield, finite};
use crate::stats::Estimate;
use serde::Serialize;
use std::collections::BTreeMap;

/// The document of a costing, ready to be serialised.
pub(crate) fn cost_json<'a>(run: &CostRun<'a>) -> impl Serialize + use<'a> {
    let costed = run.costed;
    let cost = &costed.costs[0];
    let fronts = [Pareto::Minutes, Pareto::Cost].map(|pareto| costed.dominated(pareto));
    let designs = 0..run.models.len();
    let steps =
        designs.flat_map(|design| costed.steps(design)).map(|step| self::step(&step, &|of| run.name(of)));
    let cheapest = costed.cheapest();
    Document {
        built: Built {
            head: Head::of(&run.models[0]),
            trials: costed.compared.trials(),
            seconds: run.seconds,
            confidence: costed.compared.confidence,
            partial: matches!(run.ending, Ending::Stopped { .. }) || run.lacks_ladder,
            warnings: run.warnings,
        },
        currency: &cost.currency,
        units_a_year: cost.units_a_year,
        plans: costed.all().map(|of| plan(run, of, &fronts)).collect(),
        cheapest: cheapest.map(|of| run.name(of)),
        steps: steps.collect(),
        averages: run.ladder.map(|(of, ladder)| {
            let name = |of: usize| ladder.averages[of].to_string();
            Averages {
                plan: run.name(of),
                stated: ladder.averages[ladder.own],
                tried: ladder.costed.all().map(|of| tried(&ladder.costed, of, ladder.averages[of])).collect(),
                steps: ladder.steps().iter().map(|of| self::step(of, &name)).collect(),
                pays_up_to: ladder.pays_up_to().map(|of| ladder.averages[of]),
            }
        }),
        offers: costed.offers().iter().map(|case| offer(run, case)).collect(),
        tornado: cheapest
            .map_or(Vec::new(), |of| costed.tornado(of))
            .iter()
            .map(|of| swing(run, of))
            .collect(),
        cautions: run.cautions(),
        verdict: verdict(run),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    built: Built<'a>,
    currency: &'a str,
    units_a_year: f64,
    plans: Vec<Plan>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cheapest: Option<String>,
    steps: Vec<Step>,
    /// Where the cheapest plan takes readings.
    #[serde(skip_serializing_if = "Option::is_none")]
    averages: Option<Averages>,
    offers: Vec<Offer>,
    tornado: Vec<Swung>,
    /// Differences of the offers from the study, other than hardware.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cautions: Vec<String>,
    verdict: String,
}

#[derive(Serialize)]
struct Plan {
    name: String,
    plan: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    offer: Option<String>,
    minutes: f64,
    #[serde(rename = "yield", skip_serializing_if = "Option::is_none")]
    yield_: Option<Yield>,
    /// Where some unit is good.
    #[serde(skip_serializing_if = "Option::is_none")]
    cost: Option<Ends>,
    #[serde(skip_serializing_if = "Option::is_none")]
    split: Option<Split>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bench: Option<Bench>,
    /// Where parts of failing units are replaced, and some unit fails.
    #[serde(skip_serializing_if = "Option::is_none")]
    rework: Option<Reworked>,
    /// Rework is stated to succeed more often than a new unit passes.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    stated_success_exceeds_yield: bool,
    /// Parts turned away for those of a unit, by inspected source.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    parts_turned_away: BTreeMap<String, f64>,
    gauge_minutes: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    dominated_in_minutes_by: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    dominated_in_cost_by: Option<String>,
}

/// The outcome for units that fail at first.
#[derive(Serialize)]
struct Reworked {
    failing: u64,
    /// Share of them that is good in the end.
    success: f64,
    attempts_each: f64,
    /// Bench time of calibrating them again, for each that fails at first; not that of the rework itself.
    calibration_minutes_each: f64,
    attempts: Vec<Attempted>,
    /// Good in the end, of all units: the yield after rework.
    good: Yield,
}

#[derive(Serialize)]
struct Attempted {
    tried: u64,
    mended: u64,
}

impl Reworked {
    fn of(mended: &ReworkResult) -> Option<Reworked> {
        let attempts = mended.attempts.iter().map(|of| Attempted { tried: of.tried, mended: of.mended });
        Some(Reworked {
            failing: mended.failing(),
            success: mended.success()?,
            attempts_each: mended.attempts_each()?,
            calibration_minutes_each: mended.seconds_each()? / 60.0,
            attempts: attempts.collect(),
            good: Yield::of(&mended.good),
        })
    }
}

/// An estimate; an end that is open is absent.
#[derive(Serialize)]
struct Ends {
    value: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<f64>,
    confidence: f64,
}

impl Ends {
    fn of(of: &Estimate) -> Ends {
        Ends { value: of.value, low: finite(of.low), high: finite(of.high), confidence: of.confidence }
    }
}

/// The lines add up to the cost.
#[derive(Serialize)]
struct Split {
    parts: f64,
    turned_away: f64,
    gauge: f64,
    bench: f64,
    rework: f64,
    scrap: f64,
    set_up: f64,
    /// Good units for each unit built.
    good_share: f64,
    failing_units: &'static str,
}

#[derive(Serialize)]
struct Bench {
    /// Of failed units and of rework included.
    minutes_a_good_unit: f64,
    good_units_a_day: Ends,
    benches: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    benches_low: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    benches_high: Option<u64>,
}

#[derive(Serialize)]
struct Saved {
    /// Saving on a good unit, with its part of one-time costs.
    saves: Ends,
    /// The same without one-time costs.
    saves_without_set_up: Ends,
    /// Extra one-time cost.
    more_set_up: f64,
    told: bool,
    pays: Paying,
    /// At the ends of the interval of the saving.
    pays_at_best: Paying,
    pays_at_worst: Paying,
    /// Where the difference is not significant and more units are likely to make it so.
    #[serde(skip_serializing_if = "Option::is_none")]
    units_to_tell: Option<u64>,
}

/// "at once", "from" and "up to" some units, "never".
#[derive(Serialize)]
struct Paying {
    when: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    units: Option<u64>,
}

#[derive(Serialize)]
struct Step {
    from: String,
    to: String,
    /// Extra bench time of the second.
    minutes: f64,
    #[serde(flatten)]
    saved: Saved,
}

#[derive(Serialize)]
struct Averages {
    plan: String,
    stated: u32,
    tried: Vec<Tried>,
    steps: Vec<Step>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pays_up_to: Option<u32>,
}

#[derive(Serialize)]
struct Tried {
    averages: u32,
    minutes: f64,
    #[serde(rename = "yield", skip_serializing_if = "Option::is_none")]
    yield_: Option<Yield>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cost: Option<Ends>,
}

#[derive(Serialize)]
struct Offer {
    offer: String,
    plan: String,
    /// The plan that it is compared with.
    against: String,
    #[serde(flatten)]
    saved: Saved,
    /// Price of a channel's parts below which it pays.
    most_a_channel: Ends,
}

#[derive(Serialize)]
struct Swung {
    input: String,
    /// Where the price is an offer's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    offer: Option<String>,
    from: f64,
    to: f64,
    /// Absent where no unit is good there.
    #[serde(skip_serializing_if = "Option::is_none")]
    cost_from: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cost_to: Option<f64>,
    /// Where another plan is the cheapest.
    #[serde(skip_serializing_if = "Option::is_none")]
    cheapest_from: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cheapest_to: Option<String>,
}

fn plan(run: &CostRun, of: usize, fronts: &[Vec<Option<usize>>; 2]) -> Plan {
    let costed = run.costed;
    let (effort, priced) = (&costed.efforts[of], &costed.priced[of]);
    let bench = costed.throughput(of).zip(priced.bill).map(|(found, bill)| Bench {
        minutes_a_good_unit: bill.bench_seconds / 60.0,
        good_units_a_day: Ends::of(&found.a_day),
        benches: found.benches,
        benches_low: found.within[0],
        benches_high: found.within[1],
    });
    let [by_minutes, by_cost] = fronts.each_ref().map(|pareto| pareto[of].map(|other| run.name(other)));
    Plan {
        name: run.name(of),
        plan: effort.calibration.clone(),
        offer: run.offer_of(costed.compared.candidates[of].design),
        minutes: effort.bench_seconds / 60.0,
        yield_: costed.compared.yield_of(of).map(Yield::of),
        cost: priced.total.as_ref().map(Ends::of),
        split: priced.bill.as_ref().map(split),
        bench,
        rework: effort.mended.as_ref().and_then(Reworked::of),
        stated_success_exceeds_yield: run.is_hopeful(of),
        parts_turned_away: effort.turned_away.iter().cloned().collect(),
        gauge_minutes: effort.gauge_seconds / 60.0,
        dominated_in_minutes_by: by_minutes,
        dominated_in_cost_by: by_cost,
    }
}

fn split(bill: &Bill) -> Split {
    let Bill { parts, turned_away, gauge, bench, rework, scrap, set_up, good, bench_seconds: _, reworks } =
        *bill;
    let failing_units = if reworks { "reworked" } else { "scrapped" };
    Split { parts, turned_away, gauge, bench, rework, scrap, set_up, good_share: good, failing_units }
}

fn tried(costed: &CostResult, of: usize, averages: u32) -> Tried {
    Tried {
        averages,
        minutes: costed.compared.seconds(of) / 60.0,
        yield_: costed.compared.yield_of(of).map(Yield::of),
        cost: costed.priced[of].total.as_ref().map(Ends::of),
    }
}

fn step(of: &CostStep, name: &dyn Fn(usize) -> String) -> Step {
    Step { from: name(of.from), to: name(of.to), minutes: of.seconds / 60.0, saved: saved(&of.saving) }
}

fn saved(of: &Saving) -> Saved {
    let (pays, [best, worst]) = of.pays();
    Saved {
        saves: Ends::of(&of.amount),
        saves_without_set_up: Ends::of(&of.running()),
        more_set_up: of.extra,
        told: of.is_significant(),
        pays: paying(pays),
        pays_at_best: paying(best),
        pays_at_worst: paying(worst),
        units_to_tell: of.units_to_tell().filter(|_| !of.is_significant()),
    }
}

fn paying(of: Pays) -> Paying {
    let (when, units) = match of {
        Pays::AtOnce => ("at once", None),
        Pays::From(units) => ("from", Some(units.max(1))),
        Pays::UpTo(units) => ("up to", Some(units)),
        Pays::Never => ("never", None),
    };
    Paying { when, units }
}

fn offer(run: &CostRun, case: &OfferCase) -> Offer {
    Offer {
        offer: run.offer_of(case.design).unwrap_or_default(),
        plan: run.plan_of(case.candidate),
        against: run.name(case.own),
        saved: saved(&case.saving),
        most_a_channel: Ends::of(&case.most),
    }
}

fn swing(run: &CostRun, of: &Swing) -> Swung {
    let (input, offer) = match &of.input {
        Input::Price(key, design) => (format!("cost.{key}"), design.and_then(|of| run.offer_of(of))),
        Input::Yield => ("yield".to_owned(), None),
    };
    let [cost_from, cost_to] = of.costs.map(finite);
    let [cheapest_from, cheapest_to] = of.instead.map(|of| of.map(|of| run.name(of)));
    Swung { input, offer, from: of.ends[0], to: of.ends[1], cost_from, cost_to, cheapest_from, cheapest_to }
}
