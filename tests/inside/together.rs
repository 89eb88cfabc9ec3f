//! Models that run together give the results that each gives alone, bit for bit, whatever they share.

use crate::inside::support;
use beamyield::engine::{self, Control, Together, Watch};
use beamyield::error::Error;
use beamyield::model::Model;
use std::sync::atomic::AtomicBool;

type Run = fn(&[Model], Control, Watch) -> Result<Together, Error>;

/// All outcomes of every trial and all results, `[model]`, printed with every number to its last bit.
fn printed(models: &[Model], threads: usize, run: Run) -> Vec<String> {
    let mut all = vec![String::new(); models.len()];
    let control = Control { threads, interrupt: &AtomicBool::new(false) };
    let mut watch = |outcomes: &[engine::Outcomes]| {
        all.iter_mut().zip(outcomes).for_each(|(all, of)| *all += &format!("{of:?}\n"));
        Ok(())
    };
    let together = run(models, control, &mut watch).expect("the run ends well");
    for (all, summary) in all.iter_mut().zip(together.summaries.expect("there are trials")) {
        *all += &format!("{summary:?}");
    }
    all
}

/// The study as it is, and with each set of edits: a text and its replacement.
fn models(path: &str, edits: &[&[(&str, &str)]]) -> Vec<Model> {
    let text = std::fs::read_to_string(format!("{}/{path}", env!("CARGO_MANIFEST_DIR"))).expect(path);
    let edited = |edits: &&[(&str, &str)]| {
        let edited = edits.iter().fold(text.clone(), |text, (from, to)| {
            assert!(text.contains(from), "{from}");
            text.replacen(from, to, 1)
        });
        support::model_beside(path, &edited)
    };
    std::iter::once(support::model_beside(path, &text)).chain(edits.iter().map(edited)).collect()
}

/// Checks that models give the same together as alone; the edited models differ from the first.
fn check(path: &str, edits: &[&[(&str, &str)]], runs: &[(Run, usize)]) {
    let models = models(path, edits);
    let alone: Vec<String> = models
        .iter()
        .flat_map(|model| printed(std::slice::from_ref(model), 2, engine::run_by::<{ engine::LANES }>))
        .collect();
    for (number, edits) in edits.iter().enumerate() {
        assert!(alone[0] != alone[number + 1], "{edits:?} changes nothing");
    }
    for (run, threads) in runs {
        let together = printed(&models, *threads, *run);
        for (number, (together, alone)) in together.iter().zip(&alone).enumerate() {
            assert!(together == alone, "{path}: model {number} gives something else on {threads} threads");
        }
    }
}

const FEW: [(Run, usize); 3] =
    [(engine::run_by::<1>, 2), (engine::run_by::<16>, 1), (engine::run_by::<16>, 7)];

/// Averages, limits, the receiver, coupler and cables, the hardware, the seed.
const EVERYTHING: &[&[(&str, &str)]] = &[
    &[("averages = 8", "averages = 3")],
    &[("at_most = \"0.6 dB\"", "at_most = \"0.4 dB\"")],
    &[("averages = 2", "averages = 7"), ("at_least = \"-6 dB\"", "at_least = \"-5 dB\"")],
    &[(
        "reconnection = { gain = { normal = { sd = \"0.05 dB\" } }",
        "reconnection = { gain = { normal = { sd = \"0.2 dB\" } }",
    )],
    &[("codes = 8", "codes = 16")],
    &[(
        "length = { nominal = \"80 mm\", normal = { sd = \"0.3 mm\" } }",
        "length = { nominal = \"80 mm\", normal = { sd = \"0.6 mm\" } }",
    )],
    &[("bits = 5\nloss", "bits = 4\nloss")],
    &[("bits = 5\nloss", "bits = 6\nloss")],
    &[("bits = 5\nstep", "bits = 2\nstep")],
    &[("cosine_exponent = 0.7", "cosine_exponent = 1")],
    &[("theta = \"25 deg\"", "theta = \"28 deg\"")],
    &[("chip = 4", "chip = 2")],
    &[("seed = 5", "seed = 6")],
];

