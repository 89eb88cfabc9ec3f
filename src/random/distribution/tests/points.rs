//! Distributions at points that another program computed, and what distributions that are not symmetric or have jumps must hold.

use super::*;

/// Seven measured parts, in the order they were measured.
const MEASURED: [f64; 7] = [0.3, -0.2, 0.1, 0.1, 0.9, -0.4, 0.25];

pub(super) fn with_jumps() -> [Distribution; 2] {
    [
        Distribution::Empirical(Empirical::new(MEASURED.to_vec()).unwrap()),
        Distribution::bernoulli(0.2).unwrap(),
    ]
}

fn check(distribution: &Distribution, quantiles: &[(f64, f64)], tolerance: f64) {
    for (p, expected) in quantiles {
        let found = distribution.quantile(*p);
        assert!(
            (found - expected).abs() < tolerance,
            "{} at {p}: {found} not {expected}",
            distribution.name()
        );
    }
}

#[test]
fn the_log_normal_is_that_of_scipy() {
    // SciPy 1.17.1, stats.lognorm(ln 1.2, scale=2): mean - 2, std, ppf(0.999) - 2, cdf(1.5), cdf(2.5).
    let distribution = Distribution::LogNormal(LogNormal::new(2.0, 1.2).unwrap());
    assert!((distribution.mean() - 0.033_518_930_408_719_34).abs() < 1e-15);
    assert!((distribution.sd() - 0.373_856_856_266_025_33).abs() < 1e-15);
    check(&distribution, &[(0.999, 1.513_325_923_827_695_3)], 1e-13);
    assert!((distribution.cdf(-0.5) - 0.057_296_253_485_277_94).abs() < 1e-15);
    assert!((distribution.cdf(0.5) - 0.889_505_228_003_274_8).abs() < 1e-15);
    assert_eq!((distribution.cdf(-2.0), distribution.cdf(-7.0)), (0.0, 0.0));
}

#[test]
fn the_mixture_is_that_of_scipy() {
    // SciPy 1.17.1: brentq of 0.3 norm(0.4, 0.1).cdf + 0.7 uniform(-0.7, 0.4).cdf - p; moments by total variance.
    let distribution = two_suppliers();
    assert!((distribution.mean() + 0.23).abs() < 1e-15);
    assert!((distribution.sd() - 0.427_122_152_707_317_85).abs() < 1e-15);
    let quantiles = [
        (0.01, -0.694_285_714_285_714_3),
        (0.5, -0.414_285_714_285_714_1),
        (0.69, -0.305_714_285_714_431_27),
        (0.71, 0.216_608_536_418_408_55),
        (0.9, 0.443_072_729_929_545_77),
        (0.999, 0.671_305_188_847_273_9),
    ];
    check(&distribution, &quantiles, 1e-13);
}

#[test]
fn measured_parts_give_the_quantiles_of_numpy() {
    // NumPy 2.4.6, quantile(..., method="hazen"); mean and sd by SciPy's quad of that over 0..1.
    let [distribution, _] = with_jumps();
    let quantiles = [
        (0.02, -0.4),
        (0.1, -0.36),
        (0.25, -0.125),
        (0.4, 0.1),
        (0.5, 0.1),
        (0.77, 0.2945),
        (0.9, 0.78),
        (0.99, 0.9),
    ];
    check(&distribution, &quantiles, 1e-14);
    assert!((distribution.mean() - 0.15).abs() < 1e-15);
    assert!((distribution.sd() - 0.366_287_682_930_598_55).abs() < 1e-12);
    assert_eq!(distribution.range(), Some((-0.4, 0.9)));
    // At a jump the probability of its far side, beyond the ends all or nothing.
    for (x, expected) in
        [(-0.41, 0.0), (-0.4, 0.5 / 7.0), (0.1, 3.5 / 7.0), (0.899, 6.498_333_333_333_333 / 7.0), (0.9, 1.0)]
    {
        assert!((distribution.cdf(x) - expected).abs() < 1e-14, "{x}");
    }
    assert!(Empirical::new(vec![0.1; 4]).unwrap_err().to_string().contains("too few"));
    assert!(Empirical::new(vec![f64::NAN; 6]).is_err());
    // Equal parts: a distribution without spread about their own mean.
    let equal = Distribution::Empirical(Empirical::new(vec![0.1; 6]).unwrap());
    assert_eq!((equal.quantile(0.3), equal.mean(), equal.sd()), (0.1, 0.1, 0.0));
}

