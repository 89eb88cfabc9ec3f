//! The predictions of `check`: tolerances propagated to a channel, and the expected residuals of each plan.

use crate::inside::support::{model, model_of, moments, run};
use beamyield::bench::method::Sweep;
use beamyield::bench::{Align, Comparison, Fixture, Method, Pairing, Pairs, Readout, Receiver};
use beamyield::engine::{Cause, Contribution, Expected, expect, nominal_gain_db, propagate};
use beamyield::figure::Figure;
use beamyield::model::Model;
use beamyield::random::{Grouping, Sources};
use beamyield::study::Trials;

const LIGHT: f64 = 299_792_458.0;
const NEPERS_A_DB: f64 = std::f64::consts::LN_10 / 20.0;

/// A chain with one tolerance of each kind that a hand formula knows.
const CHAIN: &str = r#"
title = "Hand formulas"
seed = 1
trials = 100
frequencies = ["10 GHz"]
temperatures = ["25 degC", "65 degC"]

[array]
layout = { kind = "linear", count = 8, spacing = "15 mm" }
chip = 2

[[beam]]
name = "ahead"
theta = "0 deg"

[[block]]
name = "line"
kind = "trace"
length = { nominal = "40 mm", uniform = { half_width = "0.1 mm" } }
effective_permittivity = { nominal = 2.9, normal = { sd = 0.02 } }
attenuation = { nominal = "20 dB/m", normal = { sd = "1 dB/m" } }

[[block]]
name = "driver"
kind = "amplifier"
gain = { nominal = "20 dB", normal = { sd = "0.5 dB" }, scope = "chip" }
phase = { normal = { sd = "6 deg" }, scope = "unit" }

