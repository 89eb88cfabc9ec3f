//! The distributions of deviation against samples of another library (rand_distr, over rand's small generator), by the
//! two-sample Kolmogorov-Smirnov distance. False-alarm rate 1e-3 a distribution with fixed seeds. And a study of all distributions and scopes,
//! whose units do not depend on lanes and threads.

use crate::inside::support;
use beamyield::engine::{self, Control, Outcomes, Together, Watch};
use beamyield::error::Error;
use beamyield::io::{SourceText, render};
use beamyield::model::{self, Model};
use beamyield::random::{
    Arcsine, Distribution, Gauge, Key, LogNormal, Mixture, Normal, Part, Screened, Triangular,
    TruncatedNormal, Uniform, Window,
};
use beamyield::study;
use rand::SeedableRng;
use rand::rngs::SmallRng;
use rand_distr::{
    Beta as RandBeta, Distribution as RandDistribution, LogNormal as RandLogNormal, Normal as RandNormal,
    Triangular as RandTriangular, Uniform as RandUniform,
};
use std::sync::atomic::AtomicBool;

const COUNT: usize = 100_000;

/// Critical distance for two samples of COUNT: 1.95 sqrt(2/COUNT).
fn critical() -> f64 {
    1.95 * (2.0 / COUNT as f64).sqrt()
}

fn ours(shape: &Distribution) -> Vec<f64> {
    let mut values = vec![[0.0; 16]; COUNT / 16];
    let mut room = vec![[0.0; 16]; values.len()];
    shape.draw(Key::new(7, "laws"), 0, 0, &mut values, &mut room);
    values.as_flattened().iter().map(|x| f64::from(*x)).collect()
}

fn theirs(law: impl RandDistribution<f64>) -> Vec<f64> {
    let mut generator = SmallRng::seed_from_u64(11);
    (0..COUNT).map(|_| law.sample(&mut generator)).collect()
}

/// Largest distance between the two empirical distribution functions.
fn distance(mut a: Vec<f64>, mut b: Vec<f64>) -> f64 {
    a.sort_by(f64::total_cmp);
    b.sort_by(f64::total_cmp);
    let (mut i, mut j, mut largest) = (0, 0, 0.0f64);
    while i < a.len() && j < b.len() {
        if a[i] <= b[j] {
            i += 1
        } else {
            j += 1
        }
        largest = largest.max((i as f64 / a.len() as f64 - j as f64 / b.len() as f64).abs());
    }
    largest
}

#[test]
fn laws_are_those_of_another_library() {
    let normal = || theirs(RandNormal::new(0.0, 0.7).expect("a law"));
    let uniform = || theirs(RandUniform::new(-2.0, 2.0).expect("a law"));
    let triangular = || theirs(RandTriangular::new(-3.0, 3.0, 0.0).expect("a law"));
    // A truncated distribution is the plain one with what lies beyond thrown away.
    let truncated = || {
        let mut generator = SmallRng::seed_from_u64(13);
        let law = RandNormal::new(0.0, 0.7).expect("a law");
        std::iter::repeat_with(|| law.sample(&mut generator))
            .filter(|x: &f64| x.abs() <= 0.9)
            .take(COUNT)
            .collect()
    };
    // Two suppliers: a coin for each part.
    let mixed = || {
        let mut generator = SmallRng::seed_from_u64(17);
        let coin = RandUniform::new(0.0, 1.0).expect("a law");
        let first = RandNormal::new(0.4, 0.1).expect("a law");
        let second = RandUniform::new(-0.7, -0.3).expect("a law");
        let part = || {
            if coin.sample(&mut generator) < 0.3 {
                first.sample(&mut generator)
            } else {
                second.sample(&mut generator)
            }
        };
        std::iter::repeat_with(part).take(COUNT).collect::<Vec<f64>>()
    };
    // An inspection: each part is read and taken or not.
    let inspected = || {
        let mut generator = SmallRng::seed_from_u64(19);
        let (law, gauge) =
            (RandNormal::new(0.0, 1.0).expect("a law"), RandNormal::new(0.2, 0.3).expect("a law"));
        let part = || (law.sample(&mut generator), gauge.sample(&mut generator));
        let taken = std::iter::repeat_with(part).filter(|(x, error): &(f64, f64)| (x + error).abs() <= 1.5);
        taken.map(|(x, _)| x).take(COUNT).collect::<Vec<f64>>()
    };
    let (normal_law, uniform_law) = (
        |sd| Distribution::Normal(Normal::new(sd).expect("a law")),
        |half_width| Distribution::Uniform(Uniform::new(half_width).expect("a law")),
    );
    let parts = [
        Part { offset: 0.4, distribution: normal_law(0.1) },
        Part { offset: -0.5, distribution: uniform_law(0.2) },
    ];
    let screened =
        Screened::new(normal_law(1.0), Window::within(1.5), Gauge { bias: 0.2, sd: 0.3 }).expect("a law");
    let logarithmic = RandLogNormal::new(2.0_f64.ln(), 1.2_f64.ln()).expect("a law");
    let beta = RandBeta::new(0.5, 0.5).expect("a law");
    let cases: [(Distribution, Vec<f64>); 8] = [
        (Distribution::Normal(Normal::new(0.7).expect("a law")), normal()),
        (Distribution::TruncatedNormal(TruncatedNormal::new(0.7, 0.9).expect("a law")), truncated()),
        (Distribution::Uniform(Uniform::new(2.0).expect("a law")), uniform()),
        (Distribution::Triangular(Triangular::new(3.0).expect("a law")), triangular()),
        (
            Distribution::LogNormal(LogNormal::new(2.0, 1.2).expect("a law")),
            theirs(logarithmic.map(|x| x - 2.0)),
        ),
        (Distribution::Arcsine(Arcsine::new(1.3).expect("a law")), theirs(beta.map(|x: f64| 2.6 * x - 1.3))),
        (Distribution::Mixture(Mixture::new(0.3, parts).expect("a law")), mixed()),
        (Distribution::Screened(screened), inspected()),
    ];
    for (shape, reference) in cases {
        let wider = ours(&shape.scaled(1.1));
        let right = distance(ours(&shape), reference.clone());
        assert!(right < critical(), "{}: {right}", shape.name());
        // The twin: a tenth wider is found out.
        assert!(distance(wider, reference) > critical(), "{}", shape.name());
    }
}

