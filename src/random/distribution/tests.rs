//! Every distribution against another library's distribution function, and the distributions' closed forms.

mod lots;
mod points;
mod screening;
mod streamed;

use super::*;
use crate::random::{Gauge, Key, Window};
use statrs::distribution::{self as reference, ContinuousCDF};

const DRAWS: usize = 100_000;
/// Kolmogorov's limit for sqrt(n) D: exceeded with probability 0.001 when all is right.
const KOLMOGOROV: f64 = 1.95;

fn normal(sd: f64) -> Distribution {
    Distribution::Normal(Normal::new(sd).unwrap())
}

fn uniform(half_width: f64) -> Distribution {
    Distribution::Uniform(Uniform::new(half_width).unwrap())
}

/// Three in ten parts 0.4 too large with sd 0.1, the others 0.5 too small within 0.2.
fn two_suppliers() -> Distribution {
    let first = Part { offset: 0.4, distribution: normal(0.1) };
    let second = Part { offset: -0.5, distribution: uniform(0.2) };
    Distribution::Mixture(Mixture::new(0.3, [first, second]).unwrap())
}

/// The distributions that have a density and a counterpart in statrs.
fn distributions() -> [Distribution; 10] {
    [
        normal(0.7),
        Distribution::TruncatedNormal(TruncatedNormal::new(0.7, 1.1).unwrap()),
        uniform(2.5),
        Distribution::Triangular(Triangular::new(1.5).unwrap()),
        Distribution::LogNormal(LogNormal::new(2.0, 1.2).unwrap()),
        Distribution::Arcsine(Arcsine::new(1.3).unwrap()),
        two_suppliers(),
        Distribution::Weibull(Weibull::new(1.5, 0.8).unwrap()),
        Distribution::Gamma(Gamma::new(2.0, 0.3).unwrap()),
        Distribution::Beta(Beta::new(2.0, 5.0, -0.4, 0.9).unwrap()),
    ]
}

/// statrs' distribution function of the distribution in [`distributions`] of the same name.
fn reference_cdf(distribution: &Distribution, x: f64) -> f64 {
    let normal = reference::Normal::new(0.0, 0.7).unwrap();
    match distribution {
        Distribution::Normal(_) => normal.cdf(x),
        Distribution::TruncatedNormal(_) => {
            let (low, high) = (normal.cdf(-1.1), normal.cdf(1.1));
            (normal.cdf(x.clamp(-1.1, 1.1)) - low) / (high - low)
        }
        Distribution::Uniform(_) => reference::Uniform::new(-2.5, 2.5).unwrap().cdf(x),
        Distribution::Triangular(_) => reference::Triangular::new(-1.5, 1.5, 0.0).unwrap().cdf(x),
        Distribution::LogNormal(_) => {
            reference::LogNormal::new(2.0_f64.ln(), 1.2_f64.ln()).unwrap().cdf((x + 2.0).max(0.0))
        }
        Distribution::Arcsine(_) => {
            reference::Beta::new(0.5, 0.5).unwrap().cdf(((x + 1.3) / 2.6).clamp(0.0, 1.0))
        }
        Distribution::Mixture(_) => {
            let first = reference::Normal::new(0.4, 0.1).unwrap().cdf(x);
            0.3 * first + 0.7 * reference::Uniform::new(-0.7, -0.3).unwrap().cdf(x)
        }
        Distribution::Weibull(_) => reference::Weibull::new(1.5, 0.8).unwrap().cdf(x.max(0.0)),
        Distribution::Gamma(_) => reference::Gamma::new(2.0, 1.0 / 0.3).unwrap().cdf(x.max(0.0)),
        Distribution::Beta(_) => {
            reference::Beta::new(2.0, 5.0).unwrap().cdf(((x + 0.4) / 1.3).clamp(0.0, 1.0))
        }
        other => unreachable!("{} has no counterpart", other.name()),
    }
}

fn sample(distribution: &Distribution) -> Vec<f64> {
    let mut draws = vec![[0.0; 16]; DRAWS / 16];
    let mut room = vec![[0.0; 16]; draws.len()];
    distribution.draw(Key::new(11, distribution.name()), 0, 0, &mut draws, &mut room);
    draws.as_flattened().iter().map(|x| f64::from(*x)).collect()
}

