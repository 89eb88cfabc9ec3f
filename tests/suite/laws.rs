//! The distributions of deviation against samples of another library (rand_distr, over rand's small generator), by the
//! two-sample Kolmogorov-Smirnov distance; those that rand_distr draws, against quantiles by another program. False-alarm rate 1e-3 a
//! distribution with fixed seeds. And studies of all distributions and scopes, whose units do not depend on lanes and threads.

use crate::program::Folder;
use crate::support;
use beamyield::engine::{self, Control, Outcomes, Together, Watch};
use beamyield::error::Error;
use beamyield::io::{SourceText, render};
use beamyield::model::{self, Model};
use beamyield::random::{
    Arcsine, Beta, Distribution, Gamma, Gauge, Key, LogNormal, Mixture, Normal, Part, Screened, Triangular,
    TruncatedNormal, Uniform, Weibull, Window,
};
use beamyield::study;
use rand::SeedableRng;
use rand::rngs::SmallRng;
use rand_distr::{
    Beta as RandBeta, Distribution as RandDistribution, LogNormal as RandLogNormal, Normal as RandNormal,
    Triangular as RandTriangular, Uniform as RandUniform, Weibull as RandWeibull,
};
use std::sync::atomic::AtomicBool;

const COUNT: usize = 100_000;

/// Critical distance for two samples of COUNT: 1.95 sqrt(2/COUNT).
fn critical() -> f64 {
    1.95 * (2.0 / COUNT as f64).sqrt()
}

fn ours(distribution: &Distribution) -> Vec<f64> {
    let mut values = vec![[0.0; 16]; COUNT / 16];
    let mut room = vec![[0.0; 16]; values.len()];
    distribution.draw(Key::new(7, "laws"), 0, 0, &mut values, &mut room);
    values.as_flattened().iter().map(|x| f64::from(*x)).collect()
}

