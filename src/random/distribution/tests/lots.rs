//! The distribution of lots that a sample took, against integrals by another program, and against lots sampled one by one.

use super::*;
use crate::random::{Sampled, Sampling};

fn sampled(
    lots: Distribution,
    parts: Distribution,
    accept: Window,
    gauge: Gauge,
    parts_and_allowed: (u64, u64),
) -> Distribution {
    let plan = Sampling { lot: 5000, parts: parts_and_allowed.0, allowed: parts_and_allowed.1 };
    Distribution::Sampled(Sampled::new(lots, parts, accept, gauge, plan).unwrap())
}

/// Share of lots taken, mean, sd and points of the distribution function: mpmath 1.4.1 at 25 digits, quad of the lots' density times the
/// binomial tail.
#[test]
fn lots_that_are_taken_are_weighted_by_the_operating_characteristic() {
    let check = |distribution: &Distribution, taken: f64, mean: f64, sd: f64, cdf: [(f64, f64); 3]| {
        assert!(
            (1.0 - distribution.rejected().unwrap() - taken).abs() < 1e-8,
            "{}",
            distribution.rejected().unwrap()
        );
        assert!(
            (distribution.mean() - mean).abs() < 1e-7 && (distribution.sd() - sd).abs() < 1e-7,
            "{} {}",
            distribution.mean(),
            distribution.sd()
        );
        for (x, expected) in cdf {
            let found = distribution.cdf(x);
            assert!((found - expected).abs() < 2e-6, "at {x}: {found} not {expected}");
        }
    };
    let accept = Window { low: -1.0, high: 1.2 };
    let distribution = sampled(normal(0.6), normal(0.4), accept, Gauge { bias: 0.05, sd: 0.1 }, (20, 1));
    let cdf = [(-0.5, 0.035_146_590_677_943_1), (0.3, 0.778_355_418_787_108), (0.6, 0.970_491_481_042_136)];
    check(&distribution, 0.593_335_165_212_926, 0.036_610_740_583_016_3, 0.310_424_866_880_432, cdf);
    // A plan that hardly takes a lot: all that is left is a sharp peak.
    let distribution =
        sampled(normal(0.6), normal(0.4), Window::within(1.0), Gauge { bias: 0.0, sd: 0.1 }, (500, 3));
    let cdf =
        [(-0.2, 0.000_728_107_302_745_172), (-0.05, 0.228_641_552_770_961), (0.1, 0.934_523_919_002_725)];
    check(&distribution, 0.005_909_894_419_451_78, 0.0, 0.065_939_797_246_984_8, cdf);
}

/// Parts that are not normal go through the integral of their own, and give the same where they are nearly so: a mixture of two equal
/// distributions is that distribution.
#[test]
fn parts_of_any_distribution_give_the_same() {
    let part = || Part { offset: 0.0, distribution: normal(0.4) };
    let mixed = Distribution::Mixture(Mixture::new(0.5, [part(), part()]).unwrap());
    let gauge = Gauge { bias: 0.02, sd: 0.15 };
    let distribution = |parts| sampled(normal(0.6), parts, Window::within(1.0), gauge, (20, 1));
    let (closed, integrated) = (distribution(normal(0.4)), distribution(mixed));
    assert!((closed.rejected().unwrap() - integrated.rejected().unwrap()).abs() < 1e-7);
    assert!((closed.sd() - integrated.sd()).abs() < 1e-7 && (closed.mean() - integrated.mean()).abs() < 1e-7);
}

/// All parts of a lot alike and an exact gauge: every part of a sample says the same, and the lots are cut.
#[test]
fn lots_of_equal_parts_are_cut_by_an_exact_gauge() {
    let distribution = sampled(normal(1.0), normal(0.0), Window::within(2.0), Gauge::default(), (20, 1));
    // 0.87963: Johnson, Kotz & Balakrishnan, chapter 13 (from memory).
    assert!((distribution.sd() - 0.879_63).abs() < 5e-6, "{}", distribution.sd());
    assert!((distribution.rejected().unwrap() - 0.045_500_263_896_358_4).abs() < 1e-12);
    assert!((1..1000).all(|i| distribution.quantile(f64::from(i) / 1000.0).abs() <= 2.0));
}

#[test]
fn quantile_undoes_cdf_and_scaling_keeps_the_shares() {
    let distribution = sampled(
        two_suppliers(),
        uniform(0.3),
        Window { low: -0.8, high: 0.5 },
        Gauge { bias: 0.0, sd: 0.05 },
        (13, 0),
    );
    let mut last = f64::NEG_INFINITY;
    for i in 1..500 {
        let p = f64::from(i) / 500.0;
        let x = distribution.quantile(p);
        assert!((distribution.cdf(x) - p).abs() < 1e-11, "{p}: {} at {x}", distribution.cdf(x));
        assert!(x > last);
        last = x;
    }
    let mirrored = distribution.scaled(-2.0);
    assert!((mirrored.rejected().unwrap() - distribution.rejected().unwrap()).abs() < 1e-9);
    assert!(
        (mirrored.mean() + 2.0 * distribution.mean()).abs() < 1e-9
            && (mirrored.sd() - 2.0 * distribution.sd()).abs() < 1e-9
    );
    let none = distribution.scaled(0.0);
    assert_eq!((none.quantile(0.3), none.mean(), none.sd(), none.range()), (0.0, 0.0, 0.0, Some((0.0, 0.0))));
}

#[test]
fn a_plan_that_takes_nothing_is_refused() {
    let plan = Sampling { lot: 500, parts: 200, allowed: 0 };
    let narrow = Window::within(0.01);
    let refused = Sampled::new(normal(1.0), normal(1.0), narrow, Gauge::default(), plan).unwrap_err();
    assert_eq!(refused, InvalidDistribution::NothingPasses { what: "lot" });
}
