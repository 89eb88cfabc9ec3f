//! Where a trial's time goes: the whole trial and each of its steps on the 64-element line, sixteen trials at once.
//!
//! `cargo bench --bench stages`. Throughput is in trials.

use beamyield::engine::{LANES, STEPS, step_times};
use beamyield::io::read_text;
use beamyield::model::{self, Model};
use beamyield::study;
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::path::Path;

fn model_of(calibration: &str) -> Model {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/line-64.toml");
    let source = read_text(&path).expect("the study ships");
    let mut study = study::parse(&source).expect("the study is right");
    study.calibrations.retain(|model| model.name == calibration);
    model::compile(&study, &source.text)
}

fn stages(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("line-64");
    group.throughput(Throughput::Elements(LANES as u64));
    for method in ["none", "peak", "fit", "climb"] {
        let model = model_of(method);
        group.bench_function(format!("trial, {method}"), |bencher| {
            bencher.iter_custom(|batches| step_times(&model, batches).iter().sum())
        });
    }
    let model = model_of("peak");
    for (step, name) in STEPS.iter().enumerate() {
        group.bench_function(format!("{name}, peak"), |bencher| {
            bencher.iter_custom(|batches| step_times(&model, batches)[step])
        });
    }
    group.finish();
}

criterion_group!(benches, stages);
criterion_main!(benches);
