//! Same seed, same answer, bit for bit: whatever the threads, the lanes, the order, or what else stands in the chain.

use crate::support;
use beamyield::engine::{self, Control, LANES, Outcomes, PlanOutcomes};
use beamyield::plan::Plan;
use std::ops::ControlFlow;
use std::sync::atomic::AtomicBool;

/// Every feature that could depend on width or order: two frequencies, chip and unit scopes, errors by bit and by
/// state, all methods, a fixture with draws of its own, a noisy receiver with a floor.
const STUDY: &str = include_str!("../data/everything.toml");

/// Outcomes of all trials, joined.
fn outcomes<const W: usize>(plan: &Plan, threads: usize) -> Vec<PlanOutcomes> {
    let mut all = vec![PlanOutcomes::default(); plan.calibrations.len()];
    let control = Control { threads, interrupt: &AtomicBool::new(false) };
    let mut next = 0;
    let consume = |outcomes: &Outcomes| {
        assert_eq!(outcomes.first_trial, next, "outcomes come in trial order");
        next += outcomes.trials;
        for (all, part) in all.iter_mut().zip(&outcomes.plans) {
            all.values.extend(&part.values);
            all.met.extend(&part.met);
            all.first_missed.extend(&part.first_missed);
            all.failure.extend(&part.failure);
            all.seconds.extend(&part.seconds);
        }
        Ok(ControlFlow::Continue(()))
    };
    engine::run::<W>(plan, plan.trials.most(), control, consume).expect("the run ends well");
    all
}

fn bits(outcomes: &[PlanOutcomes]) -> Vec<u64> {
    let numbers = outcomes.iter().flat_map(|plan| plan.values.iter().chain(&plan.seconds));
    numbers.map(|value| value.to_bits()).collect()
}

#[test]
fn threads_do_not_matter() {
    let plan = support::plan(STUDY);
    let one = outcomes::<LANES>(&plan, 1);
    for threads in [2, 7] {
        let other = outcomes::<LANES>(&plan, threads);
        assert_eq!(bits(&one), bits(&other), "{threads} threads");
        assert_eq!(one, other);
    }
}

#[test]
fn lanes_do_not_matter() {
    let plan = support::plan(STUDY);
    let eight = outcomes::<8>(&plan, 2);
    assert_eq!(bits(&eight), bits(&outcomes::<1>(&plan, 2)), "one lane");
    assert_eq!(bits(&eight), bits(&outcomes::<4>(&plan, 2)), "four lanes");
    assert_eq!(bits(&eight), bits(&outcomes::<16>(&plan, 2)), "sixteen lanes");
}

#[test]
fn a_block_without_spread_does_not_matter() {
    let plan = support::plan(STUDY);
    let added = r#"
[[block]]
name = "bulkhead feedthrough"
kind = "cable"
length = { nominal = "25 mm", normal = { sd = "0 mm" } }
velocity_factor = 0.69
attenuation = "3 dB/m"

[[block]]
name = "first"
"#;
    let more = STUDY.replacen("[[block]]\nname = \"first\"\n", added, 1);
    assert_ne!(more, STUDY);
    let more = support::plan(&more);
    assert_eq!(bits(&outcomes::<LANES>(&plan, 2)), bits(&outcomes::<LANES>(&more, 2)));
}

#[test]
fn another_calibration_plan_does_not_matter() {
    let plan = support::plan(STUDY);
    let all = outcomes::<LANES>(&plan, 2);
    for (number, of_all) in all.iter().enumerate() {
        let mut alone = plan.clone();
        alone.calibrations = vec![plan.calibrations[number].clone()];
        let alone = outcomes::<LANES>(&alone, 2);
        assert_eq!(bits(std::slice::from_ref(of_all)), bits(&alone), "{}", plan.calibrations[number].name);
    }
}

/// The twin that must fail: another seed, and another name of a source, give other units.
#[test]
fn seed_and_names_do_matter() {
    let plan = support::plan(STUDY);
    let units = bits(&outcomes::<LANES>(&plan, 2));
    for (from, to) in [("seed = 5", "seed = 6"), ("name = \"first\"", "name = \"other\"")] {
        let changed = STUDY.replacen(from, to, 1);
        assert_ne!(changed, STUDY);
        assert_ne!(units, bits(&outcomes::<LANES>(&support::plan(&changed), 2)));
    }
}

#[test]
fn a_rebuilt_unit_is_the_unit_of_the_run() {
    let plan = support::plan(STUDY);
    let all = outcomes::<LANES>(&plan, 2);
    let columns = plan.columns.len();
    for trial in [0, 1, 37, 199] {
        let unit = engine::rebuild(&plan, trial);
        for (of_run, rebuilt) in all.iter().zip(&unit.plans) {
            let from = trial as usize * columns;
            let values = &of_run.values[from..from + columns];
            let same = values.iter().zip(&rebuilt.values).all(|(a, b)| a.to_bits() == b.to_bits());
            assert!(same, "trial {trial}");
            assert_eq!(of_run.seconds[trial as usize].to_bits(), rebuilt.seconds.to_bits());
        }
    }
}
