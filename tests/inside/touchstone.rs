//! Touchstone files that a general-purpose library wrote, against the numbers that it read back from them; and units whose
//! shifters and attenuators have the measured values.

use crate::inside::folder::{Folder, edited};
use beamyield::bench::Of;
use beamyield::engine::{self, Control, Outcomes};
use beamyield::io::touchstone::{Scattering, TwoPort};
use beamyield::io::{Findings, SourceText, read_text, render};
use beamyield::model::{self, Model};
use beamyield::study;
use num_complex::Complex64;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/touchstone")
}

fn two_port(name: &str) -> TwoPort {
    let source = Arc::new(read_text(&folder().join(name)).expect("a file of the tests"));
    let findings = Findings::default();
    let found = TwoPort::read(&findings, source.clone());
    found.unwrap_or_else(|| panic!("{}", render(&source, &findings.into_vec(), false)))
}

fn numbers(of: &Value) -> Vec<f64> {
    of.as_array().expect("a list").iter().map(|number| number.as_f64().expect("a number")).collect()
}

/// The largest difference of a file's parameters from those that the other reader found.
fn largest_difference(found: &TwoPort, expected: &Value) -> f64 {
    let of = |key: &str, take: fn(&Scattering) -> Complex64| {
        let pairs = expected[key].as_array().expect("a list");
        assert_eq!(pairs.len(), found.parameters.len());
        let pairs = pairs.iter().map(numbers).map(|pair| Complex64::new(pair[0], pair[1]));
        pairs.zip(&found.parameters).map(|(pair, here)| (take(here) - pair).norm()).fold(0.0, f64::max)
    };
    [of("s11", |s| s.s11), of("s21", |s| s.s21), of("s12", |s| s.s12), of("s22", |s| s.s22)]
        .into_iter()
        .fold(0.0, f64::max)
}

/// Source: scikit-rf 2.2.0, see the folder's README. A few roundings of numbers up to 8.
#[test]
fn numbers_are_those_that_another_reader_finds() {
    let text = fs::read_to_string(folder().join("read_back.json")).expect("the numbers");
    let all: Value = serde_json::from_str(&text).expect("the numbers");
    let all = all.as_object().expect("files");
    assert!(all.len() > 10);
    for (name, expected) in all {
        let found = two_port(name);
        let frequencies = numbers(&expected["frequency"]);
        assert_eq!(found.frequencies.len(), frequencies.len(), "{name}");
        for (here, there) in found.frequencies.iter().zip(&frequencies) {
            assert!((here - there).abs() <= 1e-15 * there, "{name}: {here}, {there}");
        }
        let difference = largest_difference(&found, expected);
        assert!(difference < 1e-14, "{name}: {difference}");
    }
    // Negative control: the two transmissions differ.
    let mut swapped = two_port("amplifier.s2p");
    swapped.parameters.iter_mut().for_each(|s| std::mem::swap(&mut s.s21, &mut s.s12));
    assert!(largest_difference(&swapped, &all["amplifier.s2p"]) > 1e-2);
}

/// The study of the tests, with some parts replaced, beside its files.
fn model(edits: &[(&str, &str)]) -> Model {
    let path = folder().join("../states.toml");
    let text = edited(&read_text(&path).expect("the study").text, edits);
    let source = SourceText { name: path, text };
    let study = study::parse(&source).unwrap_or_else(|found| panic!("{}", render(&source, &found, false)));
    model::compile(&study, &source.text)
}

/// Bits of all values of all units, for every calibration plan.
fn outcomes(model: &Model) -> Vec<u64> {
    let control = Control { threads: 2, interrupt: &AtomicBool::new(false) };
    let mut all = Vec::new();
    let watch = |outcomes: &Outcomes| {
        for of in &outcomes.calibrations {
            all.extend((0..outcomes.trials as usize).flat_map(|unit| of.row(unit)).map(f64::to_bits));
        }
        Ok(())
    };
    engine::run(model, control, watch).expect("the run ends well");
    assert!(all.iter().all(|bits| f64::from_bits(*bits).is_finite()));
    all
}

#[test]
fn lanes_do_not_matter() {
    let model = model(&[("trials = 64", "trials = 16")]);
    let sixteen = outcomes(&model);
    // One batch each, so that the order is the same.
    let one: Vec<Vec<Vec<f64>>> = (0..16)
        .map(|trial| {
            engine::rebuild(&model, trial).calibrations.into_iter().map(|unit| unit.values).collect()
        })
        .collect();
    let of_one =
        (0..model.calibrations.len()).flat_map(|number| one.iter().flat_map(move |unit| &unit[number]));
    assert_eq!(sixteen, of_one.map(|value| value.to_bits()).collect::<Vec<u64>>());
}

const CSV: &str = "states = { csv = \"attenuator_states.csv\" }\n";

const PARTS: &str = "states = { touchstone = \"touchstone/shifter_{code:2}.s2p\" }\n";

