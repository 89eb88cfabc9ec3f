//! Many comparisons through the engine: pairing gives the promised intervals.

use crate::inside::support;
use beamyield::decide::{self, CompareResult};
use beamyield::engine::Control;
use beamyield::model::Model;
use beamyield::stats::{Estimate, Moments};
use std::sync::atomic::AtomicBool;

/// Invented: two channels whose difference in phase is limited, one of them a little worse in the second design.
fn pair(sd: &str, seed: u64, trials: u64) -> Model {
    let text = format!(
        r#"
title = "Pair"
seed = {seed}
trials = {trials}
frequencies = ["28 GHz"]
figures = ["residual_phase_rms"]
array = {{ layout = {{ kind = "linear", count = 2, spacing = "0.5 wavelength" }} }}
beam = [{{ name = "broadside", theta = "0 deg" }}]
block = [
    {{ name = "amplifier", kind = "amplifier", gain = "0 dB", phase = {{ nominal = "0 deg", normal = {{ sd = "2 deg" }} }} }},
    {{ name = "line", kind = "amplifier", gain = "0 dB", phase = {{ nominal = "0 deg", normal = {{ sd = "{sd}" }} }} }},
    {{ name = "shifter", kind = "phase_shifter", bits = 6 }},
]
calibration = [{{ name = "none" }}]
limit = [{{ figure = "residual_phase_rms", at_most = "2.2 deg" }}]
"#
    );
    support::model(&text)
}

fn compared(models: &[Model]) -> CompareResult {
    let control = Control { threads: 1, interrupt: &AtomicBool::new(false) };
    decide::compare(models, control, |_| Ok(())).expect("it ends well").expect("there are units")
}

/// Over many seeds: the paired interval holds the true difference as often as it says, the difference spreads less by the reported
/// variance-reduction factor, and the interval of two unpaired runs is so wide that the same bounds refuse it.
#[test]
fn pairing_narrows_by_the_reported_factor() {
    const SEEDS: u64 = 300;
    const UNITS: u64 = 192;
    let at = |seed, trials| compared(&[pair("0.6 deg", seed, trials), pair("1 deg", seed, trials)]);
    let truth = at(1_000_000, 400_000).yield_difference(0, 1).expect("yields").difference;
    assert!(truth.low > 0.01, "{truth:?}");
    let mut width_ratio = 0.0;
    let (mut paired, mut unpaired) = (Vec::new(), Vec::new());
    let (mut held, mut held_by_wide) = (0, 0);
    let holds = |of: &Estimate| of.low <= truth.value && truth.value <= of.high;
    for seed in 0..SEEDS {
        let (this, next) = (at(seed, UNITS), at(seed + SEEDS, UNITS));
        let over = this.yield_difference(0, 1).expect("yields");
        held += u32::from(holds(&over.difference));
        held_by_wide += u32::from(holds(&over.pairs.difference_unpaired(0.95)));
        width_ratio += over.width_ratio / SEEDS as f64;
        paired.push(over.difference.value);
        let share = |of: &CompareResult, design| of.yield_of(design).expect("a yield").value;
        unpaired.push(share(&this, 0) - share(&next, 1));
    }
    // Four standard errors of a share of 0.95: 15.1 of 300 seeds; the truth's own interval is a hundredth of these.
    let bound = 4.0 * (0.95 * 0.05 * SEEDS as f64).sqrt();
    assert!((f64::from(held) - 0.95 * SEEDS as f64).abs() < bound, "{held} of {SEEDS}");
    assert!(held_by_wide > held && f64::from(held_by_wide) > 0.99 * SEEDS as f64, "{held_by_wide}");
    // A standard deviation from 300 values is known to 1/sqrt(600) = 4 %, the ratio of two to 6 %: four of these.
    let ratio = Moments::of(&unpaired).sd() / Moments::of(&paired).sd();
    assert!((ratio / width_ratio - 1.0).abs() < 0.24, "{ratio} and {width_ratio}");
    assert!(width_ratio > 1.5, "{width_ratio}");
    // The same for the means.
    let of = at(5, UNITS).mean_difference(0, 1, 0).expect("a mean");
    assert!(of.difference.high < 0.0 && of.width_ratio.is_some_and(|factor| factor > 1.5), "{of:?}");
}
