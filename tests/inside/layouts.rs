//! Layouts beyond the rectangular lattice, and tapers: against direct sums, closed forms and one another.

use crate::inside::accuracy::{self, Face, value};
use crate::inside::folder::Folder;
use beamyield::engine;
use beamyield::figure::Figure;
use beamyield::io::{SourceText, render};
use beamyield::model::{self, Model, warnings};
use beamyield::study::{self, Study};

/// A sunflower spiral of 36 elements, no two rows of which are alike.
fn spiral() -> String {
    let golden = std::f64::consts::PI * (3.0 - 5f64.sqrt());
    let place = |n: u32| {
        let (radius, angle) = (9.0 * (f64::from(n) + 0.5).sqrt(), golden * f64::from(n));
        format!("{},{}\n", radius * angle.cos(), radius * angle.sin())
    };
    "x_mm,y_mm\n".to_owned() + &(0..36).map(place).collect::<String>()
}

fn text(array: &str, beams: &str) -> String {
    accuracy::text("layouts", 19, array, beams)
}

const AHEAD: &str = "[[beam]]\nname = \"a\"\ntheta = \"0 deg\"\nnull_at = \"40 deg\"\n";

const ASIDE: &str = "[[beam]]\nname = \"b\"\ntheta = \"30 deg\"\nphi = \"50 deg\"\nnull_at = \"-10 deg\"\n";

/// A study beside a file `places.csv`.
fn compiled(array: &str, beams: &str, places: &str) -> (Study, Model) {
    let folder = Folder::with("");
    folder.put("places.csv", places);
    let name = folder.path().join("study.toml").display().to_string();
    let source = SourceText { name: name.into(), text: text(array, beams) };
    match study::parse(&source) {
        Ok(study) => {
            let model = model::compile(&study, &source.text);
            (study, model)
        }
        Err(findings) => panic!("{}", render(&source, &findings, false)),
    }
}

fn error_free(model: &Model, figure: Figure) -> f64 {
    model.points[0].error_free_value(figure).expect("it exists")
}

/// The array without errors toward broadside.
fn ideal(model: &Model) -> Face {
    Face {
        x: model.array.x.clone(),
        y: model.array.y.clone(),
        re: model.array.amplitude.clone(),
        im: vec![0.0; model.channels()],
        k: model.points[0].wavenumber,
        exponent: 0.0,
    }
}

/// First minimum along an axis.
fn first_null(level: impl Fn(f64) -> f64) -> f64 {
    let step = 1e-5;
    (1..).map(|i| f64::from(i) * step).find(|w| level(w + step) > level(*w)).expect("a minimum")
}

/// Power at the beam peak.
fn peak(face: &Face, toward: (f64, f64)) -> f64 {
    let (u, v) = face.climb(toward.0, toward.1, 0.02, false);
    face.level(u, v)
}

/// Peak side lobe in dB over the beam peak by a grid far finer than any lobe and a climb from each high place. `is_main`
/// takes offsets from the beam.
fn side_lobe(face: &Face, toward: (f64, f64), is_main: &dyn Fn(f64, f64) -> bool) -> f64 {
    let count = 125;
    let step = 1.0 / f64::from(count);
    let mut top = 0.0f64;
    for j in -count..=count {
        for i in -count..=count {
            let (u, v) = (f64::from(i) * step, f64::from(j) * step);
            if u * u + v * v > 1.0 || is_main(u - toward.0, v - toward.1) {
                continue;
            }
            let here = face.level(u, v);
            if here < 0.9 * top {
                continue;
            }
            let (cu, cv) = face.climb(u, v, step, false);
            // A climb that ends in the main lobe started on its skirt, which is no lobe.
            if !is_main(cu - toward.0, cv - toward.1) {
                top = top.max(face.level(cu, cv));
            }
        }
    }
    // Along the edge of visible space a climb in steps of u and v gets stuck.
    for i in 0..20_000 {
        let (v, u) = (std::f64::consts::TAU * f64::from(i) / 20_000.0).sin_cos();
        let here = face.level(u, v);
        if here > top && face.level(0.9999 * u, 0.9999 * v) < here && !is_main(u - toward.0, v - toward.1) {
            top = here;
        }
    }
    10.0 * (top / peak(face, toward)).log10()
}

