//! Directivity of the error-free array.

use crate::array::Array;
use crate::figure::Look;
use crate::math::scalar;
use num_complex::Complex64;

/// Steps of z by which the coupling between two elements is followed, from [`START`] on.
const STEP: f64 = 0.02;
const START: f64 = 0.5;

impl Look {
    /// Directivity at the error-free beam peak: power a solid angle there over the mean over the whole sphere, linear.
    ///
    /// An isotropic element (q = 0) radiates all around, one with an amplitude of cos^q into the half-space in front alone.
    /// Formula: with excitations x_n, D = D_e |sum x_n e^(j k r_n.u)|^2 cos^2q(t) / sum_nm x_n x_m* K(k |r_n - r_m|), where D_e = 2 (2 q + 1) is
    /// that of one element (1 for q = 0), and K the mean of its power times e^(j k r.u) over all directions, over that at r = 0:
    /// K(z) = Gamma(q + 3/2) (2/z)^(q + 1/2) J_(q + 1/2)(z); for q = 0 it is sin z / z, which makes
    /// N^2/(N + 2 sum (N - m) sinc(2 m d) cos(k d m u)) of a uniform line. Source: own derivation by Sonine's first integral; the line as
    /// in handbooks (from memory).
    pub fn directivity(&self, array: &Array) -> f64 {
        let [u, v] = self.error_free.peak;
        let k = self.wavenumber;
        let places = || array.x.iter().zip(&array.y);
        let excitation: Vec<Complex64> = array
            .amplitude
            .iter()
            .zip(&self.command)
            .map(|(a, phase)| a * Complex64::new(scalar::cos(*phase), scalar::sin(*phase)))
            .collect();
        let toward_peak = |(x, y): (&f64, &f64)| {
            let way = k * (x * u + y * v);
            Complex64::new(scalar::cos(way), scalar::sin(way))
        };
        let field: Complex64 = excitation.iter().zip(places().map(toward_peak)).map(|(x, e)| x * e).sum();
        let reach = places().map(|(x, y)| (x * x + y * y).sqrt()).fold(0.0, f64::max);
        let q = array.element.exponent;
        let shared = Shared::new(q, 2.0 * k * reach);
        let mut radiated = 0.0;
        for n in 0..array.channels() {
            let mut half = excitation[n] * 0.5;
            for m in 0..n {
                let (x, y) = (array.x[n] - array.x[m], array.y[n] - array.y[m]);
                half += excitation[m] * shared.at(k * (x * x + y * y).sqrt());
            }
            radiated += 2.0 * (excitation[n].conj() * half).re;
        }
        let of_element = if q == 0.0 { 1.0 } else { 2.0 * (2.0 * q + 1.0) };
        of_element * field.norm_sqr() * self.peak_element / radiated
    }
}

/// K(z): how much of their radiated power two elements share, z = k times their distance. It follows
/// K'' + (2 q + 2)/z K' + K = 0 from K(0) = 1.
struct Shared {
    q: f64,
    /// K and K' from [`START`] on, [`STEP`] apart.
    values: Vec<[f64; 2]>,
}

impl Shared {
    /// Up to some z.
    fn new(q: f64, farthest: f64) -> Shared {
        let mut shared = Shared { q, values: Vec::new() };
        let rise = |z: f64, [value, slope]: [f64; 2]| [slope, -value - (2.0 * q + 2.0) / z * slope];
        let (mut z, mut at) = (START, shared.series(START));
        shared.values.push(at);
        while z < farthest + STEP {
            // Runge-Kutta of fourth order: off by some 1e-9 after a hundred wavelengths.
            let along = |by: f64, rise: [f64; 2]| [at[0] + by * rise[0], at[1] + by * rise[1]];
            let a = rise(z, at);
            let b = rise(z + STEP / 2.0, along(STEP / 2.0, a));
            let c = rise(z + STEP / 2.0, along(STEP / 2.0, b));
            let d = rise(z + STEP, along(STEP, c));
            at = [0, 1].map(|i| at[i] + STEP / 6.0 * (a[i] + 2.0 * (b[i] + c[i]) + d[i]));
            z = START + STEP * shared.values.len() as f64;
            shared.values.push(at);
        }
        shared
    }

    /// K and K' near 0: sum of (-z^2/4)^m / (m! (q + 3/2) ... (q + 1/2 + m)).
    fn series(&self, z: f64) -> [f64; 2] {
        let (mut term, mut sum) = (1.0, [1.0, 0.0]);
        for m in 1..12 {
            let count = f64::from(m);
            term *= -z * z / 4.0 / (count * (self.q + 0.5 + count));
            sum = [sum[0] + term, sum[1] + 2.0 * count * term / z.max(f64::MIN_POSITIVE)];
        }
        sum
    }

    /// Between the steps by a cubic with the values and slopes at both ends.
    fn at(&self, z: f64) -> f64 {
        if z < START {
            return self.series(z)[0];
        }
        let place = (z - START) / STEP;
        let number = (place as usize).min(self.values.len() - 2);
        let t = place - number as f64;
        let ([a, slope_a], [b, slope_b]) = (self.values[number], self.values[number + 1]);
        let rest = 1.0 - t;
        rest * rest * ((1.0 + 2.0 * t) * a + t * STEP * slope_a)
            + t * t * ((1.0 + 2.0 * rest) * b - rest * STEP * slope_b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The half-integral Bessel functions are elementary; J1 is that of a library.
    #[test]
    fn what_two_elements_share_is_a_bessel_function() {
        let (sin, cos) = (scalar::sin, scalar::cos);
        type Bessel = fn(f64) -> f64;
        let closed: [(f64, Bessel); 3] = [(0.0, f0), (0.5, f1), (1.0, f2)];
        fn f0(z: f64) -> f64 {
            scalar::sin(z) / z
        }
        fn f1(z: f64) -> f64 {
            2.0 * libm::j1(z) / z
        }
        fn f2(z: f64) -> f64 {
            3.0 * (scalar::sin(z) - z * scalar::cos(z)) / (z * z * z)
        }
        for (q, expected) in closed {
            let shared = Shared::new(q, 600.0);
            assert_eq!(shared.at(0.0), 1.0);
            for i in 1..6000 {
                let z = 0.1 * f64::from(i);
                let off = shared.at(z) - expected(z);
                assert!(off.abs() < 1e-8, "q {q}, z {z}: off by {off}");
            }
        }
        let shared = Shared::new(2.0, 30.0);
        let expected = |z: f64| 15.0 * ((3.0 - z * z) * sin(z) - 3.0 * z * cos(z)) / (z * z * z * z * z);
        assert!((shared.at(7.3) - expected(7.3)).abs() < 1e-9);
        // The twin: another exponent is another function.
        assert!((Shared::new(0.9, 30.0).at(7.3) - f2(7.3)).abs() > 1e-4);
    }
}