fn theirs(distribution: impl RandDistribution<f64>) -> Vec<f64> {
    let mut generator = SmallRng::seed_from_u64(11);
    (0..COUNT).map(|_| distribution.sample(&mut generator)).collect()
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
fn distributions_are_those_of_another_library() {
    let normal = || theirs(RandNormal::new(0.0, 0.7).expect("a distribution"));
    let uniform = || theirs(RandUniform::new(-2.0, 2.0).expect("a distribution"));
    let triangular = || theirs(RandTriangular::new(-3.0, 3.0, 0.0).expect("a distribution"));
    // A truncated distribution is the plain one with what is beyond thrown away.
    let truncated = || {
        let mut generator = SmallRng::seed_from_u64(13);
        let normal = RandNormal::new(0.0, 0.7).expect("a distribution");
        std::iter::repeat_with(|| normal.sample(&mut generator))
            .filter(|x: &f64| x.abs() <= 0.9)
            .take(COUNT)
            .collect()
    };
    // Two suppliers: a coin for each part.
    let mixed = || {
        let mut generator = SmallRng::seed_from_u64(17);
        let coin = RandUniform::new(0.0, 1.0).expect("a distribution");
        let first = RandNormal::new(0.4, 0.1).expect("a distribution");
        let second = RandUniform::new(-0.7, -0.3).expect("a distribution");
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
        let (parts, gauge) = (
            RandNormal::new(0.0, 1.0).expect("a distribution"),
            RandNormal::new(0.2, 0.3).expect("a distribution"),
        );
        let part = || (parts.sample(&mut generator), gauge.sample(&mut generator));
        let taken = std::iter::repeat_with(part).filter(|(x, error): &(f64, f64)| (x + error).abs() <= 1.5);
        taken.map(|(x, _)| x).take(COUNT).collect::<Vec<f64>>()
    };
    let (our_normal, our_uniform) = (
        |sd| Distribution::Normal(Normal::new(sd).expect("a distribution")),
        |half_width| Distribution::Uniform(Uniform::new(half_width).expect("a distribution")),
    );
    let parts = [
        Part { offset: 0.4, distribution: our_normal(0.1) },
        Part { offset: -0.5, distribution: our_uniform(0.2) },
    ];
    let screened = Screened::new(our_normal(1.0), Window::within(1.5), Gauge { bias: 0.2, sd: 0.3 })
        .expect("a distribution");
    let logarithmic = RandLogNormal::new(2.0_f64.ln(), 1.2_f64.ln()).expect("a distribution");
    let beta = RandBeta::new(0.5, 0.5).expect("a distribution");
    let weibull = RandWeibull::new(0.4, 1.5).expect("a distribution");
    let cases: [(Distribution, Vec<f64>); 9] = [
        (Distribution::Normal(Normal::new(0.7).expect("a distribution")), normal()),
        (Distribution::TruncatedNormal(TruncatedNormal::new(0.7, 0.9).expect("a distribution")), truncated()),
        (Distribution::Uniform(Uniform::new(2.0).expect("a distribution")), uniform()),
        (Distribution::Triangular(Triangular::new(3.0).expect("a distribution")), triangular()),
        (
            Distribution::LogNormal(LogNormal::new(2.0, 1.2).expect("a distribution")),
            theirs(logarithmic.map(|x| x - 2.0)),
        ),
        (
            Distribution::Arcsine(Arcsine::new(1.3).expect("a distribution")),
            theirs(beta.map(|x: f64| 2.6 * x - 1.3)),
        ),
        (Distribution::Mixture(Mixture::new(0.3, parts).expect("a distribution")), mixed()),
        (Distribution::Screened(screened), inspected()),
        (Distribution::Weibull(Weibull::new(1.5, 0.4).expect("a distribution")), theirs(weibull)),
    ];
    for (distribution, reference) in cases {
        let wider = ours(&distribution.scaled(1.1));
        let right = distance(ours(&distribution), reference.clone());
        assert!(right < critical(), "{}: {right}", distribution.name());
        // A tenth wider is found out.
        assert!(distance(wider, reference) > critical(), "{}", distribution.name());
    }
}

/// Draws that do not exceed quantiles which mpmath 1.3.0 found by bisection of the regularised incomplete functions, at 30 digits.
#[test]
fn draws_of_another_library_are_of_the_stated_distribution() {
    let gamma = |shape| Distribution::Gamma(Gamma::new(shape, 1.0).expect("a distribution"));
    let beta = |alpha, beta| Distribution::Beta(Beta::new(alpha, beta, 0.0, 1.0).expect("a distribution"));
    let cases: [(Distribution, [f64; 3]); 5] = [
        (gamma(0.5), [7.854392895485099e-5, 0.2274682115597864, 3.3174483005106076]),
        (gamma(2.0), [0.14855474025326595, 1.6783469900166607, 6.638352067993812]),
        (gamma(30.0), [18.742425764901893, 29.66733313822123, 44.18970945072466]),
        (beta(2.0, 5.0), [0.026763191142755057, 0.26444998329565996, 0.7056863283197075]),
        (beta(0.2, 3.0), [2.4953435373463972e-11, 0.00790122909086422, 0.5654972304662553]),
    ];
    for (distribution, quantiles) in cases {
        let draws = ours(&distribution);
        // Four standard errors of a count.
        let off = |factor: f64, p: f64, quantile: f64| {
            let count = draws.iter().filter(|x| **x <= factor * quantile).count() as f64;
            (count - p * COUNT as f64) / (p * (1.0 - p) * COUNT as f64).sqrt()
        };
        for (p, quantile) in [0.01, 0.5, 0.99].into_iter().zip(quantiles) {
            let found = off(1.0, p, quantile);
            assert!(found.abs() < 4.0, "{} at {p}: {found}", distribution.name());
        }
        // Deviations a fifth larger are found out.
        assert!(off(1.2, 0.5, quantiles[1]) > 4.0, "{}", distribution.name());
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
fn units_of_all_distributions_and_scopes_do_not_depend_on_lanes_or_threads() {
    let others = ["tests/data/inspections.toml", "tests/data/one_sided.toml"].map(support::model_of);
    for model in [tolerances()].into_iter().chain(others) {
        do_not_depend_on_lanes_or_threads(&model);
    }
}

fn do_not_depend_on_lanes_or_threads(model: &Model) {
    let one = figures(model, 1, |plans, control, watch| engine::run_together(plans, control, watch));
    assert!(one.iter().all(|bits| bits.len() == 120 * model.columns.len()));
    assert_eq!(one, figures(model, 3, |plans, control, watch| engine::run_together(plans, control, watch)));
    assert_eq!(one, figures(model, 2, engine::run_by::<4>));
    assert_eq!(one, figures(model, 2, engine::run_by::<1>));
}

#[test]
fn a_rebuilt_unit_shows_what_it_shares() {
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

#[test]
fn the_program_says_what_shares_a_draw() {
    let folder = Folder::with(include_str!("../data/tolerances.toml"));
    folder.put("cables.csv", include_str!("../data/cables.csv"));
    // Lines are wrapped, so words are compared with single spaces between them.
    let shown = |arguments: &[&str]| folder.done(arguments).split_whitespace().collect::<Vec<_>>().join(" ");
    let (check, unit) = (shown(&["check", "study.toml"]), shown(&["unit", "study.toml", "50"]));
    for words in [
        "within +/-0.002; drawn for each board of 6 channels",
        "drawn for each channel; and normal, sd 0.1 mm; drawn once for each lot of 50 units",
        "length and attenuation: correlated by 0.6",
        "gain: 18 dB, screened, mean off by",
        "of parts rejected; drawn for each chip of 2 channels",
        "sd 0.02 dB; drawn for each board of 6 channels, each of 4 bits",
    ] {
        assert!(check.contains(words), "{words}\n{check}");
    }
    assert!(
        unit.contains("length, lot (mm): ") && unit.contains("; drawn once for each lot of 50 units"),
        "{unit}"
    );
}
