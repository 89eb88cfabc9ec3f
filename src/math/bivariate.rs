//! Two normal values that are correlated: the probability that both are below a bound.

use super::{TAU, normal, scalar};

/// Panels of five points each over 0..1; 20 points hold Owen's function to 1e-14.
const PANELS: u32 = 4;

/// Nodes and weights of Gauss and Legendre's rule of five points on 0..1. Source: Abramowitz & Stegun, table 25.4 (from
/// memory).
pub(crate) const NODES: [(f64, f64); 5] = [
    (0.046_910_077_030_668_004, 0.118_463_442_528_094_54),
    (0.230_765_344_947_158_45, 0.239_314_335_249_683_23),
    (0.5, 0.284_444_444_444_444_44),
    (0.769_234_655_052_841_5, 0.239_314_335_249_683_23),
    (0.953_089_922_969_332, 0.118_463_442_528_094_54),
];

/// The probability that two standard normal values of correlation `r`, -1 < r < 1, are below `h` and `k`; either may be infinite. Right to
/// some 1e-14, so a smaller probability has no digits.
///
/// Source: Owen, Annals of Mathematical Statistics 27 (1956), 1075-1090, equation 2.1 (from memory).
pub(crate) fn probability(h: f64, k: f64, r: f64) -> f64 {
    if h == f64::NEG_INFINITY || k == f64::NEG_INFINITY {
        return 0.0;
    }
    if h == f64::INFINITY || k == f64::INFINITY {
        return normal::probability(h.min(k));
    }
    let across = (1.0 - r * r).sqrt();
    // Of a bound 0 the slope is infinite, with the sign of the other bound; of two, each is the limit of equal ones.
    let slope = |h: f64, k: f64| match (h == 0.0, k == 0.0) {
        (true, true) => (1.0 - r) / across,
        _ => (k - r * h) / (h * across),
    };
    let parts = owen(h, slope(h, k)) + owen(k, slope(k, h));
    let opposite = if h * k > 0.0 || (h * k == 0.0 && h + k >= 0.0) { 0.0 } else { 0.5 };
    (0.5 * (normal::probability(h) + normal::probability(k)) - parts - opposite).max(0.0)
}

/// Owen's T: exp(-h^2 (1 + x^2)/2)/(1 + x^2) over x from 0 to `a`, over a full turn; even in `h`, odd in `a`.
fn owen(h: f64, a: f64) -> f64 {
    let (h, size) = (h.abs(), a.abs());
    let sign = if a < 0.0 { -1.0 } else { 1.0 };
    if h == 0.0 {
        return sign * scalar::atan(size) / TAU;
    }
    if size <= 1.0 {
        return sign * within(h, size);
    }
    let (below, below_steep) = (normal::probability(h), normal::probability(size * h));
    sign * (0.5 * (below + below_steep) - below * below_steep - within(size * h, 1.0 / size))
}

/// The same for `h` > 0 and `a` from 0 to 1.
fn within(h: f64, a: f64) -> f64 {
    let width = a / f64::from(PANELS);
    let mut sum = 0.0;
    for panel in 0..PANELS {
        for (at, weight) in NODES {
            let x = width * (f64::from(panel) + at);
            let square = 1.0 + x * x;
            sum += weight * scalar::exp(-0.5 * h * h * square) / square;
        }
    }
    width * sum / TAU
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Without correlation a product; at h = k = 0 a quarter and the arc sine over a full turn (Sheppard 1899, from memory).
    #[test]
    fn two_bounds_hold_what_is_known() {
        for (h, k) in [(0.3, -1.2), (2.0, 0.5), (-3.0, -0.1), (0.0, 1.0), (-1.0, 0.0)] {
            let product = normal::probability(h) * normal::probability(k);
            assert!((probability(h, k, 0.0) - product).abs() < 1e-14, "{h} {k}");
        }
        for r in [-0.9, -0.3, 0.5, 0.99] {
            let quarter = 0.25 + scalar::asin(r) / TAU;
            assert!((probability(0.0, 0.0, r) - quarter).abs() < 1e-14, "{r}");
        }
    }

    /// The probability of the second value, given the first, integrated over it: by the definition.
    #[test]
    fn two_bounds_are_the_integral_of_the_definition() {
        for r in [-0.95_f64, -0.4, 0.2, 0.8, 0.997] {
            for (h, k) in
                [(0.4, 0.7), (-1.3, 0.2), (1.9, -0.6), (-2.5, -2.4), (3.0, 3.1), (0.0, -0.8), (1.1, 0.0)]
            {
                let across = (1.0 - r * r).sqrt();
                let (from, cells) = (-9.0, 40_000);
                let width = (h - from) / f64::from(cells);
                let sum: f64 = (0..cells)
                    .flat_map(|cell| {
                        NODES.map(|(at, weight)| (from + width * (f64::from(cell) + at), weight))
                    })
                    .map(|(x, weight)| {
                        weight * normal::density(x) * normal::probability((k - r * x) / across)
                    })
                    .sum();
                let found = probability(h, k, r);
                assert!((found - width * sum).abs() < 1e-12, "{h} {k} {r}: {found} {}", width * sum);
            }
        }
        assert_eq!(probability(f64::INFINITY, 0.3, 0.7), normal::probability(0.3));
        assert_eq!(probability(-1.0, f64::INFINITY, 0.7), normal::probability(-1.0));
        assert_eq!(probability(f64::NEG_INFINITY, 2.0, 0.7), 0.0);
    }
}
