//! Distributions after an incoming inspection, against integrals by another program and handbook values.

use super::*;

pub(super) fn screened() -> Distribution {
    of(normal(1.0), 1.5, 0.2, 0.3)
}

fn of(distribution: Distribution, at: f64, bias: f64, sd: f64) -> Distribution {
    Distribution::Screened(Screened::new(distribution, Window::within(at), Gauge { bias, sd }).unwrap())
}

/// Taken, mean, sd and points of the distribution function, against mpmath.
fn check(distribution: &Distribution, taken: f64, mean: f64, sd: f64, cdf: &[(f64, f64)]) {
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
        let found = distribution.cdf(*x);
        assert!((found - expected).abs() < 2e-6, "at {x}: {found} not {expected}");
    }
}

/// mpmath 1.4.1 at 30 digits, quad of the density times the probability to be taken.
#[test]
fn a_gauge_with_bias_takes_what_the_integral_says() {
    let cdf = [
        (-1.7, 0.009_832_815_478_703_266),
        (-1.0, 0.127_341_905_554_719_1),
        (0.0, 0.532_553_764_405_305),
        (0.6, 0.800_332_111_973_085_9),
        (1.2, 0.968_652_356_605_324_6),
        (1.5, 0.994_416_457_471_410_8),
    ];
    check(&screened(), 0.841_735_984_292_666_5, -0.088_512_891_408_167_85, 0.744_797_294_068_486_7, &cdf);
    // A sharp gauge on a distribution with edges.
    let uniform = of(uniform(1.0), 0.8, -0.05, 0.02);
    let cdf = [
        (-0.76, 0.002_472_456_967_516_325),
        (-0.5, 0.156_25),
        (0.3, 0.656_25),
        (0.85, 0.995_013_221_494_982_1),
        (0.88, 0.999_633_665_077_967_5),
    ];
    check(&uniform, 0.8, 0.05, 0.462_313_025_268_954_9, &cdf);
}

/// Johnson, Kotz & Balakrishnan, chapter 13, 1 - 2 L phi(L)/(2 Phi(L) - 1), to the last digit given (from memory); and a cut
/// to one side by a bias, SciPy 1.17.1 stats.truncnorm(-1.5, 0.9).
#[test]
fn an_exact_gauge_is_a_plain_cut() {
    for (limit, expected) in [(1.0, 0.539_56), (2.0, 0.879_63), (3.0, 0.986_58)] {
        let distribution = of(normal(1.0), limit, 0.0, 0.0);
        assert!((distribution.sd() - expected).abs() < 5e-6, "{limit}: {}", distribution.sd());
        let same = Distribution::TruncatedNormal(TruncatedNormal::new(1.0, limit).unwrap());
        for i in 1..100 {
            let p = f64::from(i) / 100.0;
            assert!((distribution.quantile(p) - same.quantile(p)).abs() < 1e-13, "{limit} at {p}");
            assert!((distribution.cdf(same.quantile(p)) - p).abs() < 1e-13);
        }
        assert_eq!(distribution.range(), Some((-limit, limit)));
    }
    let skew = of(normal(1.0), 1.2, 0.3, 0.0);
    check(
        &skew,
        0.749_132_673_384_382_4,
        -0.182_301_025_018_554_66,
        0.622_703_188_314_651_9,
        &[(0.5, 0.833_837_959_814_419_1)],
    );
    // x < 1 (the same chapter): mean -0.28760, sd 0.79353; a bias moves the lower limit out of reach.
    let below = of(normal(1.0), 500.5, 499.5, 0.0);
    assert!((below.mean() + 0.287_60).abs() < 5e-6 && (below.sd() - 0.793_53).abs() < 5e-6);
}

