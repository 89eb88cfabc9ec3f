//! Units that share lots: intervals hold the truth as often as they say, whatever the units of a lot.
//!
//! A unit's power changes by the gain of its lot and its own, both normal, so every truth is a normal probability in closed form.

use crate::inside::support;
use beamyield::decide::inspect::{BuiltUnits, Units};
use beamyield::decide::{
    Answer, Bill, Demand, Effort, LotYields, Passes, Span, UnitCost, compare, find_limit, run_all,
};
use beamyield::engine::{self, Control, End};
use beamyield::io::SourceText;
use beamyield::math::normal;
use beamyield::model::{self, Model};
use beamyield::random::{Key, draw};
use beamyield::stats::{Column, Estimate, Moments, Pairs, clopper_pearson, student};
use beamyield::study::{self, Cost, Trials};
use std::sync::atomic::AtomicBool;

const STUDY: &str = r#"
title = "Lots"
seed = 1
trials = 500
frequencies = ["10 GHz"]
figures = ["eirp_change"]
lot = 50
array = { layout = { kind = "linear", count = 2, spacing = "0.5 wavelength" } }
beam = [{ name = "ahead", theta = "0 deg" }]
block = [
    { name = "driver", kind = "amplifier", gain = { nominal = "0 dB", normal = { sd = "0.3 dB" }, scope = "unit", and = { normal = { sd = "1 dB" }, scope = "lot" } } },
    { name = "shifter", kind = "phase_shifter", bits = 6 },
]
calibration = [{ name = "none" }]
limit = [{ figure = "eirp_change", at_least = "-1 dB" }]
cost = { currency = "EUR", units_a_year = 100, channel = 40, bench_minute = 1, unit = 20 }
"#;

/// Standard deviations, dB: of a unit, and of the lots of either design.
const OWN: f64 = 0.3;
const LOTS: [f64; 2] = [1.0, 0.8];

const SEEDS: u64 = 300;

/// Units of a lot, and lots.
const SIZES: [(u64, u64); 3] = [(1, 500), (5, 100), (50, 20)];

/// A share of 0.95 less three standard errors of 300.
const BOUND: f64 = 0.912;

fn designs(lot: u64, lots: u64) -> (Vec<Model>, Cost) {
    let text = STUDY.replace("lot = 50", &format!("lot = {lot}"));
    let text = text.replace("trials = 500", &format!("trials = {}", lot * lots));
    let other = text.replace("sd = \"1 dB\"", "sd = \"0.8 dB\"");
    let source = SourceText { name: "lots.toml".into(), text: text.clone() };
    let cost = study::parse(&source).expect("a sound study").cost.expect("prices");
    (vec![support::model(&text), support::model(&other)], cost)
}

/// The models with another seed.
fn seeded(text_of: &[Model], seed: u64, lot: u64, lots: u64) -> Vec<Model> {
    let sds = LOTS.map(|sd| format!("sd = \"{sd} dB\""));
    let text =
        STUDY.replace("seed = 1", &format!("seed = {seed}")).replace("lot = 50", &format!("lot = {lot}"));
    let text = text.replace("trials = 500", &format!("trials = {}", lot * lots));
    assert_eq!(text_of.len(), sds.len());
    sds.iter()
        .map(|sd| {
            let text = text.replace("sd = \"1 dB\"", sd);
            let source = SourceText { name: "lots.toml".into(), text: text.clone() };
            model::compile(&study::parse(&source).expect("a sound study"), &text)
        })
        .collect()
}

/// The study with every difference of lots drawn for each unit instead: one normal distribution of the same spread.
fn alone() -> String {
    let of_lots = ", and = { normal = { sd = \"1 dB\" }, scope = \"lot\" }";
    assert!(STUDY.contains(of_lots));
    STUDY.replace(of_lots, "").replace("0.3 dB", "1.04403065 dB")
}

fn true_yield(lot_sd: f64) -> f64 {
    normal::probability(1.0 / OWN.hypot(lot_sd))
}

/// Coverage of an interval by lots, and of one that assumes independent units.
#[derive(Clone, Copy, Default)]
struct Held {
    of: u64,
    by_lots: u64,
    by_units: u64,
}