[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 5
loss = "6 dB"
bit_phase_error = { normal = { sd = "1 deg" } }

[[block]]
name = "attenuator"
kind = "attenuator"
bits = 3
step = "0.5 dB"
state_gain_error = { normal = { sd = "0.2 dB" } }

[[block]]
name = "plug"
kind = "connector"
vswr_in = 1.5
vswr_out = 2.0

[[block]]
name = "jumper"
kind = "cable"
length = { nominal = "100 mm", normal = { sd = "0.2 mm" } }
velocity_factor = 0.7
attenuation = "2 dB/m"
phase_temperature = { nominal = "-40 ppm/K", normal = { sd = "100 ppm/K" } }

[bench]
temperature = "25 degC"
reference_plane = { after = "attenuator" }

[[calibration]]
name = "none"
"#;

/// Standard deviation of a channel by one source: deg, dB.
fn of(model: &Model, found: &[Contribution], source: &str) -> [f64; 2] {
    let number = model.sources.list().iter().position(|of| of.name == source).expect(source);
    let channel = found.iter().find(|of| of.source == number).expect(source).channel;
    [channel.phase.sqrt().to_degrees(), channel.gain.sqrt() / NEPERS_A_DB]
}

/// Hand formulas, each the derivative of a block's own times the distribution's standard deviation (JCGM 100:2008, 5.1.2), and A6.2 for two
/// reflections at any distance: (20/ln 10) p/sqrt(2) dB and p/sqrt(2) rad, p = 1/15.
#[test]
fn tolerances_do_what_hand_formulas_say() {
    let model = model(CHAIN);
    let found = propagate(&model, 273.15 + 65.0);
    let root = 2.9f64.sqrt();
    let turn = 360.0 * 10e9 / LIGHT;
    let uniform = 0.1e-3 / 3f64.sqrt();
    let p = 1.0 / 15.0 / 2f64.sqrt();
    for (source, degrees, db) in [
        ("line.length", turn * root * uniform, 20.0 * uniform),
        ("line.effective_permittivity", turn * 0.04 * 0.02 / (2.0 * root), 0.0),
        ("line.attenuation", 0.0, 0.04),
        ("driver.gain", 0.0, 0.5),
        ("driver.phase", 6.0, 0.0),
        // Five bits, each on half the time.
        ("shifter.bit_phase_error", 2.5f64.sqrt(), 0.0),
        ("attenuator.state_gain_error", 0.0, 0.2),
        ("plug.phase", p.to_degrees(), p / NEPERS_A_DB),
        ("jumper.length", turn * 0.2e-3 / 0.7, 2.0 * 0.2e-3),
        ("jumper.phase_temperature", turn * 0.1 / 0.7 * 100e-6 * 40.0, 0.0),
    ] {
        let [phase, gain] = of(&model, &found, source);
        assert!((phase - degrees).abs() < 2e-3 * degrees + 1e-4, "{source}: {phase} not {degrees} deg");
        assert!((gain - db).abs() < 2e-3 * db + 1e-5, "{source}: {gain} not {db} dB");
        // Negative control: the wrong temperature, and a cable in air, are seen.
        if source.starts_with("jumper") {
            assert!((phase - 0.7 * degrees).abs() > 0.1 * degrees, "{source}");
        }
    }
    let [cold, _] = of(&model, &propagate(&model, 298.15), "jumper.phase_temperature");
    assert!(cold < 1e-9, "{cold}");
    // -20 x 0.04, 20, -6, 0, 0, -2 x 0.1 dB.
    assert!((nominal_gain_db(&model) - 13.0).abs() < 1e-12);
    // By what channels of a unit differ: all of eight, four chips of two, one unit.
    let differs = |source: &str| {
        let number = model.sources.list().iter().position(|of| of.name == source).expect(source);
        found.iter().find(|of| of.source == number).expect(source).differs
    };
    assert_eq!([differs("line.length"), differs("driver.gain"), differs("driver.phase")], [0.875, 0.75, 0.0]);
}

/// Residuals from an independent error of each pair (check values of pairings for 16 channels, in s^2: 0.87891, 2.6562, 0.058594), and
/// how errors of states spread over 12: traces of the matrices that make phases of differences, NumPy 2.4.6, those of all pairs by
/// `linalg.pinv`.
#[test]
fn pairings_pass_errors_on_as_their_matrices_do() {
    let receiver = Receiver {
        noise_db: 0.1,
        averages: 1,
        resolution_db: 0.0,
        floor_db: None,
        noise_floor_db: None,
        saturation_db: None,
    };
    let readout = Readout::new(&receiver, 0.0);
    let grouping = Grouping { channels: 16, chip: 1, board: None, lot: None };
    let fixture = Fixture::read(None).bind(&mut Sources::new(1, grouping));
    let sweep = Sweep::new(64, 16);
    let one = Method::Fit.variance(&sweep, &readout).expect("a formula");
    for (pairing, own, crossed, mixed) in [
        (Pairing::Star, 0.87891, 1.680_556, 0.840_278),
        (Pairing::Chain, 2.6562, 0.916_667, 1.986_111),
        (Pairing::AllPairs, 0.058594, 0.916_667, 0.331_019),
    ] {
        let pairs = Pairs { method: Method::Fit, sweep: sweep.clone(), pairing, swaps_arms: false };
        let align = Align { comparison: Comparison::Pairs(pairs), reference: 3 };
        let left = align.leaves(16, &receiver, &readout, &fixture);
        let found = left.readings.expect("a formula") / one;
        assert!((found - own).abs() < 1e-4 * own + 5e-6, "{pairing:?}: {found} not {own}");
        let (a, b) = align.mixes(12);
        assert!((a - crossed).abs() < 1e-6 && (b - mixed).abs() < 1e-6, "{pairing:?}: {a}, {b}");
        // Negative control: independent errors in every channel.
        assert!((found - 15.0 / 16.0).abs() > 0.05, "{pairing:?}");
    }
}

/// Root mean square residual phase (deg) and amplitude (dB) of a run at the beam point of a case, each with its standard error.
fn of_run(model: &Model, summary: &beamyield::engine::Summary, case: &Expected) -> Vec<(Figure, f64, f64)> {
    let point = (0..model.points.len()).find(|number| {
        let point = &model.points[*number];
        point.beam == case.beam
            && point.frequency == model.at_bench.command_frequency
            && model.conditions_of(*number).temperature == case.temperature
    });
    let point = point.expect("a beam point at the command frequency");
    let figures = [Figure::ResidualPhaseRms, Figure::ResidualAmplitudeRms];
    let there = figures.into_iter().filter(|figure| {
        model.columns.iter().any(|column| column.figure == *figure && column.point == point)
    });
    let of = |figure: Figure| {
        let name = &model.calibrations[case.calibration].name;
        let of = moments(model, summary, name, figure, point);
        let square = of.mean * of.mean + of.sd() * of.sd();
        (figure, square.sqrt(), of.standard_error())
    };
    there.map(of).collect()
}

/// Expected value of a figure in a case, without one cause where one is named.
fn expected(case: &Expected, figure: Figure, without: Option<Cause>) -> f64 {
    let parts = case.left.iter().filter(|part| Some(part.cause) != without);
    match figure {
        Figure::ResidualPhaseRms => parts.map(|part| part.size.phase).sum::<f64>().sqrt().to_degrees(),
        _ => parts.map(|part| part.size.gain).sum::<f64>().sqrt() / NEPERS_A_DB,
    }
}

/// The cause with the largest part of a figure.
fn largest(case: &Expected, figure: Figure) -> Option<Cause> {
    let size = |part: &&beamyield::engine::Part| match figure {
        Figure::ResidualPhaseRms => part.size.phase,
        _ => part.size.gain,
    };
    case.left.iter().max_by(|a, b| size(a).total_cmp(&size(b))).map(|part| part.cause)
}

/// The bound: first order leaves this part of the residual open, besides four standard errors.
const OPEN: f64 = 0.06;

/// Compares every case of a study whose formulas are complete with a run; returns the number of figures compared.
fn hold(path: &str, trials: u64) -> usize {
    let mut model = model_of(path);
    model.trials = Trials::Fixed(trials);
    let summary = run(&model);
    let mut held = 0;
    let mut wrong = Vec::new();
    for case in expect(&model) {
        let name = &model.calibrations[case.calibration].name;
        let beam = &model.beams[case.beam].name;
        for (figure, found, error) in of_run(&model, &summary, &case) {
            let said = expected(&case, figure, None);
            let line = format!(
                "{path} {name}, {beam}, {:.0} K, {}: expected {said:.4}, run {found:.4} +/- {error:.4} {:?}",
                case.temperature,
                figure.name(),
                case.no_formula
            );
            eprintln!("{line}");
            if !case.no_formula.is_empty() {
                continue;
            }
            let bound = OPEN * found + 4.0 * error + 1e-4;
            if (said - found).abs() > bound {
                wrong.push(line);
                continue;
            }
            held += 1;
            // Negative control: without its largest cause the formula misses.
            let without_largest = expected(&case, figure, largest(&case, figure));
            assert!(
                (without_largest - found).abs() > bound || found < 1e-3,
                "{line}: {without_largest} passes as well"
            );
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    held
}

#[test]
fn expected_residuals_are_those_of_runs() {
    let held: usize = [
        ("studies/quay-link-16.toml", 1500),
        ("studies/line-64.toml", 400),
        ("studies/cable-limit.toml", 1500),
        ("studies/bench-minutes.toml", 1500),
        ("studies/livestock-gate-12.toml", 1500),
        ("studies/hare-watch-10.toml", 1500),
        ("studies/tile-8x8.toml", 400),
    ]
    .into_iter()
    .map(|(path, trials)| hold(path, trials))
    .sum();
    assert!(held >= 40, "{held} figures held");
}
