//! How far a beam moves with the errors of its channels, by the small-error formula.

use crate::array::{Array, Direction};

/// Rms pointing error, rad, for each rad of rms phase error, along the scan (whose plane is that of the unit vector `along`)
/// and across it.
///
/// Formula: in direction cosines the beam moves by -S^-1 sum a e r/k, S = sum a r r^T, for phase errors e of channels at r
/// from the middle of their amplitudes; along the scan the angle is that over cos(theta). On a lattice x and y part, and
/// each has sqrt(sum a^2 x^2)/(k sum a x^2). Source: Rondinelli 1959 for the line (from memory); the plane is own derivation.
pub(super) fn of(array: &Array, wavenumber: f64, toward: Direction, along: (f64, f64)) -> [f64; 2] {
    let cosine = (1.0 - toward.u * toward.u - toward.v * toward.v).max(1e-9).sqrt();
    let [along_scan, across_scan] = match array.lattice {
        Some(_) => on_lattice(array, wavenumber, along),
        None => anywhere(array, wavenumber, along),
    };
    [along_scan / cosine, across_scan]
}

fn on_lattice(array: &Array, wavenumber: f64, along: (f64, f64)) -> [f64; 2] {
    let of = |position: &[f64]| {
        let pairs = || array.amplitude.iter().zip(position);
        let noise: f64 = pairs().map(|(a, x)| a * a * x * x).sum();
        let stiffness: f64 = pairs().map(|(a, x)| a * x * x).sum();
        if stiffness > 0.0 { noise.sqrt() / (wavenumber * stiffness) } else { 0.0 }
    };
    let (su, sv) = (of(&array.x), of(&array.y));
    let along_scan = ((along.0 * su).powi(2) + (along.1 * sv).powi(2)).sqrt();
    let across_scan = ((along.1 * su).powi(2) + (along.0 * sv).powi(2)).sqrt();
    [along_scan, across_scan]
}

fn anywhere(array: &Array, wavenumber: f64, along: (f64, f64)) -> [f64; 2] {
    let amplitude: f64 = array.amplitude.iter().sum();
    let middle =
        |position: &[f64]| position.iter().zip(&array.amplitude).map(|(x, a)| a * x).sum::<f64>() / amplitude;
    let (middle_x, middle_y) = (middle(&array.x), middle(&array.y));
    let places = || array.x.iter().zip(&array.y).map(|(x, y)| (x - middle_x, y - middle_y));
    let fed = || places().zip(&array.amplitude);
    let stiffness = |of: fn((f64, f64)) -> f64| fed().map(|(r, a)| a * of(r)).sum::<f64>();
    let (xx, xy, yy) = (stiffness(|r| r.0 * r.0), stiffness(|r| r.0 * r.1), stiffness(|r| r.1 * r.1));
    let determinant = xx * yy - xy * xy;
    let toward = |(u, v): (f64, f64)| {
        // A channel at r moves the beam along (u, v) by (u, v) S^-1 r; along a line only x counts.
        let (p, q) = if array.is_line {
            (u / xx, 0.0)
        } else {
            ((yy * u - xy * v) / determinant, (xx * v - xy * u) / determinant)
        };
        fed().map(|((x, y), a)| (a * (p * x + q * y)).powi(2)).sum::<f64>().sqrt() / wavenumber
    };
    [toward(along), toward((-along.1, along.0))]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::array::{Element, Layout, Taper, layout, taper};

    /// Both forms agree where both hold: on a lattice, whatever the plane.
    #[test]
    fn a_lattice_is_a_case_of_any_places() {
        let layout = Layout::Rectangular(layout::Rectangular {
            columns: 6,
            rows: 9,
            column_spacing: 0.02,
            row_spacing: 0.015,
        });
        let taper = Taper::CosinePedestal(taper::CosinePedestal { pedestal: 0.2 });
        let array = Array::new(&layout, &taper, Element { exponent: 0.0 });
        for along in [(1.0, 0.0), (0.6, 0.8), (0.0, 1.0)] {
            let (one, other) = (on_lattice(&array, 200.0, along), anywhere(&array, 200.0, along));
            for i in 0..2 {
                assert!((one[i] / other[i] - 1.0).abs() < 1e-12, "{one:?} {other:?}");
            }
        }
    }
}
