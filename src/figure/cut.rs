//! Patterns along a cut through the beam: for display, no figure is taken from them.

use crate::array::{Array, Direction};
use crate::figure::{BeamPoint, Depth, Field, decibels};
use crate::math::{PI, TAU, arc, elementary, scalar, single};
use multiversion::multiversion;

/// Levels below this, dB over the beam peak, are drawn as this; rounding shows from -100 dB down.
pub(super) const FLOOR_DB: f64 = -100.0;

/// Steps along a cut, deg: the widest of which there are enough to a lobe is taken.
const STEPS: [f64; 3] = [1.0, 0.5, 0.25];

/// Steps to a lobe: it is about wavelength over extent wide.
const A_LOBE: f64 = 5.0;

/// A half-circle of directions in front of the array, through the beam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Plane {
    /// Through broadside and the beam; angles count from broadside, those of a beam toward a negative theta negative.
    Scan,
    /// Across that plane; angles count from the beam.
    Across,
}

/// Directions along a cut.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Cut {
    /// The plane.
    pub plane: Plane,
    /// Angle of each direction, rad, ascending; the commanded direction is one of them.
    pub angle: Vec<f64>,
    /// The same as offsets from the commanded direction in direction cosines.
    offset: Vec<(f64, f64)>,
}

impl Cut {
    /// The cut of a line, or the two of a plane.
    pub(crate) fn through(array: &Array, point: &BeamPoint) -> Vec<Cut> {
        let planes: &[Plane] = if array.is_line { &[Plane::Scan] } else { &[Plane::Scan, Plane::Across] };
        planes.iter().map(|plane| Cut::new(array, point, *plane)).collect()
    }

    fn new(array: &Array, point: &BeamPoint, plane: Plane) -> Cut {
        let Direction { u, v } = point.toward;
        let (along, across) = (point.along, (-point.along.1, point.along.0));
        let (beam, axis) = match plane {
            Plane::Scan => (arc::asin((u * along.0 + v * along.1).clamp(-1.0, 1.0)), along),
            Plane::Across => (0.0, across),
        };
        let places = array.x.iter().zip(&array.y).map(|(x, y)| x * axis.0 + y * axis.1);
        let (low, high) = places.fold((0.0, 0.0), |(low, high), at| (f64::min(low, at), f64::max(high, at)));
        let lobe = TAU / (point.wavenumber * (high - low));
        let step = STEPS.iter().map(|degrees| degrees * (PI / 180.0)).find(|step| step * A_LOBE <= lobe);
        let step = step.unwrap_or(STEPS[STEPS.len() - 1] * (PI / 180.0));
        // A hair beyond the edge is the edge.
        let quarter = 0.5 * PI + 1e-9;
        let (first, last) =
            (((-quarter - beam) / step).ceil() as i64, ((quarter - beam) / step).floor() as i64);
        let angle: Vec<f64> = (first..=last).map(|number| beam + step * number as f64).collect();
        let offset = |angle: &f64| {
            let (sine, cosine) = scalar::sin_cos(*angle);
            match plane {
                Plane::Scan => (sine * along.0 - u, sine * along.1 - v),
                Plane::Across => (sine * across.0 + (cosine - 1.0) * u, sine * across.1 + (cosine - 1.0) * v),
            }
        };
        Cut { plane, offset: angle.iter().map(offset).collect(), angle }
    }
}

/// The radiation of the channels of W units at a beam point, kept beyond the next one.
#[derive(Clone, Debug)]
pub(crate) struct Radiated<const W: usize> {
    /// Contributions to the far field in the commanded direction, `[channel][lane]`.
    re: Vec<[f32; W]>,
    im: Vec<[f32; W]>,
    /// Power at the beam peak, linear.
    peak: [f64; W],
}

impl<const W: usize> Radiated<W> {
    /// Of a field that was taken with its pattern.
    pub(crate) fn of(field: &Field<W>) -> Radiated<W> {
        Radiated { re: field.re.clone(), im: field.im.clone(), peak: field.peak.level }
    }

