//! Where the main lobe of the error-free pattern ends.

use crate::array::Array;
use crate::figure::visible::extent;
use crate::math::{TAU, scalar};
use num_complex::Complex64;

/// Distance from the beam to its first null along x and along y, in direction cosines: the first minimum of
/// the error-free pattern.
pub(super) fn null_distances(array: &Array, wavenumber: f64) -> (f64, f64) {
    let Some(lattice) = array.rectangle() else {
        let along = |position: &[f64]| first_minimum_of_all(position, &array.amplitude, wavenumber);
        return (along(&array.x), if array.is_line { f64::INFINITY } else { along(&array.y) });
    };
    let first_column: Vec<usize> = (0..lattice.rows).map(|row| row * lattice.columns).collect();
    let first_row: Vec<usize> = (0..lattice.columns).collect();
    let along_x = first_minimum(&first_row, &array.x, &array.amplitude, wavenumber);
    let along_y = if lattice.is_line() {
        f64::INFINITY
    } else {
        first_minimum(&first_column, &array.y, &array.amplitude, wavenumber)
    };
    (along_x, along_y)
}

/// Of a line of equally spaced elements around the centre.
fn first_minimum(of: &[usize], position: &[f64], amplitude: &[f64], wavenumber: f64) -> f64 {
    let power = |w: f64| {
        let sum: f64 = of.iter().map(|n| amplitude[*n] * scalar::cos(wavenumber * position[*n] * w)).sum();
        sum * sum
    };
    let aperture = of.len() as f64 * (position[of[1]] - position[of[0]]).abs();
    walk_to_minimum(power, 0.02 * TAU / (wavenumber * aperture), f64::INFINITY)
}

/// Of elements at any places; infinite where the pattern has no minimum in any direction.
fn first_minimum_of_all(position: &[f64], amplitude: &[f64], wavenumber: f64) -> f64 {
    /// Beyond it all of visible space is main lobe, wherever the beam points.
    const ACROSS_VISIBLE_SPACE: f64 = 2.0;
    let power = |w: f64| {
        let of = |(x, a): (&f64, &f64)| {
            let (sine, cosine) = scalar::sin_cos(wavenumber * x * w);
            Complex64::new(a * cosine, a * sine)
        };
        position.iter().zip(amplitude).map(of).sum::<Complex64>().norm_sqr()
    };
    let extent = extent(position);
    if extent == 0.0 {
        return f64::INFINITY;
    }
    walk_to_minimum(power, 0.02 * TAU / (wavenumber * extent), ACROSS_VISIBLE_SPACE)
}

/// Steps from the peak to the first minimum, and searches it; infinite beyond `farthest`.
fn walk_to_minimum(power: impl Fn(f64) -> f64, step: f64, farthest: f64) -> f64 {
    let mut at = step;
    while power(at + step) < power(at) {
        at += step;
        if at > farthest {
            return f64::INFINITY;
        }
    }
    // The minimum is within a step of `at`; golden-section search.
    let (mut low, mut high) = (at - step, at + step);
    let golden = (5f64.sqrt() - 1.0) / 2.0;
    for _ in 0..80 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if power(a) < power(b) { high = b } else { low = a }
    }
    (low + high) / 2.0
}