impl Held {
    fn take(&mut self, truth: f64, by_lots: &Estimate, by_units: &Estimate) {
        let holds = |of: &Estimate| u64::from(of.low <= truth && truth <= of.high);
        self.of += 1;
        self.by_lots += holds(by_lots);
        self.by_units += holds(by_units);
    }

    fn shares(&self) -> (f64, f64) {
        (self.by_lots as f64 / self.of as f64, self.by_units as f64 / self.of as f64)
    }
}

const ROWS: [&str; 9] = [
    "run: yield",
    "run: mean",
    "run: median",
    "compare: yields",
    "compare: means",
    "sweep: step",
    "inspect: gain",
    "cost: a good unit",
    "cost: saving",
];

/// One seed's answers of all commands.
fn take_seed(models: &[Model], cost: &Cost, held: &mut [Held; 9]) {
    let control = Control { threads: 1, interrupt: &AtomicBool::new(false) };
    let truths = LOTS.map(true_yield);
    let apart = truths[0] - truths[1];
    let units = models[0].trials.most();
    let compared = compare(models, control, |_| Ok(())).expect("it runs").expect("it has units");
    let of = compared.summary(0);
    let passed = |share: &Estimate| clopper_pearson((share.value * units as f64).round() as u64, units, 0.95);

    let share = compared.yield_of(0).expect("limits");
    held[0].take(truths[0], share, &passed(share));

    let moments = of.figures[0].moments;
    let mean = |of: &Moments| student::mean(of, 0.95).expect("units");
    let as_units = |of: Moments| Moments { lots: None, ..of };
    held[1].take(0.0, &mean(&moments), &mean(&as_units(moments)));

    let median = |of: &[Estimate]| of[of.len() / 2].clone();
    let independent = of.figures[0].values.percentiles(&moments, &[0.5], 0.95);
    held[2].take(0.0, &median(&of.figures[0].percentiles), &independent[0]);

    let over = compared.yield_difference(0, 1).expect("limits");
    let as_units_too = |pairs: &Pairs| Pairs { lots: None, ..*pairs }.difference(0.95);
    held[3].take(apart, &over.difference, &as_units_too(&over.pairs));

    let means = compared.mean_difference(0, 1, 0).expect("a measure");
    // The spread of the difference with independent units: a fifth of the lot's draw.
    let error = (LOTS[0] - LOTS[1]) / (units as f64).sqrt();
    let half = 1.96 * error;
    let independent = Estimate {
        low: means.difference.value - half,
        high: means.difference.value + half,
        ..means.difference.clone()
    };
    held[4].take(0.0, &means.difference, &independent);

    let (ran, _) = run_all(models, control, &mut |_| {}).expect("it runs");
    let mut ran = ran.into_iter().map(|of| of.expect("it has units"));
    let (first, second) = (ran.next().expect("the first"), ran.next().expect("the second"));
    let step = first.passes[0].beside(&second.passes[0]);
    held[5].take(apart, &step.difference(0.95), &as_units_too(&step));

    let made = |model: &Model, ran| {
        BuiltUnits::of(model, ran, Some(cost), control).expect("it runs").expect("limits")
    };
    let units_made = Units { without: made(&models[1], second), with: Some(made(&models[0], first)) };
    let pairs = units_made.with.as_ref().expect("both").beside(&units_made.without);
    held[6].take(apart, &units_made.gain().expect("both"), &as_units_too(&pairs));

    let effort = Effort::of(&models[0], 0, of);
    let total = |share: f64| Bill::of(cost, &effort, share).expect("good units").total();
    let as_priced = |share: &Estimate| UnitCost::of(cost, &effort, share);
    let second_share = compared.yield_of(1).expect("limits");
    let (mine, theirs) = (as_priced(share), as_priced(second_share));
    let (mine_alone, theirs_alone) = (as_priced(&passed(share)), as_priced(&passed(second_share)));
    let priced = |of: &UnitCost| of.total.clone().expect("good units");
    held[7].take(total(truths[0]), &priced(&mine), &priced(&mine_alone));
    let saving = mine.saves(&theirs, &over.pairs).expect("both");
    let alone = mine_alone.saves(&theirs_alone, &Pairs { lots: None, ..over.pairs }).expect("both");
    held[8].take(total(truths[1]) - total(truths[0]), &saving, &alone);
}