/// Mean over the side lobes in dB over the beam peak, by the middles of small squares.
fn mean_side_lobe(face: &Face, toward: (f64, f64), is_main: &dyn Fn(f64, f64) -> bool) -> f64 {
    let count = 500;
    let place = |i: i32| -1.0 + 2.0 * (f64::from(i) + 0.5) / f64::from(count);
    let places = (0..count).flat_map(|j| (0..count).map(move |i| (place(i), place(j))));
    let side = places.filter(|(u, v)| u * u + v * v <= 1.0 && !is_main(u - toward.0, v - toward.1));
    let (sum, number) = side.fold((0.0, 0.0), |(sum, number), (u, v)| (sum + face.level(u, v), number + 1.0));
    10.0 * (sum / number / peak(face, toward)).log10()
}

/// Units of arrays on no rectangular lattice against brute force: 0.01 dB for the peak side lobe, 1e-5 of the beamwidth
/// (some 0.15 rad) for the beam peak, 0.03 dB for the mean, whose grid resolves the edge of the region no better.
#[test]
fn patterns_are_those_of_direct_sums() {
    let triangular = "layout = { kind = \"triangular\", columns = 6, rows = 7, column_spacing = \"0.6 wavelength\", row_spacing = \"0.5 wavelength\" }";
    let ring = "layout = { kind = \"ring\", count = 26, radius = \"2 wavelengths\" }";
    let places = "layout = { kind = \"positions\", csv = \"places.csv\" }";
    let mut off = Vec::new();
    for (layout, is_ellipse) in [(triangular, false), (ring, true), (places, true)] {
        for element in [0.0, 0.6] {
            let array = format!("{layout}\nelement = {{ cosine_exponent = {element} }}");
            let (_, model) = compiled(&array, &(AHEAD.to_owned() + ASIDE), &spiral());
            let ideal = ideal(&model);
            let nulls = (first_null(|w| ideal.level(w, 0.0)), first_null(|w| ideal.level(0.0, w)));
            let is_main = |du: f64, dv: f64| {
                let (a, b) = (du / nulls.0, dv / nulls.1);
                if is_ellipse { a * a + b * b < 1.0 } else { a.abs() < 1.0 && b.abs() < 1.0 }
            };
            for trial in 0..4 {
                let unit = engine::rebuild(&model, trial);
                for point in 0..2 {
                    let face = Face::new(&model, &unit, point);
                    let toward = model.points[point].toward;
                    let peak = side_lobe(&face, (toward.u, toward.v), &is_main);
                    let seen = value(&model, &unit, Figure::PeakSideLobe, point);
                    let shown = format!("{array}, trial {trial}, look {point}");
                    if (seen - peak).abs() >= 0.01 {
                        off.push(format!("{shown}: {seen} against {peak}"));
                    }
                    if trial == 0 {
                        let mean = mean_side_lobe(&face, (toward.u, toward.v), &is_main);
                        let seen = value(&model, &unit, Figure::MeanSideLobe, point);
                        assert!((seen - mean).abs() < 0.03, "{shown}: mean {seen} against {mean}");
                    }

                    let (u, v) = face.climb(toward.u, toward.v, 0.02, false);
                    let chord = ((u - toward.u).powi(2)
                        + (v - toward.v).powi(2)
                        + ((1.0 - u * u - v * v).sqrt()
                            - (1.0 - toward.u.powi(2) - toward.v.powi(2)).sqrt())
                        .powi(2))
                    .sqrt();
                    let error = (2.0 * (chord / 2.0).asin()).to_degrees();
                    let seen = value(&model, &unit, Figure::PointingError, point);
                    assert!((seen - error).abs() < 1e-4, "{shown}: {seen} against {error}");
                }
            }
        }
    }
    assert!(off.is_empty(), "{off:#?}");
}

