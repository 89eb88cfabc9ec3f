//! Same seed, same answer, bit for bit: for all threads, lanes, orders, and other blocks of the chain.

use crate::inside::support;
use beamyield::engine::{self, Control, Failure, Outcomes, Together, Watch};
use beamyield::error::Error;
use beamyield::model::Model;
use beamyield::study::Trials;
use std::sync::atomic::AtomicBool;

/// Every feature that could depend on width or order: two frequencies, chip and unit scopes, errors by bit and by
/// state, all methods, a fixture with draws of its own, a noisy receiver with a floor.
const STUDY: &str = include_str!("../data/everything.toml");

/// Every kind of block, several temperatures, elements that couple.
const BLOCKS: &str = include_str!("../data/blocks.toml");

/// Every way to calibrate, on a bench with every defect.
const BENCH: &str = include_str!("../data/bench.toml");

/// The outcome of a trial for one calibration plan, to the bit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    pub values: Vec<u64>,
    seconds: u64,
    passes: bool,
    first_missed: Option<usize>,
    failure: Option<Failure>,
}

/// Rows of all trials, `[plan][trial]`.
pub(super) fn outcomes(model: &Model, threads: usize) -> Vec<Vec<Row>> {
    collect(model, threads, |models, control, watch| engine::run_together(models, control, watch))
}

/// The same, W trials at a time.
pub(super) fn outcomes_by<const W: usize>(model: &Model, threads: usize) -> Vec<Vec<Row>> {
    collect(model, threads, engine::run_by::<W>)
}

fn collect(
    model: &Model,
    threads: usize,
    run: impl FnOnce(&[Model], Control, Watch) -> Result<Together, Error>,
) -> Vec<Vec<Row>> {
    let mut all = vec![Vec::new(); model.calibrations.len()];
    let control = Control { threads, interrupt: &AtomicBool::new(false) };
    let mut next = 0;
    let mut watch = |outcomes: &[Outcomes]| {
        let outcomes = &outcomes[0];
        assert_eq!(outcomes.first_trial, next, "outcomes come in trial order");
        next += outcomes.trials;
        for (all, of) in all.iter_mut().zip(&outcomes.calibrations) {
            all.extend((0..outcomes.trials as usize).map(|unit| Row {
                values: of.row(unit).map(f64::to_bits).collect(),
                seconds: of.seconds()[unit].to_bits(),
                passes: of.passes(unit),
                first_missed: of.first_missed(unit),
                failure: of.failure(unit),
            }));
        }
        Ok(())
    };
    run(std::slice::from_ref(model), control, &mut watch).expect("the run ends well");
    all
}

#[test]
fn threads_do_not_matter() {
    for study in [STUDY, BENCH] {
        let model = support::model(study);
        let one = outcomes(&model, 1);
        for threads in [2, 7] {
            assert_eq!(one, outcomes(&model, threads), "{threads} threads");
        }
    }
}

#[test]
fn lanes_do_not_matter() {
    for study in [STUDY, BLOCKS, BENCH] {
        let model = support::model(study);
        let all = outcomes(&model, 2);
        assert_eq!(all, outcomes_by::<1>(&model, 2), "one lane");
    }
}

#[test]
fn a_block_without_spread_does_not_matter() {
    let model = support::model(STUDY);
    let added = r#"
[[block]]
name = "bulkhead feedthrough"
kind = "cable"
length = { nominal = "25 mm", normal = { sd = "0 mm" } }
velocity_factor = 0.69
attenuation = "3 dB/m"
dielectric_attenuation = "1 dB/m"
phase_temperature = "-50 ppm/K"

[[block]]
name = "strip"
kind = "microstrip"
length = "31 mm"
width = "0.5 mm"
height = { nominal = "0.25 mm", uniform = { half_width = "0 mm" } }
permittivity = 3.7
thickness = "35 um"
loss_tangent = 0.003
roughness = "1 um"

[[block]]
name = "joint"
kind = "connector"
vswr_in = 1.3
vswr_out = 1.5
phase = "77 deg"
length = "30 mm"
velocity_factor = 0.7

[[block]]
name = "tree"
kind = "divider"
loss = "3 dB"
gain = "0.2 dB"
phase = "5 deg"

[[block]]
name = "horn"
kind = "element"
gain = "0.3 dB"

[[block]]
name = "first"
"#;
    let more = STUDY.replacen("[[block]]\nname = \"first\"\n", added, 1);
    assert_ne!(more, STUDY);
    let more = support::model(&more);
    assert_eq!(outcomes(&model, 2), outcomes(&more, 2));
}

