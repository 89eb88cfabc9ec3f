//! What several tests share: running a study given as text.

use beamyield::engine::{self, Control, Summary};
use beamyield::figure::Figure;
use beamyield::io::{SourceText, render};
use beamyield::model::{self, Model};
use beamyield::stats::Moments;
use beamyield::study;
use std::sync::atomic::AtomicBool;

/// A study that must be right, compiled.
pub(crate) fn model(text: &str) -> Model {
    model_beside("test.toml", text)
}

/// The study of a file, by its path in the project, compiled.
pub(crate) fn model_of(path: &str) -> Model {
    let text = std::fs::read_to_string(format!("{}/{path}", env!("CARGO_MANIFEST_DIR"))).expect(path);
    model_beside(path, &text)
}

/// A study that must be right, compiled; the files that it names stand beside `path`.
pub(crate) fn model_beside(path: &str, text: &str) -> Model {
    let name = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
    let source = SourceText { name: name.into(), text: text.into() };
    match study::parse(&source) {
        Ok(study) => model::compile(&study, text),
        Err(findings) => panic!("{}", render(&source, &findings, false)),
    }
}

/// Runs all the plan's trials on two threads.
pub(crate) fn run(model: &Model) -> Summary {
    let control = Control { threads: 2, interrupt: &AtomicBool::new(false) };
    let finish = engine::run(model, control, |_| Ok(())).expect("the run ends well");
    finish.summary.expect("there are trials")
}

/// Moments of one figure for one calibration plan at one look (beam by number, frequency by number).
pub(crate) fn moments(
    model: &Model,
    summary: &Summary,
    calibration: &str,
    figure: Figure,
    point: usize,
) -> Moments {
    let of = summary.calibrations.iter().find(|c| c.name == calibration).expect("a calibration of the study");
    let of = of
        .figures
        .iter()
        .find(|f| model.columns[f.column].figure == figure && model.columns[f.column].point == point);
    of.expect("a figure of the study").moments
}