/// The study of all distributions and scopes; it reads a file beside it.
fn tolerances() -> Model {
    let text = include_str!("../data/tolerances.toml");
    let name = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/tolerances.toml");
    let source = SourceText { name: name.into(), text: text.into() };
    match study::parse(&source) {
        Ok(study) => model::compile(&study, text),
        Err(findings) => panic!("{}", render(&source, &findings, false)),
    }
}

/// Figures of all units to the bit, `[model][trial and figure]`.
fn figures(
    model: &Model,
    threads: usize,
    run: impl FnOnce(&[Model], Control, Watch) -> Result<Together, Error>,
) -> Vec<Vec<u64>> {
    let mut bits = vec![Vec::new(); model.calibrations.len()];
    let mut watch = |outcomes: &[Outcomes]| {
        let outcomes = &outcomes[0];
        for (bits, of) in bits.iter_mut().zip(&outcomes.calibrations) {
            (0..outcomes.trials as usize).for_each(|unit| bits.extend(of.row(unit).map(f64::to_bits)));
        }
        Ok(())
    };
    let control = Control { threads, interrupt: &AtomicBool::new(false) };
    run(std::slice::from_ref(model), control, &mut watch).expect("the run ends well");
    bits
}

/// Its lots of 50 units end where no batch ends.
#[test]
fn units_of_all_laws_and_scopes_do_not_depend_on_lanes_or_threads() {
    for model in [tolerances(), support::model_of("tests/data/inspections.toml")] {
        do_not_depend_on_lanes_or_threads(&model);
    }
}

fn do_not_depend_on_lanes_or_threads(model: &Model) {
    let one = figures(model, 1, |plans, control, watch| engine::run_together(plans, control, watch));
    assert!(one.iter().all(|bits| bits.len() == 120 * model.columns.len()));
    assert_eq!(one, figures(model, 3, |plans, control, watch| engine::run_together(plans, control, watch)));
    assert_eq!(one, figures(model, 2, engine::run_by::<1>));
}

#[test]
fn a_rebuilt_unit_tells_what_it_shares() {
    let model = tolerances();
    let deviations = |trial: u64, name: &str| {
        let number = model.sources.list().iter().position(|source| source.name == name).expect(name);
        engine::rebuild(&model, trial).deviations[number].clone()
    };
    for name in ["feed.length, lot", "patch.effective_permittivity"] {
        let of = |trial| deviations(trial, name);
        assert_eq!(of(48), of(49), "{name}");
        assert_ne!(of(49), of(50), "{name}");
        assert_eq!(of(50), of(99), "{name}");
        assert_eq!(of(7)[0].len(), 1, "{name}");
    }
    let boards = deviations(3, "feed.velocity_factor");
    assert_eq!(boards[0].len(), 2);
    assert_ne!(boards[0][0], boards[0][1]);
    assert_ne!(deviations(48, "feed.length"), deviations(49, "feed.length"));
}
