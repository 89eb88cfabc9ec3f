//! Beams held against the error-free one of the same look, and what is known of that one.

use crate::inside::check_values::case::{Beam, Case, each_unit, normal};
use crate::inside::check_values::row::{LimitResult, row};
use crate::inside::support;
use beamyield::engine::rebuild;
use beamyield::figure::{Figure, directivities};
use beamyield::model::Model;
use beamyield::stats::Moments;

/// A study of one beam and one source of errors; the beam's and the array's lines, and the frequencies.
fn model(array: &str, beam: &str, phase_deg: f64, trials: u64, frequencies: &str) -> Model {
    support::model(&format!(
        r#"
title = "shift"
seed = 12
trials = {trials}
frequencies = {frequencies}
command_frequency = "10 GHz"
figures = ["pointing_error", "pointing_shift", "pointing_shift_across"]
[array]
{array}
[[beam]]
name = "it"
{beam}
[[block]]
name = "amplifier"
kind = "amplifier"
gain = "0 dB"
phase = {}
[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 12
[[calibration]]
name = "none"
"#,
        normal(phase_deg, "deg")
    ))
}

const LINE: &str = "layout = { kind = \"linear\", count = 8, spacing = \"0.5 wavelength\" }\nelement = { cosine_exponent = 1.0 }";

const PLANE: &str = "layout = { kind = \"rectangular\", columns = 6, rows = 5, column_spacing = \"0.5 wavelength\", row_spacing = \"0.55 wavelength\" }\nelement = { cosine_exponent = 0.8 }";

const AT_10_GHZ: &str = "[\"10 GHz\"]";

/// Rms over the units of a column.
fn rms(model: &Model, figure: Figure) -> LimitResult {
    let column = model.columns.iter().position(|of| of.figure == figure).expect("a column");
    let mut squares = Moments::default();
    each_unit(model, |values| squares.push(values[column] * values[column]));
    LimitResult::root(&squares)
}

fn error_free(model: &Model, figure: Figure) -> LimitResult {
    LimitResult::exactly(model.points[0].error_free_value(figure).expect("a value"))
}

#[test]
fn shifts_are_those_of_an_independent_program() {
    // tests/data/first_principles/beams.py, NumPy: peaks by Newton's method, 200,000 and 60,000 units; deg, four of its standard errors. The
    // pull of the elements is the whole of the error-free pointing error.
    let line = model(LINE, "theta = \"45 deg\"", 8.0, 40_000, AT_10_GHZ);
    row("line, pull", "-1.952959").within(2e-4).is_met_by(error_free(&line, Figure::PointingError));
    let along = row("line, along", "0.489866").within(4.0 * 0.000776);
    along.is_met_by(rms(&line, Figure::PointingShift));
    // The twin: held against the command, the pull is in it.
    along.is_missed_by(rms(&line, Figure::PointingError));

    let plane = model(PLANE, "theta = \"30 deg\"\nphi = \"50 deg\"", 10.0, 15_000, AT_10_GHZ);
    row("plane, pull", "1.280947").within(2e-4).is_met_by(error_free(&plane, Figure::PointingError));
    let (along, across) = (rms(&plane, Figure::PointingShift), rms(&plane, Figure::PointingShiftAcross));
    row("plane, along", "0.385642").within(4.0 * 0.001107).is_met_by(along);
    row("plane, across", "0.342482").within(4.0 * 0.000997).is_met_by(across);
    // The twins: the axes exchanged.
    row("plane, across", "0.342482").within(4.0 * 0.000997).is_missed_by(along);
    row("plane, along", "0.385642").within(4.0 * 0.001107).is_missed_by(across);
    for model in [line, plane] {
        let shifts = model.columns.iter().filter(|of| of.figure != Figure::PointingError);
        for of in shifts {
            assert_eq!(
                model.points[of.point].error_free_value(of.figure),
                Some(0.0),
                "nothing moves the error-free beam"
            );
        }
    }
}

#[test]
fn the_axes_of_a_plane_are_those_of_the_handbooks() {
    // A2.10, in-plane rms deg: s/(k d) sqrt(12/(nx ny (nx^2 - 1))). Carver 1973 (derived). Linear formula: 1 % at 10 deg. 4 rows
    // of 16: 0.08631 along x, and along y the same form with 4 and 16 exchanged, 0.35588.
    let array = "layout = { kind = \"rectangular\", columns = 16, rows = 4, column_spacing = \"0.5 wavelength\", row_spacing = \"0.5 wavelength\" }";
    let [x, y] = [("A2.10 16x4", "0.08631"), ("A2.10 16x4, along y", "0.35588")];
    for (phi, along, across) in [("0 deg", x, y), ("90 deg", y, x)] {
        let model = model(array, &format!("theta = \"0 deg\"\nphi = \"{phi}\""), 10.0, 4_000, AT_10_GHZ);
        let found = [Figure::PointingShift, Figure::PointingShiftAcross].map(|figure| rms(&model, figure));
        row(along.0, along.1).within_share(0.01).is_met_by(found[0]);
        row(across.0, across.1).within_share(0.01).is_met_by(found[1]);
        row(along.0, along.1).within_share(0.01).is_missed_by(found[1]);
    }
}

/// Values of a unit: pointing error, shift along, shift across.
fn values(model: &Model, trial: u64, point: usize) -> [f64; 3] {
    let unit = rebuild(model, trial);
    [Figure::PointingError, Figure::PointingShift, Figure::PointingShiftAcross].map(|figure| {
        let column = model.columns.iter().position(|of| of.figure == figure && of.point == point);
        column.map_or(0.0, |column| unit.calibrations[0].values[column])
    })
}

#[test]
fn a_shift_is_what_is_left_of_the_pointing_error() {
    // On a line angles add up: the error against the command is the error-free beam's own, pull and squint, and the shift, sign
    // and all.
    let line = model(LINE, "theta = \"-40 deg\"", 8.0, 8, "[\"9.6 GHz\", \"10 GHz\", \"10.4 GHz\"]");
    for point in 0..3 {
        let of_beam = line.points[point].error_free_value(Figure::PointingError).expect("a value");
        assert!(of_beam.abs() > 0.2, "{of_beam}");
        let mut largest = 0.0f64;
        for trial in 0..8 {
            let [error, shift, _] = values(&line, trial, point);
            assert!((error - of_beam - shift).abs() < 1e-9, "{error} {of_beam} {shift}");
            largest = largest.max(shift.abs());
        }
        assert!(largest > 0.1, "{largest}");
    }
    // On a plane whose error-free beam points as commanded both axes and the whole angle make a right-angled triangle on the sphere.
    let array = PLANE.lines().next().expect("a layout");
    let plane = model(array, "theta = \"0 deg\"\nphi = \"25 deg\"", 10.0, 8, AT_10_GHZ);
    for trial in 0..8 {
        let [error, along, across] = values(&plane, trial, 0);
        let whole = (along.to_radians().cos() * across.to_radians().cos()).acos().to_degrees();
        assert!((whole - error).abs() < 1e-4, "{along} {across} {error}");
        assert!(along.abs() > 1e-3 && across.abs() > 1e-3);
    }
}

#[test]
fn figures_that_are_not_asked_for_are_not_taken() {
    let text = Case { beams: vec![Beam { u: 0.5, null: None }], ..Case::default() }.text();
    let line = text.lines().find(|line| line.starts_with("figures")).expect("figures");
    let usual = support::model(&text.replacen(line, "", 1));
    let is_shift = |figure: Figure| figure.name().starts_with("pointing_shift");
    assert!(usual.columns.iter().any(|of| of.figure == Figure::PointingError));
    assert!(!usual.columns.iter().any(|of| is_shift(of.figure)));
    let limited =
        text.replacen(line, "", 1) + "[[limit]]\nfigure = \"pointing_shift\"\nat_most = \"0.1 beamwidth\"\n";
    let limited = support::model(&limited);
    let [limit] = &limited.limits[..] else { panic!("one limit") };
    assert_eq!(limited.columns[limit.column].figure, Figure::PointingShift);
    assert!(limit.on_size);
    // A line points in one plane.
    assert!(!limited.columns.iter().any(|of| of.figure == Figure::PointingShiftAcross));
}

#[test]
fn directivities_are_those_of_a_sum_over_directions() {
    // tests/data/first_principles/beams.py, NumPy: power at the peak over the mean of 500,000 directions, linear; elements of cos^q radiate into
    // the half-space in front, isotropic ones all around. To the last digit printed, but for what the peak is off.
    let plane = |q: f64| PLANE.replace("0.8", &format!("{q:?}"));
    let aside = "theta = \"30 deg\"\nphi = \"50 deg\"";
    let line = |spacing: f64| {
        format!("layout = {{ kind = \"linear\", count = 16, spacing = \"{spacing} wavelength\" }}")
    };
    let tapered = "layout = { kind = \"linear\", count = 12, spacing = \"0.55 wavelength\" }\ntaper = { kind = \"cosine_pedestal\", pedestal = 0.0 }\nelement = { cosine_exponent = 0.65 }";
    let square = "layout = { kind = \"rectangular\", columns = 8, rows = 8, column_spacing = \"0.5 wavelength\", row_spacing = \"0.5 wavelength\" }\nelement = { cosine_exponent = 0.5 }";
    let found = |array: &str, beam: &str| {
        let model = model(array, beam, 0.0, 1, AT_10_GHZ);
        LimitResult::exactly(directivities(&model.array, &[&model.points[0]])[0])
    };
    for (id, array, beam, expected) in [
        ("line", line(0.5), "theta = \"0 deg\"", "16.0000000"),
        ("line, scanned", line(0.6), "theta = \"30 deg\"", "18.7778313"),
        ("line, cosine taper, q 0.65", tapered.to_owned(), "theta = \"40 deg\"", "37.2983447"),
        ("plane, q 0", plane(0.0), aside, "38.0271215"),
        ("plane, q 0.8", plane(0.8), aside, "94.6266113"),
        ("square, q 0.5", square.to_owned(), "theta = \"0 deg\"", "201.3059249"),
        ("plane, q 2.3", plane(2.3), aside, "108.3371215"),
    ] {
        row(id, expected).within_share(2e-7).is_met_by(found(&array, beam));
    }
    // The twin: another element.
    row("plane, q 0.8", "94.6266113").within_share(2e-7).is_missed_by(found(&plane(0.81), aside));
}