#[test]
fn intervals_hold_the_truth_whatever_the_units_of_a_lot() {
    let mut table = String::new();
    for (lot, lots) in SIZES {
        let (models, cost) = designs(lot, lots);
        let mut held = [Held::default(); 9];
        (1..=SEEDS).for_each(|seed| take_seed(&seeded(&models, seed, lot, lots), &cost, &mut held));
        for (row, held) in ROWS.iter().zip(held) {
            let (by_lots, by_units) = held.shares();
            table
                .push_str(&format!("{row:20} {lot:3} a lot: {by_units:.3} as units, {by_lots:.3} by lots\n"));
            assert!(by_lots >= BOUND, "{table}");
            // Negative control: intervals of as many independent units do not.
            assert!(lot < 50 || by_units < 0.7, "{table}");
        }
    }
    println!("{table}");
}

/// Verdicts of a unit at a spread of the lots, drawn as the study draws them: its lot's deviate times the spread, and its own.
fn search(seed: u64, lot: u64, units: u64, knows_lots: bool) -> Option<(f64, f64)> {
    let deviates = |name: &str, count: u64| {
        let mut all = vec![0.0; count as usize];
        draw::fill::<1>(Key::new(seed, name), 0, 0, &mut all);
        normal::quantiles(&mut all);
        all
    };
    let (own, of_lots) = (deviates("own", units), deviates("lots", units.div_ceil(lot)));
    let demand = Demand { share: 0.8, confidence: 0.95, units };
    let found = find_limit(&demand, &Span::of_quantities(0.2, 8.0), None, &mut |sd, to| {
        if knows_lots {
            to.in_lots(lot);
        }
        for first in (0..units).step_by(64) {
            let count = (units - first).min(64);
            let passes = |unit: u64| OWN * own[unit as usize] + sd * of_lots[(unit / lot) as usize] >= -1.0;
            let word = (0..count).fold(0, |word, unit| word | u64::from(passes(first + unit)) << unit);
            to.take_word(count, word);
            if to.are_enough() {
                break;
            }
        }
        Ok(())
    });
    match found.expect("it searches").answer {
        Answer::Limit(limit) => Some((limit.meets.unwrap_or(0.0), limit.misses.unwrap_or(f64::INFINITY))),
        _ => None,
    }
}

#[test]
fn a_limit_holds_the_truth_whatever_the_units_of_a_lot() {
    // P(pass) = Phi(1/sqrt(0.3^2 + sd^2)) = 0.8.
    let truth = ((1.0 / normal::quantile(0.8)).powi(2) - OWN * OWN).sqrt();
    for (lot, lots) in SIZES {
        let share = |knows_lots: bool| {
            let found: Vec<(f64, f64)> =
                (1..=SEEDS).filter_map(|seed| search(seed, lot, lot * lots, knows_lots)).collect();
            let holding = found.iter().filter(|(meets, misses)| *meets <= truth && truth <= *misses).count();
            (holding as f64 / found.len() as f64, found.len())
        };
        let ((by_lots, answers), (by_units, _)) = (share(true), share(false));
        println!("limit {lot:3} a lot: {by_units:.3} as units, {by_lots:.3} by lots, {answers} answers");
        assert!(by_lots >= BOUND && answers > 200, "{lot}: {by_lots} of {answers}");
        assert!(lot < 50 || by_units < 0.7, "{by_units}");
    }
}