#[test]
fn another_calibration_plan_does_not_matter() {
    for study in [STUDY, BENCH] {
        let model = support::model(study);
        let all = outcomes(&model, 2);
        for (number, of_all) in all.iter().enumerate() {
            let mut alone = model.clone();
            alone.calibrations = vec![model.calibrations[number].clone()];
            alone.courses = vec![model.courses[number].clone()];
            let alone = outcomes(&alone, 2);
            assert_eq!(std::slice::from_ref(of_all), alone, "{}", model.calibrations[number].name);
        }
    }
}

/// Negative control: another seed, and another name of a source, give other units.
#[test]
fn seed_and_names_do_matter() {
    let model = support::model(STUDY);
    let units = outcomes(&model, 2);
    for (from, to) in [("seed = 5", "seed = 6"), ("name = \"first\"", "name = \"other\"")] {
        let changed = STUDY.replacen(from, to, 1);
        assert_ne!(changed, STUDY);
        assert_ne!(units, outcomes(&support::model(&changed), 2));
    }
}

#[test]
fn a_rebuilt_unit_is_the_unit_of_the_run() {
    for (study, trials) in [(STUDY, [0, 1, 37, 199]), (BENCH, [0, 1, 17, 35])] {
        let model = support::model(study);
        let all = outcomes(&model, 2);
        for trial in trials {
            let unit = engine::rebuild(&model, trial);
            for (of_run, rebuilt) in all.iter().zip(&unit.calibrations) {
                let of_run = &of_run[trial as usize];
                let values: Vec<u64> = rebuilt.values.iter().map(|value| value.to_bits()).collect();
                assert_eq!(of_run.values, values, "trial {trial}");
                assert_eq!(of_run.seconds, rebuilt.seconds.to_bits());
                assert_eq!(of_run.failure, rebuilt.failure);
                assert_eq!(of_run.first_missed, rebuilt.met.iter().position(|met| !met));
            }
        }
    }
}

/// FNV-1a, 64 bits, of the outcomes of the first 64 trials.
fn fingerprint(path: &str) -> u64 {
    let mut model = support::model_of(path);
    model.trials = Trials::Fixed(64);
    let words = outcomes(&model, 2).into_iter().flatten().flat_map(|row| {
        let mut words = row.values;
        words.push(row.seconds);
        words
    });
    words.flat_map(u64::to_le_bytes).fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

/// The first two computed with 512-bit, 256-bit and plain 128-bit vector instructions of x86-64 and on aarch64, the others with
/// 256-bit and plain ones, all alike. Other numbers are a value-breaking change, or a processor whose bits differ.
#[test]
fn the_bits_are_those_of_every_processor() {
    let pinned = [
        ("studies/line-64.toml", 0x42cc_2935_f00c_8320),
        ("studies/quay-link-16.toml", 0xf8a9_b1a5_4b1f_6928),
        ("studies/tile-8x8.toml", 0x4ba1_8438_d48c_c226),
        ("tests/data/everything.toml", 0x6cd8_249c_9951_d163),
        ("studies/avalanche-ridge-12.toml", 0x50b4_7c78_a4a7_a907),
        ("studies/bench-minutes.toml", 0x8782_8c41_8867_d7f5),
        ("studies/bird-radar-ring-20.toml", 0xc276_8052_bfb1_ed72),
        ("studies/cable-limit.toml", 0xbc2a_492b_c376_9fbc),
        ("studies/gravel-belt-16.toml", 0x5870_a305_1744_1db3),
        ("studies/hare-watch-10.toml", 0xf710_350b_d1c6_f312),
        ("studies/livestock-gate-12.toml", 0x8d6f_5c12_655f_61ac),
        ("studies/lock-gate-20.toml", 0x2aa7_d28a_90a6_1e94),
        ("tests/data/bench.toml", 0xde18_e4b8_83bc_346f),
        ("tests/data/blocks.toml", 0x7280_47b0_61ac_2f55),
        ("tests/data/inspections.toml", 0x5224_677d_17d0_4cde),
        ("tests/data/states.toml", 0x12ac_a523_87df_d128),
        ("tests/data/tolerances.toml", 0x6f65_5b94_4d2b_8381),
    ];
    let found = pinned.map(|(path, _)| (path, fingerprint(path)));
    let differ: Vec<String> = found
        .iter()
        .zip(&pinned)
        .filter(|(found, pinned)| found != pinned)
        .map(|((path, found), _)| format!("{path} {found:#x}"))
        .collect();
    assert!(differ.is_empty(), "{differ:#?}");
}