    /// Levels over the beam peak of each unit in one direction of a cut, element pattern included, dB, no lower than
    /// [`FLOOR_DB`]. `phasors` are those there.
    pub(crate) fn levels(
        &self,
        array: &Array,
        point: &BeamPoint,
        cut: &Cut,
        at: usize,
        phasors: &Phasors,
    ) -> [f64; W] {
        let (u, v) = cut.offset[at];
        let element = array.element.power(Direction { u: point.toward.u + u, v: point.toward.v + v });
        let power = power(&self.re, &self.im, &phasors.cosine, &phasors.sine).map(|power| element * power);
        decibels(&power, &self.peak).map(|level| if level > FLOOR_DB { level } else { FLOOR_DB })
    }
}

impl Radiated<1> {
    /// Of the error-free array, its shifters free of steps.
    pub(crate) fn error_free(array: &Array, point: &BeamPoint) -> Radiated<1> {
        let mut field = Field::<1>::new(array);
        for (to, (command, path)) in field.phase.iter_mut().zip(point.command(array).iter().zip(&point.path))
        {
            let phase = command + f64::from(*path);
            *to = [(phase - TAU * (phase / TAU).round_ties_even()) as f32];
        }
        field.take(array, point, Depth::PATTERN);
        Radiated::of(&field)
    }
}

/// Phase of each channel in a direction over that in the commanded one, as cosine and sine.
#[derive(Clone, Debug)]
pub(crate) struct Phasors {
    cosine: Vec<f32>,
    sine: Vec<f32>,
}

impl Phasors {
    /// Those in one direction of a cut.
    pub(crate) fn at(array: &Array, point: &BeamPoint, cut: &Cut, place: usize) -> Phasors {
        let (u, v) = cut.offset[place];
        let turns = point.wavenumber / TAU;
        let zeros = || vec![0.0; array.channels()];
        let mut phasors = Phasors { cosine: zeros(), sine: zeros() };
        turn(&array.x, &array.y, turns * u, turns * v, &mut phasors.cosine, &mut phasors.sine);
        phasors
    }
}

/// Turns of so many a metre along x and y.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn turn(x: &[f64], y: &[f64], along_x: f64, along_y: f64, cosine: &mut [f32], sine: &mut [f32]) {
    for (((x, y), cosine), sine) in x.iter().zip(y).zip(cosine).zip(sine) {
        let turns = x * along_x + y * along_y;
        let rest = turns - elementary::round(turns);
        (*cosine, *sine) = single::polar(1.0, (TAU * rest) as f32);
    }
}

