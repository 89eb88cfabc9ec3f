//! Where a trial's time goes: the whole trial and each of its stages on the 64-element line, sixteen trials at once.
//!
//! `cargo bench --bench stages`. Throughput is in trials.

use beamyield::engine::{self, Batch, LANES, Outcomes};
use beamyield::io::read_text;
use beamyield::plan::{self, Plan};
use beamyield::study;
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;
use std::path::Path;

fn plan_of(calibration: &str) -> Plan {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/line-64.toml");
    let source = read_text(&path).expect("the study ships");
    let mut study = study::parse(&source).expect("the study is right");
    study.calibrations.retain(|plan| plan.name == calibration);
    plan::compile(&study, &source.text)
}

fn stages(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("line-64");
    group.throughput(Throughput::Elements(LANES as u64));
    for method in ["none", "peak", "fit", "climb"] {
        let plan = plan_of(method);
        let mut batch = Batch::<LANES>::new(&plan);
        group.bench_function(format!("trial, {method}"), |bencher| {
            bencher.iter(|| {
                let mut outcomes = Outcomes::new(&plan, 0);
                engine::trial(&plan, 0, LANES, &mut batch, &mut outcomes);
                black_box(outcomes)
            })
        });
        group.bench_function(format!("calibrate, {method}"), |bencher| {
            bencher.iter(|| engine::calibrate(&plan, 0, black_box(&mut batch)))
        });
    }
    let plan = plan_of("peak");
    let mut batch = Batch::<LANES>::new(&plan);
    group.bench_function("draw", |bencher| {
        bencher.iter(|| engine::draw(&plan, 0, black_box(&mut batch)));
    });
    group.bench_function("build", |bencher| bencher.iter(|| engine::build(&plan, black_box(&mut batch))));
    let look = &plan.looks[1];
    group.bench_function("steer to one beam", |bencher| {
        bencher.iter(|| engine::steer(&plan, 0, 1, look, black_box(&mut batch)));
    });
    group.bench_function("measure one beam", |bencher| {
        bencher.iter(|| engine::measure(&plan, 1, look, black_box(&mut batch)));
    });
    group.finish();
}

criterion_group!(benches, stages);
criterion_main!(benches);