/// Share rejected, sd of the accepted, share of the accepted that is outside: own double integral, and again by mpmath.
#[test]
fn a_gauge_error_lets_bad_parts_pass() {
    for (limit, sd, rejected, spread, escaped) in
        [(2.0, 0.2, 4.986, 0.876_7, 0.713_1), (1.5, 0.3, 15.08, 0.747_5, 2.766)]
    {
        let distribution = of(normal(1.0), limit, 0.0, sd);
        let outside = 1.0 - (distribution.cdf(limit) - distribution.cdf(-limit));
        assert!((100.0 * distribution.rejected().unwrap() - rejected).abs() < 5e-3);
        assert!((distribution.sd() - spread).abs() < 5e-5);
        assert!((100.0 * outside - escaped).abs() < 5e-4, "{outside}");
        // The draws, too: four standard errors of a share.
        let found = sample(&distribution).iter().filter(|x| x.abs() > limit).count() as f64 / DRAWS as f64;
        assert!((found - outside).abs() < 4.0 * (outside / DRAWS as f64).sqrt(), "{found}");
        // An exact gauge lets none pass.
        let exact = sample(&of(normal(1.0), limit, 0.0, 0.0));
        assert!(exact.iter().all(|x| x.abs() <= limit));
    }
}

/// The table's error bound, all over the distribution: against the trapezium rule in steps of a tenth of the gauge's sd and less.
#[test]
fn the_table_is_as_good_as_it_says() {
    use statrs::distribution::Continuous;
    let unit = reference::Normal::new(0.0, 1.0).unwrap();
    for sd in [0.5, 0.05, 0.002] {
        let (at, bias) = (1.1, 0.1);
        let distribution = of(normal(1.0), at, bias, sd);
        let density = |x: f64| {
            let taken = unit.cdf((at - x - bias) / sd) - unit.cdf((-at - x - bias) / sd);
            unit.pdf(x) * taken
        };
        let step = 0.05_f64.min(sd) / 20.0;
        let steps = (10.0 / step) as i32;
        let (mut below, mut places) = (0.0, Vec::new());
        for i in -steps..steps {
            let x = f64::from(i) * step;
            below += 0.5 * step * (density(x) + density(x + step));
            places.push((x + step, below));
        }
        assert!((below - 1.0 + distribution.rejected().unwrap()).abs() < 1e-7);
        for (x, expected) in places.iter().map(|(x, sum)| (*x, sum / below)) {
            assert!(
                (distribution.cdf(x) - expected).abs() < 2e-6,
                "{sd}: {} not {expected} at {x}",
                distribution.cdf(x)
            );
        }
    }
}

/// Against parts inspected one by one: 200,000 drawn, read and taken or not.
#[test]
fn draws_are_those_of_an_inspection() {
    for distribution in [normal(1.0), two_suppliers(), points::with_jumps()[0].clone()] {
        let (at, gauge) = (0.6, Gauge { bias: 0.1, sd: 0.15 });
        let many = 200_000;
        let mut parts = vec![[0.0_f32; 1]; many];
        distribution.draw(Key::new(3, "parts"), 0, 0, &mut parts, &mut vec![[0.0; 1]; many]);
        let mut readings = parts.clone();
        normal(gauge.sd).draw(Key::new(3, "gauge"), 0, 0, &mut readings, &mut []);
        let read = parts.as_flattened().iter().zip(readings.as_flattened());
        let taken: Vec<f64> = read
            .filter(|(part, error)| (f64::from(**part) + gauge.bias + f64::from(**error)).abs() <= at)
            .map(|(part, _)| f64::from(*part))
            .collect();
        let inspected =
            Distribution::Screened(Screened::new(distribution.clone(), Window::within(at), gauge).unwrap());
        let rejected = 1.0 - taken.len() as f64 / many as f64;
        let expected = inspected.rejected().unwrap();
        let bound = 4.0 * (expected * (1.0 - expected) / many as f64).sqrt();
        assert!((rejected - expected).abs() < bound, "{}: {rejected} not {expected}", distribution.name());
        let n = taken.len() as f64;
        let mean = taken.iter().sum::<f64>() / n;
        let bound = 4.0 * inspected.sd() / n.sqrt();
        assert!((mean - inspected.mean()).abs() < bound, "{}: {mean}", distribution.name());
        // A gauge read without its bias is found out.
        let other = Distribution::Screened(
            Screened::new(distribution.clone(), Window::within(at), Gauge { bias: 0.0, ..gauge }).unwrap(),
        );
        assert!((mean - other.mean()).abs() > bound, "{}", distribution.name());
        if !matches!(distribution, Distribution::Empirical(_)) {
            assert!(kolmogorov_smirnov(taken, |x| inspected.cdf(x)) < KOLMOGOROV, "{}", distribution.name());
            let draws = sample(&inspected);
            assert!(kolmogorov_smirnov(draws, |x| inspected.cdf(x)) < KOLMOGOROV, "{}", distribution.name());
        }
    }
}

