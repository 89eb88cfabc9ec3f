use crate::engine::batch::Batch;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::Outcomes;
use crate::engine::sharing::Sharing;
use crate::engine::simulated_bench::SimulatedBench;
use crate::engine::trial::trial;
use crate::engine::workspace::Workspace;
use crate::io::SourceText;
use crate::math::scalar;
use crate::model::{Model, compile};
use crate::study;
use num_complex::Complex64;
use std::ops::ControlFlow;
use std::slice;

const LINE: &str = "{ kind = \"linear\", count = 8, spacing = \"0.5 wavelength\" }";
const PLANE: &str = "{ kind = \"rectangular\", columns = 3, rows = 3, column_spacing = \"0.5 wavelength\", row_spacing = \"15.2 mm\" }";

fn model(layout: &str, element: &str) -> Model {
    let text = format!(
        r#"
title = "coupled"
seed = 4
trials = 16
frequencies = ["9.7 GHz"]
command_frequency = "10 GHz"
array = {{ layout = {layout}, taper = {{ kind = "taylor", side_lobe = "20 dB", nbar = 3 }} }}
beam = [{{ name = "aside", theta = "31 deg" }}]
block = [
    {{ name = "amplifier", kind = "amplifier", gain = {{ nominal = "20 dB", normal = {{ sd = "1 dB" }} }}, phase = {{ normal = {{ sd = "40 deg" }} }} }},
    {{ name = "shifter", kind = "phase_shifter", bits = 5, bit_phase_error = {{ normal = {{ sd = "2 deg" }} }} }},
    {{ name = "patch", kind = "element", gain = {{ normal = {{ sd = "0.2 dB" }} }}{element} }},
]
calibration = [{{ name = "none" }}]
"#
    );
    let source = SourceText { name: "coupled.toml".into(), text: text.clone() };
    compile(&study::parse(&source).unwrap(), &text)
}

/// Gain and phase of the first units of a model at its one beam point, `[channel][lane]`.
fn steered<const W: usize>(model: &Model) -> (Vec<[f32; W]>, Vec<[f32; W]>) {
    let models = slice::from_ref(model);
    let sharing = Sharing::of(models);
    let mut workspace = Workspace::<W>::new(models, &sharing);
    let _ = trial(&mut workspace, 3, W, slice::from_mut(&mut Outcomes::new(model, 3)), &mut UntilSteered);
    let Batch { field, .. } = workspace.batches.remove(0);
    (field.gain, field.phase)
}

struct UntilSteered;

impl<const W: usize> Observer<W> for UntilSteered {
    type Bench<'a> = SimulatedBench<'a, W>;

    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, W>) -> SimulatedBench<'a, W> {
        simulated
    }

    fn after(&mut self, step: Step, _: &Model, _: &mut Batch<W>) -> ControlFlow<()> {
        if let Step::Steer(_) = step { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

/// Far field of one lane toward direction cosines: the sum over the elements of contributions seen from the commanded direction.
fn far_field<const W: usize>(
    model: &Model,
    of: &(Vec<[f32; W]>, Vec<[f32; W]>),
    lane: usize,
    u: f64,
    v: f64,
) -> Complex64 {
    let point = &model.points[0];
    let contributions = (0..model.channels()).map(|n| {
        let (x, y) = (model.array.x[n], model.array.y[n]);
        let path = point.wavenumber * (x * (u - point.toward.u) + y * (v - point.toward.v));
        let size = model.array.amplitude[n] * scalar::exp(f64::from(of.0[n][lane]));
        Complex64::from_polar(size, f64::from(of.1[n][lane]) + path)
    });
    contributions.sum()
}

/// Far field of elements that couple, summed element by element and neighbour by neighbour from what the chain feeds.
fn brute_force<const W: usize>(
    model: &Model,
    fed: &(Vec<[f32; W]>, Vec<[f32; W]>),
    lane: usize,
    c: Complex64,
    columns: usize,
    (u, v): (f64, f64),
) -> Complex64 {
    let point = &model.points[0];
    let (x, y, k) = (&model.array.x, &model.array.y, point.wavenumber);
    let excitation = |n: usize| {
        let size = model.array.amplitude[n] * scalar::exp(f64::from(fed.0[n][lane]));
        let path = k * (x[n] * point.toward.u + y[n] * point.toward.v);
        Complex64::from_polar(size, f64::from(fed.1[n][lane]) - path)
    };
    let count = model.channels();
    let mut sum = Complex64::ZERO;
    for n in 0..count {
        let (row, column) = (n / columns, n % columns);
        let mut coupled = excitation(n);
        for m in 0..count {
            if row.abs_diff(m / columns) + column.abs_diff(m % columns) == 1 {
                coupled += c * excitation(m);
            }
        }
        sum += coupled * Complex64::from_polar(1.0, k * (x[n] * u + y[n] * v));
    }
    sum
}

fn check<const W: usize>(layout: &str, columns: usize) {
    let coupled = model(layout, ", coupling = { level = \"-14 dB\", phase = \"-70 deg\" }");
    let fed = steered::<W>(&model(layout, ""));
    let found = steered::<W>(&coupled);
    let c = Complex64::from_polar(scalar::exp10(-14.0 / 20.0), (-70.0f64).to_radians());
    for lane in [0, W - 1] {
        for (u, v) in [(0.0, 0.0), (0.51, 0.0), (-0.7, 0.3), (0.2, -0.9)] {
            let v = if columns == 8 { 0.0 } else { v };
            let expected = brute_force(&coupled, &fed, lane, c, columns, (u, v));
            let seen = far_field(&coupled, &found, lane, u, v);
            assert!((seen - expected).norm() < 1e-5, "{layout} {u} {v}: {seen} {expected}");
            let without = far_field(&coupled, &fed, lane, u, v);
            assert!((without - expected).norm() > 0.05, "coupling matters: {without} {expected}");
        }
    }
}

#[test]
fn the_far_field_is_that_of_a_sum_over_neighbours() {
    check::<1>(LINE, 8);
    check::<16>(LINE, 8);
    check::<1>(PLANE, 3);
    check::<16>(PLANE, 3);
}

#[test]
fn neighbours_stand_beside_one_another() {
    let coupling = ", coupling = { level = \"-20 dB\" }";
    let of = |layout| model(layout, coupling).coupling.unwrap().neighbours;
    assert_eq!(of(LINE)[..3], [vec![1], vec![0, 2], vec![1, 3]]);
    assert_eq!(of(PLANE)[3..5], [vec![0, 4, 6], vec![1, 3, 5, 7]]);
    // Rows that stand much wider than columns do not couple.
    let wide = PLANE.replace("15.2 mm", "19 mm");
    assert_eq!(of(&wide)[3..5], [vec![4], vec![3, 5]]);
    assert!(model(LINE, "").coupling.is_none());
}

#[test]
fn one_coefficient_serves_a_unit() {
    let spread = ", coupling = { level = { nominal = \"-20 dB\", normal = { sd = \"2 dB\" } } }";
    let coupled = model(LINE, spread);
    let source = coupled.sources.list().iter().find(|source| source.name == "patch.coupling.level").unwrap();
    assert_eq!((source.groups, source.slots), (1, 1));
    let (gain, _) = steered::<16>(&coupled);
    let (fed, _) = steered::<16>(&model(LINE, ", coupling = { level = \"-20 dB\" }"));
    assert!((0..16).all(|lane| gain[0][lane] != fed[0][lane]), "each unit has its own");
}
