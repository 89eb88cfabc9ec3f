//! Directivity of the error-free array.

use crate::array::Array;
use crate::figure::BeamPoint;
use crate::math::scalar;
use multiversion::multiversion;
use num_complex::Complex64;

/// Steps of z by which the coupling between two elements is followed, from [`START`] on.
const STEP: f64 = 0.02;
const START: f64 = 0.5;

/// Beam points that are summed together.
const LOOKS: usize = 8;

/// Elements whose shared power with all others is kept at a time.
const ROWS: usize = 16;

/// Directivity of beam points at one frequency, each at its error-free beam peak: power a solid angle there over the mean over the whole sphere,
/// linear, `[point]`.
///
/// An isotropic element (q = 0) radiates all around, one with an amplitude of cos^q into the half-space in front alone.
/// Formula: with excitations x_n, D = D_e |sum x_n e^(j k r_n.u)|^2 cos^2q(t) / sum_nm x_n x_m* K(k |r_n - r_m|), where D_e = 2 (2 q + 1) is
/// that of one element (1 for q = 0), and K the mean of its power times e^(j k r.u) over all directions, over that at r = 0:
/// K(z) = Gamma(q + 3/2) (2/z)^(q + 1/2) J_(q + 1/2)(z); for q = 0 it is sin z / z, which makes
/// N^2/(N + 2 sum (N - m) sinc(2 m d) cos(k d m u)) of a uniform line. Source: own derivation by Sonine's first integral; the line as
/// in handbooks (from memory).
pub(crate) fn directivities(array: &Array, points: &[&BeamPoint]) -> Vec<f64> {
    let Some(first) = points.first() else { return Vec::new() };
    let k = first.wavenumber;
    let groups: Vec<Excitations> =
        points.chunks(LOOKS).map(|points| Excitations::new(array, points)).collect();
    let mut radiated = vec![[0.0; LOOKS]; groups.len()];
    let reach = array.x.iter().zip(&array.y).map(|(x, y)| (x * x + y * y).sqrt()).fold(0.0, f64::max);
    let q = array.element.exponent;
    let shared = Shared::new(q, 2.0 * k * reach);
    let with_earlier = |n: usize| {
        let with = |m: usize| {
            let (x, y) = (array.x[n] - array.x[m], array.y[n] - array.y[m]);
            shared.at(k * (x * x + y * y).sqrt())
        };
        (0..n).map(with).collect()
    };
    // The shared power of two elements is the same for every beam point; a few rows of it at a time stay in the cache with a group's excitations.
    for start in (0..array.channels()).step_by(ROWS) {
        let rows: Vec<Vec<f64>> = (start..array.channels().min(start + ROWS)).map(with_earlier).collect();
        for (group, radiated) in groups.iter().zip(&mut radiated) {
            rows.iter().for_each(|row| add_radiated(row, &group.re, &group.im, radiated));
        }
    }
    let of_element = if q == 0.0 { 1.0 } else { 2.0 * (2.0 * q + 1.0) };
    let of = |(number, point): (usize, &&BeamPoint)| {
        let field = point.field_at_peak(array);
        of_element * field.norm_sqr() * point.peak_element / radiated[number / LOOKS][number % LOOKS]
    };
    points.iter().enumerate().map(of).collect()
}

/// Excitations of the channels for some beam points, `[channel][point]`; 0 where there is none.
struct Excitations {
    re: Vec<[f64; LOOKS]>,
    im: Vec<[f64; LOOKS]>,
}

impl Excitations {
    fn new(array: &Array, points: &[&BeamPoint]) -> Excitations {
        let zero = vec![[0.0; LOOKS]; array.channels()];
        let mut all = Excitations { re: zero.clone(), im: zero };
        for (l, point) in points.iter().enumerate() {
            for (n, of) in point.excitation(array).into_iter().enumerate() {
                (all.re[n][l], all.im[n][l]) = (of.re, of.im);
            }
        }
        all
    }
}

/// Adds the power that an element radiates by itself and with those before it; `shared` is K with each of these.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn add_radiated(shared: &[f64], re: &[[f64; LOOKS]], im: &[[f64; LOOKS]], radiated: &mut [f64; LOOKS]) {
    let (own_re, own_im) = (re[shared.len()], im[shared.len()]);
    let mut half = [own_re.map(|own| 0.5 * own), own_im.map(|own| 0.5 * own)];
    for ((shared, re), im) in shared.iter().zip(re).zip(im) {
        for l in 0..LOOKS {
            half[0][l] += re[l] * shared;
            half[1][l] += im[l] * shared;
        }
    }
    for l in 0..LOOKS {
        radiated[l] += 2.0 * (own_re[l] * half[0][l] + own_im[l] * half[1][l]);
    }
}

impl BeamPoint {
    /// The excitations of the channels, free of errors.
    fn excitation(&self, array: &Array) -> Vec<Complex64> {
        let of = |(a, phase): (&f64, &f64)| a * Complex64::new(scalar::cos(*phase), scalar::sin(*phase));
        array.amplitude.iter().zip(&self.command(array)).map(of).collect()
    }

    /// Field of isotropic elements at the error-free beam peak.
    fn field_at_peak(&self, array: &Array) -> Complex64 {
        let ([u, v], k) = (self.error_free.peak, self.wavenumber);
        let toward_peak = |(x, y): (&f64, &f64)| {
            let way = k * (x * u + y * v);
            Complex64::new(scalar::cos(way), scalar::sin(way))
        };
        let ways = array.x.iter().zip(&array.y).map(toward_peak);
        self.excitation(array).into_iter().zip(ways).map(|(x, e)| x * e).sum()
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
        // For contrast: another exponent is another function.
        assert!((Shared::new(0.9, 30.0).at(7.3) - f2(7.3)).abs() > 1e-4);
    }
}