/// The field of a ring of many elements is J0(k R sin(theta)) of its peak; the first extremum of J0 is -0.40276 at 3.8317,
/// its first zero 2.4048 (Abramowitz and Stegun, table 9.5).
#[test]
fn a_ring_radiates_a_bessel_function() {
    let radius = 5.0;
    let turns = std::f64::consts::TAU * radius;
    let ring = |count: u32, theta: f64| {
        let array =
            format!("layout = {{ kind = \"ring\", count = {count}, radius = \"{radius} wavelengths\" }}");
        let beams = format!("[[beam]]\nname = \"a\"\ntheta = \"0 deg\"\nnull_at = \"{theta} deg\"\n");
        compiled(&array, &beams, "").1
    };
    for theta in [1.0, 4.0, 7.0, 11.0, 26.0, 50.0, -33.0] {
        let expected = 20.0 * libm::j0(turns * f64::to_radians(theta).sin()).abs().log10();
        let seen = error_free(&ring(128, theta), Figure::NullDepth);
        assert!((seen - expected).abs() < 1e-3, "{theta}: {seen} against {expected}");
    }
    let null = (2.404_825_557_7 / turns).asin().to_degrees();
    let model = ring(128, null);
    assert!(error_free(&model, Figure::NullDepth) < -100.0);
    let lobe = error_free(&model, Figure::PeakSideLobe);
    assert!((lobe - 20.0 * 0.402_76f64.log10()).abs() < 0.002, "{lobe}");
    assert!((lobe + 7.90).abs() < 0.005, "{lobe}");
    // Half power where J0 is 1/sqrt(2), by halving.
    let (mut inside, mut outside) = (0.0, 2.0);
    for _ in 0..60 {
        let middle = (inside + outside) / 2.0;
        if libm::j0(middle) > 0.5f64.sqrt() { inside = middle } else { outside = middle }
    }
    let width = model.points[0].error_free.beamwidth.expect("it has one");
    assert!((width - 2.0 * (inside / turns).asin()).abs() < 1e-6, "{width}");
    // The twin: elements more than a wavelength apart make lobes that J0 has not.
    let lobe = error_free(&ring(24, null), Figure::PeakSideLobe);
    assert!(lobe > -7.0, "{lobe}");
}

/// The same elements listed in a file give the figures of the layout: of a plane all but the mean over a region of another
/// shape, of a line all.
#[test]
fn listed_positions_are_as_good_as_a_lattice() {
    let spacing = 15.0;
    let list = |columns: u32, rows: u32| {
        let row =
            |j| (0..columns).map(move |i| format!("{},{}\n", f64::from(i) * spacing, f64::from(j) * spacing));
        "x_mm,y_mm\n".to_owned() + &(0..rows).flat_map(row).collect::<String>()
    };
    let plane = "layout = { kind = \"rectangular\", columns = 8, rows = 6, column_spacing = \"15 mm\", row_spacing = \"15 mm\" }";
    let line = "layout = { kind = \"linear\", count = 20, spacing = \"15 mm\" }";
    let listed = "layout = { kind = \"positions\", csv = \"places.csv\" }";
    let aside = "[[beam]]\nname = \"b\"\ntheta = \"-30 deg\"\nnull_at = \"-10 deg\"\n";
    for (layout, places, aside) in [(plane, list(8, 6), ASIDE), (line, list(20, 1), aside)] {
        for element in ["0", "0.6"] {
            let beams = AHEAD.to_owned() + aside;
            let array = |layout: &str| format!("{layout}\nelement = {{ cosine_exponent = {element} }}");
            let (_, one) = compiled(&array(layout), &beams, "");
            let (_, other) = compiled(&array(listed), &beams, &places);
            assert_eq!(one.columns, other.columns);
            for trial in 0..16 {
                let (a, b) = (engine::rebuild(&one, trial), engine::rebuild(&other, trial));
                for (number, column) in one.columns.iter().enumerate() {
                    let beamwidth = one.points[column.point].error_free.beamwidth.expect("it has one");
                    let bound = match column.figure {
                        Figure::PointingError | Figure::BeamwidthChange => 1e-5 * beamwidth.to_degrees(),
                        Figure::MeanSideLobe if layout == plane => continue,
                        Figure::MeanSideLobe => 0.02,
                        _ => 1e-3,
                    };
                    let (a, b) = (a.calibrations[0].values[number], b.calibrations[0].values[number]);
                    assert!((a - b).abs() < bound, "{}: {a} against {b}", column.figure.name());
                }
            }
        }
    }
}