#[test]
fn any_width_and_any_threads() {
    let mut runs: Vec<(Run, usize)> = Vec::new();
    for threads in [1, 2, 7] {
        runs.extend([engine::run_by::<1> as Run, engine::run_by::<16>].map(|run| (run, threads)));
    }
    check("tests/data/everything.toml", EVERYTHING, &runs);
}

/// A bench with every defect: what it draws, what it costs, dead channels, and calibrations that seem equal but differ.
#[test]
fn on_a_bench_with_defects() {
    check(
        "tests/data/bench.toml",
        &[
            &[("allowed = 1", "allowed = 0")],
            &[("walk = \"0.3 dB\"", "walk = \"0.6 dB\"")],
            &[(
                "warm_up = { nominal = \"0.4 dB\", normal = { sd = \"0.1 dB\" } }",
                "warm_up = { nominal = \"0.4 dB\", normal = { sd = \"0.3 dB\" } }",
            )],
            &[("linearity = { nominal = 0.01, normal = { sd = 0.005 } }, ", "")],
            &[("set_up = \"5 min\"", "set_up = \"6 min\"")],
            &[("phase_imbalance = { nominal = \"4 deg\"", "phase_imbalance = { nominal = \"9 deg\"")],
            &[("probability = 0.04", "probability = 0.2")],
            &[("drive = \"-12 dBm\"", "drive = \"-10 dBm\"")],
            &[("frequencies = [\"9.8 GHz\", \"10.3 GHz\"]", "frequencies = [\"9.8 GHz\", \"10.4 GHz\"]")],
            &[("passes = 2\nrelevel", "passes = 3\nrelevel")],
        ],
        &FEW,
    );
}

/// Distributions, scopes, lots, two distributions at once, correlation; sources that are drawn when they are needed.
#[test]
fn with_every_kind_of_draw() {
    check(
        "tests/data/tolerances.toml",
        &[
            &[("coefficient = 0.4", "coefficient = 0.3")],
            &[("coefficient = 0.6", "coefficient = -0.2")],
            &[("bits = 4\nstep", "bits = 5\nstep"), ("bits = 5\nstate", "bits = 4\nstate")],
            &[("bits = 5\nstate", "bits = 6\nstate")],
            &[(
                "and = { normal = { sd = \"0.02 dB\" }, scope = \"board\" }",
                "and = { normal = { sd = \"0.1 dB\" }, scope = \"board\" }",
            )],
            &[(
                "and = { normal = { sd = \"0.02 dB\" }, scope = \"board\" }",
                "and = { normal = { sd = \"0.02 dB\" }, scope = \"chip\" }",
            )],
            &[(
                "and = { normal = { sd = \"0.1 mm\" }, scope = \"lot\" }",
                "and = { normal = { sd = \"0.2 mm\" }, scope = \"lot\" }",
            )],
            &[("lot = 50", "lot = 30")],
            &[("board = 6", "board = 4")],
            &[("noise = \"0.05 dB\"", "noise = \"0.08 dB\"")],
        ],
        &FEW,
    );
}

#[test]
fn with_blocks_and_temperatures() {
    check(
        "tests/data/blocks.toml",
        &[
            &[(
                "temperatures = [\"-20 degC\", \"25 degC\", \"60 degC\"]",
                "temperatures = [\"-20 degC\", \"25 degC\", \"70 degC\"]",
            )],
            &[("level = { nominal = \"-22 dB\"", "level = { nominal = \"-20 dB\"")],
            &[("method = \"fit\"", "method = \"peak\"")],
            &[("bits = 5\nbit_phase", "bits = 3\nbit_phase")],
            &[("at_least = \"-3 dB\"", "at_least = \"-2 dB\"")],
        ],
        &FEW,
    );
}