#[test]
fn quantile_undoes_cdf_and_rises() {
    for distribution in [screened(), of(two_suppliers(), 0.6, 0.1, 0.02), of(uniform(1.0), 0.9, 0.0, 1e-6)] {
        let mut last = f64::NEG_INFINITY;
        for i in 1..5000 {
            let p = f64::from(i) / 5000.0;
            let x = distribution.quantile(p);
            assert!((distribution.cdf(x) - p).abs() < 1e-12, "{p}: {} at {x}", distribution.cdf(x));
            assert!(x > last);
            last = x;
            let mut many = [p; 3];
            distribution.transform(&mut many);
            assert!(many.iter().all(|y| y.to_bits() == x.to_bits()));
        }
    }
}

#[test]
fn a_distribution_may_be_screened_twice_and_mixed_after() {
    // Two exact cuts are the narrower one.
    let twice = of(of(normal(1.0), 2.0, 0.0, 0.0), 1.0, 0.0, 0.0);
    assert!((twice.sd() - 0.539_56).abs() < 5e-6);
    let part = |offset| Part { offset, distribution: screened() };
    let mixed = Distribution::Mixture(Mixture::new(0.5, [part(1.0), part(-1.0)]).unwrap());
    assert!((mixed.mean() - screened().mean()).abs() < 1e-12);
}

#[test]
fn inspections_that_take_nothing_are_refused() {
    let refused =
        Screened::new(uniform(1.0), Window::within(0.1), Gauge { bias: 3.0, sd: 0.01 }).unwrap_err();
    assert_eq!(refused, InvalidDistribution::NothingPasses { what: "part" });
    assert!(Screened::new(uniform(1.0), Window::within(0.0), Gauge::default()).is_err());
    assert!(Screened::new(uniform(1.0), Window::within(1.0), Gauge { bias: f64::NAN, sd: 0.1 }).is_err());
    assert!(Screened::new(uniform(1.0), Window::within(1.0), Gauge { bias: 0.0, sd: -0.1 }).is_err());
}

/// Closed forms against the integral over the distribution, of a gauge from much finer than the parts to much coarser.
#[test]
fn closed_forms_of_what_is_read_are_the_integrals() {
    use weighted::{even_ends, joint_share, shares_between};
    let cut = |at| Distribution::TruncatedNormal(TruncatedNormal::new(0.7, at).unwrap());
    let distributions = [normal(0.7), uniform(0.6), cut(1.1), cut(0.75)];
    let windows = [Window { low: -0.5, high: 0.8 }, Window { low: f64::NEG_INFINITY, high: 0.3 }];
    for distribution in &distributions {
        for (sd, window) in [0.01, 0.2, 0.9, 5.0, 300.0].into_iter().flat_map(|sd| windows.map(|of| (sd, of)))
        {
            let gauge = Gauge { bias: 0.07, sd };
            for x in [-2.0, -0.55, 0.1, 0.59, f64::INFINITY] {
                let closed = joint_share(distribution, x, window, gauge).unwrap();
                let [sum] = shares_between(
                    distribution,
                    window,
                    gauge,
                    &even_ends(1024),
                    [(0.0, distribution.cdf(x))],
                );
                assert!(
                    (closed - sum).abs() < 1e-9,
                    "{distribution:?} {gauge:?} {window:?} {x}: {closed} not {sum}"
                );
            }
        }
        let exact = Gauge { bias: 0.07, sd: 0.0 };
        assert_eq!(joint_share(distribution, -0.6, windows[0], exact), Some(0.0));
        let between = distribution.cdf(0.1) - distribution.cdf((-0.57_f64).next_down());
        assert!((joint_share(distribution, 0.1, windows[0], exact).unwrap() - between).abs() < 1e-15);
    }
    // Of a distribution that is cut to a sliver a difference would keep no digits.
    assert_eq!(joint_share(&cut(0.1), 0.0, windows[0], Gauge { bias: 0.0, sd: 0.2 }), None);
}