/// Side lobe and aperture efficiency of the cosine aperture, -23.0 dB and 8/pi^2 (tables of antenna handbooks, from
/// memory), and of the uniform one at the other end.
#[test]
fn a_cosine_on_a_pedestal() {
    let model = |pedestal: f64| {
        let array = format!(
            "layout = {{ kind = \"linear\", count = 800, spacing = \"0.5 wavelength\" }}\ntaper = {{ kind = \"cosine_pedestal\", pedestal = {pedestal} }}"
        );
        compiled(&array, AHEAD, "").1
    };
    let efficiency = |model: &Model| {
        let sum: f64 = model.array.amplitude.iter().sum();
        let squares: f64 = model.array.amplitude.iter().map(|a| a * a).sum();
        sum * sum / (model.channels() as f64 * squares)
    };
    let cosine = model(0.0);
    let lobe = error_free(&cosine, Figure::PeakSideLobe);
    assert!((lobe + 23.0).abs() < 0.05, "{lobe}");
    let expected = 8.0 / std::f64::consts::PI.powi(2);
    assert!((efficiency(&cosine) - expected).abs() < 1e-5, "{}", efficiency(&cosine));
    let uniform = model(1.0);
    assert!((error_free(&uniform, Figure::PeakSideLobe) + 13.26).abs() < 0.01);
    assert_eq!(efficiency(&uniform), 1.0);
    let half = model(0.5);
    assert!(efficiency(&half) > efficiency(&cosine) + 0.05 && efficiency(&half) < 1.0);
}

/// Rows and columns of a triangular lattice take their places of the line of half spacings.
#[test]
fn a_taper_runs_over_a_triangular_lattice() {
    let array = "layout = { kind = \"triangular\", columns = 5, rows = 4, column_spacing = \"16 mm\", row_spacing = \"14 mm\" }\ntaper = { kind = \"cosine_pedestal\", pedestal = 0.25 }";
    let (_, model) = compiled(array, AHEAD, "");
    let cosine = |x: f64| 0.25 + 0.75 * (std::f64::consts::PI * x).cos();
    // Ten places a half spacing (8 mm) apart along x, four rows 14 mm apart along y.
    let expected: Vec<f64> = (0..20)
        .map(|n| cosine(model.array.x[n] / (10.0 * 0.008)) * cosine(model.array.y[n] / (4.0 * 0.014)))
        .collect();
    let largest = expected.iter().fold(0.0, |a: f64, b| a.max(*b));
    for n in 0..20 {
        assert!((model.array.amplitude[n] - expected[n] / largest).abs() < 1e-12, "channel {n}");
    }
    // Row by row; the odd rows half a spacing farther.
    assert!((model.array.x[5] - model.array.x[0] - 0.008).abs() < 1e-15);
    assert!((model.array.x[10] - model.array.x[0]).abs() < 1e-15);
    assert!((model.array.y[5] - model.array.y[0] - 0.014).abs() < 1e-15);
}