/// sqrt(n) times the largest distance between the sample's and the reference's distribution.
fn kolmogorov_smirnov(mut draws: Vec<f64>, cdf: impl Fn(f64) -> f64) -> f64 {
    draws.sort_by(f64::total_cmp);
    let n = draws.len() as f64;
    let distance = draws.iter().enumerate().fold(0.0, |largest: f64, (i, x)| {
        let expected = cdf(*x);
        largest.max(expected - i as f64 / n).max((i + 1) as f64 / n - expected)
    });
    n.sqrt() * distance
}

#[test]
fn draws_follow_the_reference_distribution() {
    for distribution in distributions() {
        let statistic = kolmogorov_smirnov(sample(&distribution), |x| reference_cdf(&distribution, x));
        assert!(statistic < KOLMOGOROV, "{}: {statistic}", distribution.name());
    }
}

#[test]
fn draws_of_a_distribution_five_percent_wider_are_found_out() {
    for distribution in distributions() {
        let draws = sample(&distribution.scaled(1.05));
        let statistic = kolmogorov_smirnov(draws, |x| reference_cdf(&distribution, x));
        assert!(statistic > KOLMOGOROV, "{}: {statistic}", distribution.name());
    }
}

#[test]
fn cdf_agrees_with_the_reference() {
    for distribution in distributions() {
        for i in -300..=300 {
            let x = f64::from(i) / 100.0;
            let error = (distribution.cdf(x) - reference_cdf(&distribution, x)).abs();
            assert!(error < 1e-10, "{} at {x}: {error}", distribution.name());
        }
    }
}

#[test]
fn quantile_undoes_the_cdf_and_gives_the_bits_of_transform() {
    for distribution in distributions() {
        for i in 1..1000 {
            let p = f64::from(i) / 1000.0;
            let x = distribution.quantile(p);
            // At its ends the arcsine distribution's density is so high that the last bit of x is this much.
            let bound = if matches!(distribution, Distribution::Arcsine(_)) { 2e-14 } else { 1e-14 };
            assert!((distribution.cdf(x) - p).abs() < bound, "{} at {p}", distribution.name());
            let mut many = [p; 9];
            distribution.transform(&mut many);
            assert!(many.iter().all(|y| y.to_bits() == x.to_bits()));
        }
    }
}

#[test]
fn mean_and_sd_of_draws_are_those_of_the_distribution() {
    for distribution in distributions() {
        let draws = sample(&distribution);
        let n = DRAWS as f64;
        let power = |k: i32| draws.iter().map(|x| (x - distribution.mean()).powi(k)).sum::<f64>() / n;
        let (mean, variance, fourth) = (power(1), power(2), power(4));
        assert!(mean.abs() < 4.0 * distribution.sd() / n.sqrt(), "{}: {mean}", distribution.name());
        // Four standard errors of the mean square.
        let bound = 4.0 * ((fourth - variance * variance) / n).sqrt();
        assert!((variance - distribution.sd().powi(2)).abs() < bound, "{}", distribution.name());
        assert!((variance - (1.05 * distribution.sd()).powi(2)).abs() > bound, "{}", distribution.name());
    }
}

#[test]
#[allow(clippy::approx_constant, reason = "the numbers stand as published")]
fn sd_of_distributions_of_unit_half_width() {
    // JCGM 101:2008 clause 6.4: 1/sqrt(3), 1/sqrt(6) and 1/sqrt(2).
    let uniform = Distribution::Uniform(Uniform::new(1.0).unwrap());
    let triangular = Distribution::Triangular(Triangular::new(1.0).unwrap());
    assert!((uniform.sd() - 0.57735).abs() < 5e-6);
    assert!((triangular.sd() - 0.40825).abs() < 5e-6);
    assert!((Arcsine::new(1.0).unwrap().sd() - 0.70711).abs() < 5e-6);
}