#[test]
fn an_event_steps_to_either_side_as_often_as_stated() {
    let distribution = Distribution::bernoulli(0.2).unwrap();
    check(&distribution, &[(0.0999, -1.0), (0.1001, 0.0), (0.5, 0.0), (0.8999, 0.0), (0.9001, 1.0)], 1e-300);
    assert_eq!(
        [-1.1, -1.0, -0.5, 0.0, 0.9, 1.0].map(|x| distribution.cdf(x)),
        [0.0, 0.1, 0.1, 0.9, 0.9, 1.0]
    );
    assert_eq!(
        (distribution.mean(), distribution.sd(), distribution.range()),
        (0.0, 0.2_f64.sqrt(), Some((-1.0, 1.0)))
    );
    let draws = sample(&distribution);
    for step in [-1.0, 1.0] {
        let count = draws.iter().filter(|x| **x == step).count() as f64;
        // Four standard errors of a count of 10,000; a probability of 0.21 would be 500 off.
        assert!((count - 0.1 * DRAWS as f64).abs() < 4.0 * (0.09 * DRAWS as f64).sqrt(), "{step}: {count}");
        assert!((count - 0.105 * DRAWS as f64).abs() > 4.0 * (0.09 * DRAWS as f64).sqrt(), "{step}: {count}");
    }
    assert!(draws.iter().all(|x| x.abs() == 1.0 || *x == 0.0));
    let (never, always) = (Distribution::bernoulli(0.0).unwrap(), Distribution::bernoulli(1.0).unwrap());
    assert_eq!((never.quantile(1e-9), never.quantile(1.0 - 1e-9)), (0.0, 0.0));
    assert_eq!((always.quantile(0.49), always.quantile(0.51)), (-1.0, 1.0));
    assert!(Distribution::bernoulli(1.1).is_err() && Distribution::bernoulli(-0.1).is_err());
}

/// Draws of the distributions with jumps against their own distribution, a class for each step of it.
#[test]
fn draws_of_measured_parts_fall_between_them() {
    let [distribution, _] = with_jumps();
    let draws = sample(&distribution);
    let mut sorted = MEASURED;
    sorted.sort_by(f64::total_cmp);
    let share = |low: f64, high: f64| {
        let count = draws.iter().filter(|x| low < **x && **x < high).count();
        count as f64 / DRAWS as f64
    };
    for pair in sorted.windows(2).filter(|pair| pair[0] < pair[1]) {
        // Ends are single-precision numbers, so none is counted as within. Four standard errors.
        let found = share(f64::from(pair[0] as f32), f64::from(pair[1] as f32));
        assert!((found - 1.0 / 7.0).abs() < 4.0 * (6.0 / 49.0 / DRAWS as f64).sqrt(), "{pair:?}: {found}");
        // Parts drawn one by one, not between one another, would leave nothing here.
        assert!(found > 0.0);
    }
}

/// A part of two suppliers whose quantiles jump and leave a gap.
#[test]
fn a_mixture_of_distributions_with_jumps_has_the_quantile_of_its_cdf() {
    let [measured, event] = with_jumps();
    let parts = [Part { offset: 2.0, distribution: measured }, Part { offset: -2.0, distribution: event }];
    let distribution = Distribution::Mixture(Mixture::new(0.25, parts).unwrap());
    let mut last = f64::NEG_INFINITY;
    for i in 1..2000 {
        let p = f64::from(i) / 2000.0;
        let x = distribution.quantile(p);
        // The smallest deviation that p does not exceed, the rounding of its last digits allowed for.
        assert!(
            distribution.cdf(x + 1e-14) >= p - 1e-14 && distribution.cdf(x - 1e-13) <= p + 1e-14,
            "{p}: {x}"
        );
        assert!(x >= last);
        last = x;
    }
}

#[test]
fn a_negative_factor_mirrors_a_distribution() {
    let all = || distributions().into_iter().chain(with_jumps()).chain([screening::screened()]);
    for distribution in all() {
        let mirrored = distribution.scaled(-2.0);
        for i in 1..200 {
            // Off the jumps of the distributions that have some.
            let p = (f64::from(i) + 0.123) / 200.2;
            let (found, expected) = (mirrored.quantile(p), -2.0 * distribution.quantile(1.0 - p));
            assert!(
                (found - expected).abs() < 2e-6,
                "{} at {p}: {found} not {expected}",
                distribution.name()
            );
        }
        assert!((mirrored.mean() + 2.0 * distribution.mean()).abs() < 1e-9, "{}", distribution.name());
        assert!((mirrored.sd() - 2.0 * distribution.sd()).abs() < 1e-9, "{}", distribution.name());
        let range = distribution.range().map(|(lowest, highest)| (-2.0 * highest, -2.0 * lowest));
        assert_eq!(mirrored.range(), range, "{}", distribution.name());
    }
    // Without the mirror, distributions that are not symmetric would be found out.
    let skew = all().filter(|distribution| {
        (distribution.scaled(2.0).quantile(0.9) - distribution.scaled(-2.0).quantile(0.9)).abs() > 0.01
    });
    assert_eq!(skew.count(), 7);
}

/// Scores are the place in the distribution: turned back they give the very draws, but for their rounding.
#[test]
fn scores_lead_back_to_the_draws() {
    for distribution in distributions().into_iter().chain(with_jumps()).chain([screening::screened()]) {
        let mut rows = vec![[0.0_f32; 4]; 500];
        let mut scores = vec![[0.0; 4]; 500];
        distribution.draw_scores(Key::new(5, "scores"), 3, 2, &mut scores, &mut rows.clone());
        distribution.draw(Key::new(5, "scores"), 3, 2, &mut rows, &mut vec![[0.0; 4]; 500]);
        distribution.transform_scores(scores.as_flattened_mut());
        for (found, drawn) in scores.as_flattened().iter().zip(rows.as_flattened()) {
            assert!((found - f64::from(*drawn)).abs() < 1e-6, "{}: {found} not {drawn}", distribution.name());
        }
    }
}