#[test]
fn a_run_until_its_yield_is_tight_builds_as_many_more_units_as_lots_ask() {
    let trials = Trials::UntilYield { half_width: 0.03, at_most: 200_000 };
    let units = |model: &Model| {
        let control = Control { threads: 2, interrupt: &AtomicBool::new(false) };
        let finish = engine::run(model, control, |_| Ok(())).expect("it runs");
        assert_eq!(finish.end, End::Tight);
        let summary = finish.summary.expect("units");
        let of = summary.calibrations[0].yield_.clone().expect("limits");
        assert!(0.5 * (of.high - of.low) <= 0.03);
        summary.trials
    };
    let model = Model { trials, ..support::model(STUDY) };
    let alone = Model { trials, ..support::model(&alone()) };
    // z^2 Y (1 - Y)/w^2 = 600 independent units, 1024 by the first interim analysis; as many lots of fifty.
    assert_eq!(units(&alone), 1024);
    let by_lots = units(&model);
    assert!((20_000..60_000).contains(&by_lots), "{by_lots}");
}

#[test]
fn a_run_says_how_lots_differ() {
    let model = Model { trials: Trials::Fixed(50_000), ..support::model(STUDY) };
    let control = Control { threads: 2, interrupt: &AtomicBool::new(false) };
    let mut passes = Passes::new(&model);
    engine::run(&model, control, |outcomes| {
        passes.push(&outcomes.calibrations[0]);
        Ok(())
    })
    .expect("it runs");
    let found = LotYields::of(&passes, 0.95).expect("lots");
    // The yield of a lot of gain g is Phi((1 + g)/0.3), g normal of sd 1: its moments by a sum over g from -6 to 6 sd.
    let steps = 24_000;
    let (mut mean, mut square, mut binomial) = (0.0, 0.0, 0.0);
    for step in 0..steps {
        let g = -6.0 + 12.0 * (f64::from(step) + 0.5) / f64::from(steps);
        let weight = (-0.5 * g * g).exp() / (2.0 * std::f64::consts::PI).sqrt() * 12.0 / f64::from(steps);
        let y = normal::probability((1.0 + g) / OWN);
        mean += weight * y;
        square += weight * y * y;
        binomial += weight * y * (1.0 - y) / 50.0;
    }
    let sd = (square - mean * mean).sqrt();
    assert!((mean - true_yield(1.0)).abs() < 1e-6);
    assert_eq!((found.lots, found.units), (1000, 50));
    // A thousand lots estimate a standard deviation to some three parts in a hundred: within four standard errors.
    assert!((found.sd_of_yields / sd - 1.0).abs() < 0.12, "{found:?}, {sd}");
    assert!((found.sd_by_chance / binomial.sqrt() - 1.0).abs() < 0.15, "{found:?}, {}", binomial.sqrt());
    // A lot of fifty has fewer than 45 good ones by the binomial distribution about its yield; the sum of that over lots is 0.22 to 0.26.
    assert!(found.below.low < 0.25 && found.below.high > 0.22, "{found:?}");
    // The worst of twenty: the lot at 3.4 of a hundred, g = -1.82, yield Phi(-0.82/0.3) = 0.003.
    assert!(found.worst.value < 0.05, "{found:?}");
    // Negative control: where all differ unit by unit, lots differ by binomial variation alone.
    let alone = support::model(&alone());
    assert!(alone.lot().is_none() && LotYields::of(&Passes::new(&alone), 0.95).is_none());
}

#[test]
fn lots_count_only_where_something_that_varies_is_drawn_for_each() {
    let lot = |text: &str| support::model(text).lot();
    assert_eq!(lot(STUDY), Some(50));
    assert_eq!(lot(&STUDY.replace("lot = 50", "lot = 1")), None);
    assert_eq!(lot(&alone()), None);
    assert_eq!(lot(&STUDY.replace("sd = \"1 dB\"", "sd = \"0 dB\"")), None);
    // A quantile's interval too is by lots, and the range where they are too few.
    let of = support::run(&support::model(STUDY));
    let methods: Vec<&str> = of.calibrations[0].figures[0].percentiles.iter().map(|of| of.method).collect();
    assert_eq!(methods[2], "order statistics, by lots");
    assert!(methods[0].starts_with("range") && methods[0].contains("lots"), "{methods:?}");
    let column = Column::new();
    assert!(column.percentiles_by_lots(&Moments::default(), &[0.5], 0.95, |_| 1.0).is_empty());
}