/// An element of a triangular lattice may have 2/sqrt(3) = 1.1547 times the area of one of a square lattice that scans as far
/// without a grating lobe (Sharp 1961, from memory).
#[test]
fn a_triangular_lattice_takes_fewer_elements() {
    let all_around: String = (0..72)
        .map(|i| format!("[[beam]]\nname = \"{i}\"\ntheta = \"30 deg\"\nphi = \"{} deg\"\n", 5 * i))
        .collect();
    let wavelength: f64 = 299.792_458 / 10.0;
    // A square lattice scans to theta in all planes with spacings up to wavelength/(1 + sin(theta)).
    let side = wavelength / 1.5;
    let area = |times: f64| times * side * side;
    let warned = |kind: &str, dx: f64, dy: f64| {
        let array = format!(
            "layout = {{ kind = \"{kind}\", columns = 3, rows = 4, column_spacing = \"{dx} mm\", row_spacing = \"{dy} mm\" }}"
        );
        let (study, model) = compiled(&array, &all_around, "");
        warnings(&study, &model).iter().filter(|of| of.message.contains("grating lobe")).count()
    };
    let square = |times: f64| warned("rectangular", area(times).sqrt(), area(times).sqrt());
    // Equal sides: rows sqrt(3)/2 of the column spacing apart.
    let triangular = |times: f64| {
        let dx = (area(times) / (3f64.sqrt() / 2.0)).sqrt();
        warned("triangular", dx, dx * 3f64.sqrt() / 2.0)
    };
    assert_eq!(square(0.999), 0);
    assert!(square(1.001) > 0);
    assert!(square(1.15) > 0);
    assert_eq!(triangular(1.1547 * 0.999), 0);
    assert!(triangular(1.1547 * 1.001) > 0);
}

/// The lattice that the warning advises is one that it does not warn of, and not much smaller than need be.
#[test]
fn what_a_triangular_lattice_is_advised_helps() {
    let warning = |dx: f64, dy: f64| {
        let array = format!(
            "layout = {{ kind = \"triangular\", columns = 3, rows = 4, column_spacing = \"{dx} mm\", row_spacing = \"{dy} mm\" }}"
        );
        let (study, model) = compiled(&array, ASIDE, "");
        let found = warnings(&study, &model).into_iter().find(|of| of.message.contains("grating lobe"));
        found.map(|of| of.help.expect("help"))
    };
    let help = warning(31.0, 27.0).expect("a warning");
    let numbers: Vec<f64> = help.split_whitespace().filter_map(|word| word.parse().ok()).collect();
    assert_eq!(numbers.len(), 2, "{help}");
    assert_eq!(warning(0.9999 * numbers[0], 0.9999 * numbers[1]), None, "{help}");
    assert!(warning(1.001 * numbers[0], 1.001 * numbers[1]).is_some(), "{help}");
}

/// Four elements far apart on a ring have second beams, many close together have none.
#[test]
fn lobes_as_high_as_the_beam_are_warned_of_on_any_layout() {
    let warned = |count: u32| {
        let array = format!("layout = {{ kind = \"ring\", count = {count}, radius = \"2 wavelengths\" }}");
        let (study, model) = compiled(&array, AHEAD, "");
        warnings(&study, &model).iter().any(|of| of.message.contains("below it at 10 GHz"))
    };
    assert!(warned(4));
    assert!(!warned(40));
}

const STUDIES: [(&str, &str); 3] = [
    ("triangular", include_str!("../data/layouts/triangular.toml")),
    ("ring", include_str!("../data/layouts/ring.toml")),
    ("spiral", include_str!("../data/layouts/spiral.toml")),
];

fn folder_of(study: &str) -> Folder {
    let folder = Folder::with(study);
    folder.put("spiral.csv", include_str!("../data/layouts/spiral.csv"));
    folder.put("spiral-amplitudes.csv", include_str!("../data/layouts/spiral-amplitudes.csv"));
    folder
}

/// Whatever the batch, the bits of every figure.
#[test]
fn lanes_do_not_matter_on_any_layout() {
    for (name, study) in STUDIES {
        let folder = folder_of(study);
        let source = SourceText { name: folder.path().join("study.toml"), text: study.into() };
        let study = study::parse(&source).unwrap_or_else(|_| panic!("{name} is right"));
        let model = model::compile(&study, &source.text);
        let alone = crate::inside::determinism::outcomes_by::<1>(&model, 2);
        assert_eq!(alone, crate::inside::determinism::outcomes(&model, 2), "{name}");
        let all_numbers = alone.iter().flatten().flat_map(|row| &row.values);
        assert!(all_numbers.map(|bits| f64::from_bits(*bits)).all(f64::is_finite), "{name}");
    }
}
