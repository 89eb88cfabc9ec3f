//! What several tests share: running a study given as text.

use beamyield::engine::{self, Control, Summary};
use beamyield::figure::Figure;
use beamyield::io::{SourceText, render};
use beamyield::plan::{self, Plan};
use beamyield::stats::Moments;
use beamyield::study;
use std::sync::atomic::AtomicBool;

/// A study that must be right, compiled.
pub fn plan(text: &str) -> Plan {
    plan_beside("test.toml", text)
}

/// The study of a file, by its path in the project, compiled.
pub fn plan_of(path: &str) -> Plan {
    let text = std::fs::read_to_string(format!("{}/{path}", env!("CARGO_MANIFEST_DIR"))).expect(path);
    plan_beside(path, &text)
}

/// A study that must be right, compiled; the files that it names stand beside `path`.
pub fn plan_beside(path: &str, text: &str) -> Plan {
    let name = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
    let source = SourceText { name: name.into(), text: text.into() };
    match study::parse(&source) {
        Ok(study) => plan::compile(&study, text),
        Err(findings) => panic!("{}", render(&source, &findings, false)),
    }
}

/// Runs all the plan's trials on two threads.
pub fn run(plan: &Plan) -> Summary {
    let control = Control { threads: 2, interrupt: &AtomicBool::new(false) };
    let finish = engine::run(plan, control, |_| Ok(())).expect("the run ends well");
    finish.summary.expect("there are trials")
}

/// Moments of one figure for one calibration plan at one look (beam by number, frequency by number).
pub fn moments(plan: &Plan, summary: &Summary, calibration: &str, figure: Figure, look: usize) -> Moments {
    let of = summary.calibrations.iter().find(|c| c.name == calibration).expect("a calibration of the study");
    let of = of
        .figures
        .iter()
        .find(|f| plan.columns[f.column].figure == figure && plan.columns[f.column].look == look);
    of.expect("a figure of the study").moments
}