#[test]
fn sd_of_a_screened_unit_normal() {
    // 1 - 2 L phi(L) / (2 Phi(L) - 1), Johnson, Kotz & Balakrishnan, chapter 13; the narrow cuts
    // by mpmath 1.4.1 at 40 digits, sqrt(quad(x^2 npdf) / quad(npdf)) over (-L, L).
    for (limit, expected, tolerance) in [
        (1.0, 0.53956, 5e-6),
        (2.0, 0.87963, 5e-6),
        (3.0, 0.98658, 5e-6),
        (0.999, 0.5390943263311847, 1e-14),
        (0.3, 0.1721672210033654, 1e-14),
        (1e-6, 5.773502691895872e-07, 1e-20),
        (1e9, 1.0, 1e-15),
    ] {
        let distribution = Distribution::TruncatedNormal(TruncatedNormal::new(1.0, limit).unwrap());
        assert!((distribution.sd() - expected).abs() < tolerance, "cut at {limit}: {}", distribution.sd());
    }
}

#[test]
fn truncated_draws_stay_within_the_cut() {
    for limit in [1e-6, 0.5, 3.0, 8.25, 1e9] {
        let distribution = Distribution::TruncatedNormal(TruncatedNormal::new(1.0, limit).unwrap());
        let (first, last) = (f64::EPSILON / 2.0, 1.0 - f64::EPSILON / 2.0);
        for u in [first, 0.25, 0.5, 0.75, last] {
            assert!(
                distribution.quantile(u).abs() <= limit,
                "cut at {limit}, {u}: {}",
                distribution.quantile(u)
            );
        }
    }
}

#[test]
fn no_spread_gives_exactly_zero() {
    let scaled = |distribution: Distribution| distribution.scaled(0.0);
    for distribution in
        distributions().into_iter().chain(points::with_jumps()).chain([screening::screened()]).map(scaled)
    {
        let mut u = [0.1, 0.5, 0.999];
        distribution.transform(&mut u);
        // Zeros of either sign.
        assert!(u.iter().all(|x| *x == 0.0), "{}", distribution.name());
        assert_eq!((distribution.sd(), distribution.half_range()), (0.0, Some(0.0)));
        assert_eq!((distribution.cdf(-1e-9), distribution.cdf(0.0)), (0.0, 1.0));
    }
}

#[test]
fn half_range_and_scaling() {
    let ranges = distributions().map(|distribution| distribution.half_range());
    let stated = [None, Some(1.1), Some(2.5), Some(1.5), None, Some(1.3), None, None, None, Some(0.9)];
    assert_eq!(ranges, stated);
    for distribution in distributions().iter().filter(|distribution| distribution.mean() == 0.0) {
        let twice = distribution.scaled(-2.0);
        assert_eq!(twice.quantile(0.9), 2.0 * distribution.quantile(0.9));
        assert_eq!(twice.sd(), 2.0 * distribution.sd());
    }
}

#[test]
fn impossible_spreads_are_refused() {
    for bad in [-1.0, f64::NAN, f64::INFINITY] {
        assert!(Normal::new(bad).is_err());
        assert!(TruncatedNormal::new(bad, 1.0).is_err());
        assert!(TruncatedNormal::new(1.0, bad).is_err());
        assert!(Uniform::new(bad).is_err());
        assert!(Triangular::new(bad).is_err());
        assert!(Arcsine::new(bad).is_err());
        assert!(LogNormal::new(1.0, bad).is_err());
        assert!(Bernoulli::new(bad).is_err());
        let part = || Part { offset: 0.0, distribution: uniform(1.0) };
        assert!(Mixture::new(bad, [part(), part()]).is_err());
        assert!(Screened::new(normal(1.0), Window::within(bad), Gauge::default()).is_err());
        assert!(Weibull::new(bad, 1.0).is_err() && Gamma::new(bad, 1.0).is_err());
        assert!(Beta::new(bad, 1.0, 0.0, 1.0).is_err() && Beta::new(1.0, bad, 0.0, 1.0).is_err());
    }
    assert!(TruncatedNormal::new(1.0, 0.0).unwrap_err().to_string().contains("above zero"));
}
