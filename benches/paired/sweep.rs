//! A sweep of two parameters together, as `decide` runs it, against each of its models alone.

use crate::{ROUNDS, median};
use beamyield::decide::run_all;
use beamyield::engine::Control;
use beamyield::io::SourceText;
use beamyield::model::{self, Model};
use beamyield::study::{self, Trials};
use std::sync::atomic::AtomicBool;
use std::time::Instant;

/// Bits of the phase shifter.
const BITS: [u32; 6] = [3, 4, 5, 6, 7, 8];
/// Standard deviations of the cables' lengths, mm.
const SPREADS: [f64; 6] = [0.05, 0.1, 0.15, 0.25, 0.35, 0.5];
const TRIALS: u64 = 10_000;

/// Runs both ways in turn and prints the ratio of their times, for each calibration and for all of them.
pub fn compare() {
    let line = models();
    println!("calibration  alone, s  together, s  ratio");
    for name in [None, Some("none"), Some("peak"), Some("fit"), Some("climb")] {
        let models: Vec<Model> = line.iter().map(|model| only(model, name)).collect();
        let rounds: Vec<[f64; 2]> = (0..ROUNDS)
            .map(|_| {
                let alone = seconds(|| models.iter().for_each(|model| run(std::slice::from_ref(model))));
                [alone, seconds(|| run(&models))]
            })
            .collect();
        let [alone, together] = [0, 1].map(|way| median(rounds.iter().map(|round| round[way])));
        let ratio = median(rounds.iter().map(|[alone, together]| alone / together));
        println!("{:11}  {alone:8.2}  {together:11.2}  {ratio:5.2}", name.unwrap_or("all"));
    }
}

/// The line at every pair of values.
fn models() -> Vec<Model> {
    let mut models = Vec::new();
    for bits in BITS {
        for spread in SPREADS {
            let text = LINE
                .replacen("bits = 6\nbit_phase", &format!("bits = {bits}\nbit_phase"), 1)
                .replacen("sd = \"0.25 mm\"", &format!("sd = \"{spread} mm\""), 1);
            let source = SourceText { name: "line-64.toml".into(), text };
            let study = study::parse(&source).expect("the study is right");
            models.push(Model { trials: Trials::Fixed(TRIALS), ..model::compile(&study, &source.text) });
        }
    }
    models
}

/// A model with one of its calibration plans, or with all.
fn only(model: &Model, name: Option<&str>) -> Model {
    let mut model = model.clone();
    if let Some(name) = name {
        let at = model.calibrations.iter().position(|of| of.name == name).expect("a calibration of the line");
        model.calibrations = vec![model.calibrations[at].clone()];
        model.courses = vec![model.courses[at].clone()];
    }
    model
}

fn run(models: &[Model]) {
    let control = Control { threads: 1, interrupt: &AtomicBool::new(false) };
    run_all(models, control, &mut |_| ()).expect("the run ends well");
}

fn seconds(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

const LINE: &str = include_str!("../../studies/line-64.toml");
