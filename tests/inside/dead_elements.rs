//! Dead channels whose elements pick up what their neighbours radiate.

use crate::inside::check_values::case::{Beam, Case, line, normal};
use crate::inside::check_values::row::{LimitResult, row};
use crate::inside::support;
use beamyield::engine::{Summary, rebuild};
use beamyield::figure::Figure;

/// Figures of the channels and of the field.
const FIGURES: &[Figure] =
    &[Figure::ResidualPhaseRms, Figure::ResidualAmplitudeRms, Figure::ArrayGainLoss, Figure::EirpChange];

/// 16 elements, one in twenty dead, all of which a unit may have; `coupling` are the lines of the element.
fn case(coupling: &str) -> Case {
    Case {
        seed: 8,
        trials: 40_000,
        figures: FIGURES,
        array: format!("{}\ndead_channel = {{ probability = 0.05, allowed = 16 }}", line(16)),
        beams: vec![Beam { u: 20.0f64.to_radians().sin(), null: None }],
        gain: normal(0.5, "dB"),
        amplifier: format!("phase = {}", normal(5.0, "deg")),
        blocks: format!("[[block]]\nname = \"patch\"\nkind = \"element\"\n{coupling}"),
        ..Case::default()
    }
}

fn coupled(level: &str) -> Case {
    case(&format!("coupling = {{ level = \"{level}\", phase = \"40 deg\" }}"))
}

fn found(case: &Case, figure: Figure) -> LimitResult {
    let model = case.model();
    LimitResult::mean(&support::moments(&model, &support::run(&model), "it", figure, 0))
}

#[test]
fn figures_are_those_of_an_independent_program() {
    // tests/data/first_principles/dead_and_coupled.py, NumPy, 400,000 units: means and how far they may be off, four of that program's
    // standard errors. 12 bits of the shifter add less than 1e-4 deg.
    let [none, some] = [case(""), coupled("-20 dB")];
    let of = |id: &'static str, printed: &str, error: f64| row(id, printed).within(4.0 * error);
    of("phase, no coupling", "4.74896", 0.00142).is_met_by(found(&none, Figure::ResidualPhaseRms));
    of("amplitude, no coupling", "0.47458", 0.00014).is_met_by(found(&none, Figure::ResidualAmplitudeRms));
    of("loss, no coupling", "0.27493", 0.00041).is_met_by(found(&none, Figure::ArrayGainLoss));
    of("EIRP, no coupling", "-0.47845", 0.00084).is_met_by(found(&none, Figure::EirpChange));

    let phase = found(&some, Figure::ResidualPhaseRms);
    of("phase, -20 dB", "4.80765", 0.00145).is_met_by(phase);
    let amplitude = found(&some, Figure::ResidualAmplitudeRms);
    of("amplitude, -20 dB", "0.51027", 0.00016).is_met_by(amplitude);
    let loss = found(&some, Figure::ArrayGainLoss);
    of("loss, -20 dB", "0.24857", 0.00036).is_met_by(loss);
    let eirp = found(&some, Figure::EirpChange);
    of("EIRP, -20 dB", "0.10870", 0.00084).is_met_by(eirp);

    // Twins: residuals that count dead channels, and a field without what couples through their elements.
    of("phase, dead ones counted", "9.67314", 0.0103).is_missed_by(phase);
    of("amplitude, dead ones counted", "3.82973", 0.00874).is_missed_by(amplitude);
    of("loss, nothing through dead elements", "0.27757", 0.00041).is_missed_by(loss);
    of("EIRP, nothing through dead elements", "0.07769", 0.00089).is_missed_by(eirp);
}

/// What every figure of every unit is off from what it is without coupling, at most.
fn off(coupling: &str) -> Vec<f64> {
    let of = |coupling| {
        let model = Case { trials: 500, ..case(coupling) }.model();
        (0..500).map(|trial| rebuild(&model, trial).calibrations[0].values.clone()).collect::<Vec<_>>()
    };
    let (none, some) = (of(""), of(coupling));
    let off = |column: usize| {
        let pairs = none.iter().zip(&some);
        pairs.map(|(none, some)| (none[column] - some[column]).abs()).fold(0.0, f64::max)
    };
    (0..FIGURES.len()).map(off).collect()
}

#[test]
fn weak_coupling_tends_to_none() {
    // A pickup c moves a phase by 2 c at most and a gain by 2 * 8.69 c dB: 1e-5 of amplitude at -100 dB moves figures by less than
    // 0.002 deg and 0.0002 dB, with 16 channels that move together included; at -150 dB single precision is all that is left, 1e-4 deg
    // and 1e-5 dB of sizes of some tens.
    for (level, degrees, db) in [("-100 dB", 2e-3, 4e-4), ("-150 dB", 1e-4, 2e-5), ("-200 dB", 1e-4, 2e-5)] {
        let [phase, amplitude, loss, eirp] = off(&format!("coupling = {{ level = \"{level}\" }}"))[..] else {
            panic!("four figures")
        };
        assert!(
            phase < degrees && amplitude < db && loss < db && eirp < db,
            "{level}: {phase} {amplitude} {loss} {eirp}"
        );
    }
    // The twin: coupling that is not weak is seen.
    assert!(off("coupling = { level = \"-30 dB\" }").iter().all(|off| *off > 2e-3));
}

/// Mean and small-error prediction of a figure of the one calibration.
fn predicted(case: &Case, figure: Figure) -> (f64, f64) {
    let model = case.model();
    let summary: Summary = support::run(&model);
    let figures = &summary.calibrations[0].figures;
    let of = figures.iter().find(|of| model.columns[of.column].figure == figure).expect("a column");
    (of.moments.mean, of.predicted_mean.expect("a prediction"))
}

#[test]
fn predictions_leave_dead_channels_out_whatever_couples() {
    // The formula for loss takes the errors of living channels and the share P of them; a pickup of -100 dB must not turn the
    // dead ones into channels of -100 dB.
    let [(mean, none), (_, some)] = ["", "coupling = { level = \"-100 dB\" }"]
        .map(|coupling| predicted(&case(coupling), Figure::ArrayGainLoss));
    assert!((none - some).abs() < 1e-4, "{none} {some}");
    // The mean of decibels is above the formula's decibels of means: 9 % of it with a channel in twenty dead.
    assert!((none / mean - 1.0).abs() < 0.15, "{none} for {mean}");
}