/// Measured tables take effect: each changes the results, and none the draws.
#[test]
fn measured_states_are_those_of_the_units() {
    let with = outcomes(&model(&[]));
    for left_out in [CSV, PARTS] {
        assert_ne!(with, outcomes(&model(&[(left_out, "")])), "{left_out}");
    }
    let (with, without) =
        (engine::rebuild(&model(&[]), 3), engine::rebuild(&model(&[(CSV, ""), (PARTS, "")]), 3));
    assert_eq!(with.deviations, without.deviations);
}

/// Gain, dB, and phase, deg, of four states at 9 and at 11 GHz.
const TABLE: [[[f64; 2]; 4]; 2] = [
    [[-7.0, 20.0], [-7.6, 113.0], [-6.5, 204.0], [-7.2, 283.0]],
    [[-8.0, 10.0], [-8.2, 97.0], [-8.9, 187.0], [-8.1, 284.0]],
];

/// A state at a frequency, relative to state 0 and by straight lines: dB, deg.
fn relative(code: u64, ghz: f64) -> [f64; 2] {
    let weight = (ghz - 9.0) / 2.0;
    [0, 1].map(|i| {
        let at =
            |code: u64| (1.0 - weight) * TABLE[0][code as usize][i] + weight * TABLE[1][code as usize][i];
        at(code) - at(0)
    })
}

/// Every reading of the bench and every channel of a beam is that of the measured state at its frequency, and of the code
/// that a part with stuck bits takes. Source: own derivation.
#[test]
fn bench_and_beam_meet_the_measured_states() {
    let mut csv = "code,frequency_mhz,gain_db,phase_deg\n".to_owned();
    for (mhz, states) in [9000, 11000].into_iter().zip(TABLE) {
        for (code, [gain, phase]) in states.into_iter().enumerate() {
            csv += &format!("{code},{mhz},{gain},{phase}\n");
        }
    }
    let text = "title = \"t\"\nseed = 1\ntrials = 1\nfrequencies = [\"9.5 GHz\", \"10.6 GHz\"]\n\
        command_frequency = \"10 GHz\"\nfigures = [\"residual_amplitude_rms\"]\n[array]\n\
        layout = { kind = \"linear\", count = 16, spacing = \"15 mm\" }\n[[beam]]\nname = \"b\"\ntheta = \"17 deg\"\n\
        [[block]]\nname = \"s\"\nkind = \"phase_shifter\"\nbits = 2\nstuck_bit = 0.2\n\
        states = { csv = \"t.csv\" }\n[[calibration]]\nname = \"it\"\nalign = { method = \"fit\", codes = 4 }\n";
    let folder = Folder::with(text);
    folder.put("t.csv", csv);
    let source = read_text(&folder.path().join("study.toml")).expect("the study");
    let study = study::parse(&source).unwrap_or_else(|found| panic!("{}", render(&source, &found, false)));
    let model = model::compile(&study, &source.text);
    let mut forced = 0;
    for trial in 0..4 {
        let unit = engine::rebuild(&model, trial);
        let mut taken = |channel: usize, code: u64| {
            let taken = (0..2).fold(code, |code, bit| match unit.deviations[0][bit][channel] {
                1.0 => code | 1 << bit,
                -1.0 => code & !(1 << bit),
                _ => code,
            });
            forced += u32::from(taken != code);
            taken
        };
        let of = &unit.calibrations[0];
        assert_eq!(of.readings.len(), 15 * 4);
        for reading in &of.readings {
            let mut signal = |channel, code| {
                let [db, degrees] = relative(taken(channel, code), 10.0);
                Complex64::from_polar(10f64.powf(db / 20.0), degrees.to_radians())
            };
            let Of::Pair { pair, turned: 0 } = reading.of else { panic!("a pair: {reading:?}") };
            let sum = signal(pair.reference, 0) + signal(pair.stepped, u64::from(reading.code));
            let level = 10.0 * (sum.norm_sqr() / 2.0).log10();
            // Roundings of single precision, which count for more the more the two cancel.
            let most = 1e-5 + 2e-5 / sum.norm();
            assert!((f64::from(reading.level_db) - level).abs() < most, "{reading:?}: {level}");
        }
        for (point, ghz) in [9.5, 10.6].into_iter().enumerate() {
            let codes = of.shifter[point].iter().enumerate();
            let gains: Vec<f64> =
                codes.map(|(channel, code)| relative(taken(channel, u64::from(*code)), ghz)[0]).collect();
            let mean = gains.iter().sum::<f64>() / 16.0;
            let rms = (gains.iter().map(|gain| (gain - mean).powi(2)).sum::<f64>() / 16.0).sqrt();
            assert!((of.values[point] - rms).abs() < 1e-5, "{ghz} GHz: {} for {rms}", of.values[point]);
            assert!(rms > 0.05);
        }
    }
    assert!(forced > 50, "{forced}");
}