/// Power of the sum over the channels.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn power<const W: usize>(re: &[[f32; W]], im: &[[f32; W]], cosine: &[f32], sine: &[f32]) -> [f64; W] {
    let (mut sum_re, mut sum_im) = ([0.0f32; W], [0.0f32; W]);
    for (((re, im), cosine), sine) in re.iter().zip(im).zip(cosine).zip(sine) {
        for l in 0..W {
            sum_re[l] += re[l] * cosine - im[l] * sine;
            sum_im[l] += re[l] * sine + im[l] * cosine;
        }
    }
    let mut power = [0.0; W];
    for l in 0..W {
        let (re, im) = (f64::from(sum_re[l]), f64::from(sum_im[l]));
        power[l] = re * re + im * im;
    }
    power
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::array::{Element, Layout, Taper, layout, taper};
    use crate::figure::AtFrequency;

    fn array(layout: Layout, exponent: f64) -> Array {
        Array::new(&layout, &Taper::Uniform(taper::Uniform), Element { exponent })
    }

    fn line(count: usize) -> Array {
        let half_wavelength = 0.5 * crate::array::SPEED_OF_LIGHT / 10e9;
        array(Layout::Linear(layout::Linear { count, spacing: half_wavelength }), 0.0)
    }

    fn point(array: &Array, theta: f64, phi: f64) -> BeamPoint {
        let used_at = AtFrequency::new(array, 10e9);
        BeamPoint::new(array, 0, Direction::from_angles(theta, phi), phi, None, 10e9, &used_at)
    }

    fn pattern(array: &Array, point: &BeamPoint, cut: &Cut) -> Vec<f64> {
        let radiated = Radiated::error_free(array, point);
        let level = |at| radiated.levels(array, point, cut, at, &Phasors::at(array, point, cut, at))[0];
        (0..cut.angle.len()).map(level).collect()
    }

    /// A uniform line of N: |sin(N psi/2) / (N sin(psi/2))| with psi = pi (sin theta - sin theta0): antenna handbooks, from memory.
    #[test]
    fn the_error_free_line_is_the_closed_form() {
        let array = line(16);
        let point = point(&array, -0.6, 0.0);
        let cuts = Cut::through(&array, &point);
        assert_eq!((cuts.len(), cuts[0].plane), (1, Plane::Scan));
        for (angle, level) in cuts[0].angle.iter().zip(pattern(&array, &point, &cuts[0])) {
            let psi = PI * (scalar::sin(*angle) - scalar::sin(-0.6));
            let of =
                if psi.abs() < 1e-6 { 1.0 } else { scalar::sin(8.0 * psi) / (16.0 * scalar::sin(psi / 2.0)) };
            let expected = 20.0 * scalar::log10(of.abs().max(1e-5));
            // Near a null the rounding of single precision shows.
            assert!(
                (level - expected).abs() < 0.001 || (level < -60.0 && expected < -60.0),
                "{angle}: {level}, {expected}"
            );
        }
    }

    #[test]
    fn angles_reach_from_edge_to_edge_by_way_of_the_beam() {
        for (count, step) in [(8, 1.0), (30, 0.5), (64, 0.25), (500, 0.25)] {
            let array = line(count);
            let cut = &Cut::through(&array, &point(&array, -40.0 * PI / 180.0, 0.0))[0];
            let degrees: Vec<f64> = cut.angle.iter().map(|angle| angle.to_degrees()).collect();
            assert!((degrees[1] - degrees[0] - step).abs() < 1e-9, "{count}");
            assert!((degrees[0] + 90.0).abs() < 1e-6 && (degrees[degrees.len() - 1] - 90.0).abs() < 1e-6);
            assert!(degrees.iter().any(|angle| (angle + 40.0).abs() < 1e-9));
        }
    }

    /// Both cuts of a square array hold the beam; across the scan the beam is as wide as that of a line at broadside, since its
    /// extent there is not foreshortened.
    #[test]
    fn the_two_cuts_of_a_plane_go_through_the_beam() {
        let half_wavelength = 0.5 * crate::array::SPEED_OF_LIGHT / 10e9;
        let plane = array(
            Layout::Rectangular(layout::Rectangular {
                columns: 16,
                rows: 16,
                column_spacing: half_wavelength,
                row_spacing: half_wavelength,
            }),
            0.0,
        );
        let at = point(&plane, 50.0 * PI / 180.0, 0.0);
        let cuts = Cut::through(&plane, &at);
        let width = |cut: &Cut, pattern: &[f64]| {
            let inside = cut.angle.iter().zip(pattern).filter(|(_, level)| **level > -3.0103);
            let angles: Vec<f64> = inside.map(|(angle, _)| angle.to_degrees()).collect();
            angles[angles.len() - 1] - angles[0]
        };
        let patterns: Vec<Vec<f64>> = cuts.iter().map(|cut| pattern(&plane, &at, cut)).collect();
        for (cut, pattern) in cuts.iter().zip(&patterns) {
            let peak = pattern.iter().position(|level| level.abs() < 1e-4).expect("0 dB at the beam");
            let expected = if cut.plane == Plane::Scan { 50.0 } else { 0.0 };
            assert!((cut.angle[peak].to_degrees() - expected).abs() < 1e-6);
        }
        // 0.886 wavelength / extent = 6.34 deg at broadside; over cos 50 deg = 9.87 deg along the scan (the line's formula).
        let [along, across] = [0, 1].map(|number| width(&cuts[number], &patterns[number]));
        assert!((along - 9.87).abs() < 1.1 && (across - 6.34).abs() < 1.1, "{along}, {across}");
    }

    #[test]
    fn the_element_is_in_it_and_the_floor_holds() {
        let bare = line(8);
        let with = Array { element: Element { exponent: 1.0 }, ..bare.clone() };
        let at = point(&bare, 0.0, 0.0);
        let cut = &Cut::through(&bare, &at)[0];
        let (bare, with) = (pattern(&bare, &at, cut), pattern(&with, &point(&with, 0.0, 0.0), cut));
        for ((angle, bare), with) in cut.angle.iter().zip(&bare).zip(&with) {
            let expected = (bare + 20.0 * scalar::log10(scalar::cos(*angle).max(1e-6))).max(FLOOR_DB);
            assert!((with - expected).abs() < 0.01 || expected < -60.0, "{angle}: {with}, {expected}");
        }
        assert_eq!((with[0], with[with.len() - 1]), (FLOOR_DB, FLOOR_DB));
    }
}
