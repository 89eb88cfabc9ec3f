//! Risks of an inspection, against double integrals by another program and handbook values.

use super::*;
use crate::inspection::inspected::inspect;
use crate::inspection::{accepted_moments, delivered_moments};
use crate::random::{Inspection, Mixture, Normal, Part, Sampling, Scope, Spread, Triangular, Uniform};

fn normal(sd: f64) -> Distribution {
    Distribution::Normal(Normal::new(sd).unwrap())
}

fn inspection(tolerance: Window, accept: Window, gauge: Gauge) -> Inspection {
    let (tolerance, accept) = (Some(tolerance), Some(accept));
    Inspection { tolerance, accept, guard: None, gauge, sampling: None, seconds: 0.0 }
}

fn one_by_one(
    distribution: Distribution,
    tolerance: Window,
    accept: Window,
    bias: f64,
    sd: f64,
) -> Inspected {
    let first = Spread { distribution, scope: Scope::Channel };
    inspect(inspection(tolerance, accept, Gauge { bias, sd }), &first, None).unwrap().0
}

fn up_to(high: f64) -> Window {
    Window { low: f64::NEG_INFINITY, high }
}

/// In the order of the fields.
fn check(inspected: &Inspected, expected: [f64; 5]) {
    let of = conformity(inspected, 1).unwrap();
    let found = [of.nonconforming, of.rejected, of.consumer_risk, of.producer_risk, of.escapes];
    for (found, expected) in found.iter().zip(expected) {
        assert!((found - expected).abs() < 1e-9, "{found} not {expected} of {of:?}");
    }
}

/// mpmath 1.4.1 at 25 digits: quad of the density times the probability of acceptance, split at every sd of the gauge.
#[test]
fn risks_are_the_double_integrals() {
    // Resistors of 1500 ohm +- 0.2 by a process of sd 0.12, u = 0.04, guard bands of none, u and 2 u: JCGM 106:2012, 9.5 (the
    // setting from memory).
    for (at, expected) in [
        (
            0.2,
            [
                0.095_580_704_545_629_4,
                0.113_846_298_006_658,
                0.018_942_206_717_029_1,
                0.037_207_800_178_057_7,
                0.021_375_757_585_190_8,
            ],
        ),
        (
            0.16,
            [
                0.095_580_704_545_629_4,
                0.205_903_210_732_068,
                0.004_334_072_221_819_25,
                0.114_656_578_408_258,
                0.005_457_863_928_419_58,
            ],
        ),
        (
            0.12,
            [
                0.095_580_704_545_629_4,
                0.342_781_711_147_911,
                0.000_468_633_598_870_355,
                0.247_669_640_201_152,
                0.000_713_056_235_377_868,
            ],
        ),
    ] {
        check(&one_by_one(normal(0.12), Window::within(0.2), Window::within(at), 0.0, 0.04), expected);
    }
    // A bias, and an acceptance that is not even.
    let accept = Window { low: -1.3, high: 1.4 };
    let biased = one_by_one(normal(1.0), Window::within(1.5), accept, 0.2, 0.3);
    check(
        &biased,
        [
            0.133_614_402_537_716,
            0.200_593_306_644_202,
            0.014_393_376_234_600_1,
            0.081_372_280_341_085_6,
            0.018_005_073_455_388_2,
        ],
    );
    // One limit.
    check(
        &one_by_one(normal(1.0), up_to(1.2), up_to(1.0), 0.1, 0.25),
        [
            0.115_069_670_221_708,
            0.191_296_588_684_741,
            0.002_391_940_734_209_78,
            0.078_618_859_197_242_7,
            0.002_957_747_798_194_11,
        ],
    );
}

/// Unit normal parts and a gauge of sd 0.2 and 0.3: rejected, and escapes of those taken (own double integral).
#[test]
fn a_gauge_error_turns_good_parts_away_and_lets_bad_ones_pass() {
    for (limit, sd, rejected, escapes) in [(2.0, 0.2, 4.986, 0.713_1), (1.5, 0.3, 15.08, 2.766)] {
        let of = one_by_one(normal(1.0), Window::within(limit), Window::within(limit), 0.0, sd);
        let of = conformity(&of, 1).unwrap();
        assert!((100.0 * of.rejected - rejected).abs() < 5e-3, "{of:?}");
        assert!((100.0 * of.escapes - escapes).abs() < 5e-4, "{of:?}");
        // What is taken is what conforms, less the producer's risk, and the consumer's risk.
        let taken = 1.0 - of.nonconforming - of.producer_risk + of.consumer_risk;
        assert!((taken - 1.0 + of.rejected).abs() < 1e-12);
    }
}

/// An exact gauge errs in nothing, and of what is between acceptance and tolerance the risk is the producer's.
#[test]
fn an_exact_gauge_has_no_consumers_risk() {
    let distribution = || Distribution::Uniform(Uniform::new(2.0).unwrap());
    let of = one_by_one(distribution(), Window::within(1.0), Window::within(0.8), 0.0, 0.0);
    check(&of, [0.5, 0.6, 0.0, 0.1, 0.0]);
    // Read 0.5 too high, what is from -1.3 to 0.3 is taken.
    let of = one_by_one(distribution(), Window::within(1.0), Window::within(0.8), 0.5, 0.0);
    check(&of, [0.5, 0.6, 0.3 / 4.0, 0.7 / 4.0, 0.3 / 1.6]);
}

/// Steps to either side, one part in five: all of a jump is on the limit, and belongs to it.
#[test]
fn jumps_of_a_distribution_count_whole() {
    let distribution = || Distribution::bernoulli(0.2).unwrap();
    check(&one_by_one(distribution(), Window::within(1.0), Window::within(1.0), 0.0, 0.0), [0.0; 5]);
    check(
        &one_by_one(distribution(), Window::within(0.99), Window::within(1.0), 0.0, 0.0),
        [0.2, 0.0, 0.2, 0.0, 0.2],
    );
    // Read with sd 1, half of those on a limit are turned away to that side, and 2.275 % to the other: Phi(-2) = 0.022750131948.
    let of = one_by_one(distribution(), Window::within(1.0), Window::within(1.0), 0.0, 1.0);
    let of = conformity(&of, 1).unwrap();
    let expected = 0.2 * (0.5 + 0.022_750_131_948_179_2) + 0.8 * 2.0 * 0.158_655_253_931_457;
    assert!((of.rejected - expected).abs() < 1e-9, "{of:?}");
}

/// A part of three values: every share is counted over the eight ways that they can come out.
#[test]
fn shares_of_a_part_are_those_of_all_its_values() {
    let of = one_by_one(normal(1.0), Window::within(1.5), Window::within(1.4), 0.0, 0.3);
    let (one, three) = (conformity(&of, 1).unwrap(), conformity(&of, 3).unwrap());
    let (conforming, taken) = (1.0 - one.nonconforming, 1.0 - one.rejected);
    let both = taken - one.consumer_risk;
    assert!((three.nonconforming - (1.0 - conforming.powi(3))).abs() < 1e-14);
    assert!((three.rejected - (1.0 - taken.powi(3))).abs() < 1e-14);
    // All taken, one, two or three of them outside.
    let escaped = one.consumer_risk;
    let expected = 3.0 * both * both * escaped + 3.0 * both * escaped * escaped + escaped.powi(3);
    assert!((three.consumer_risk - expected).abs() < 1e-14, "{three:?}");
    assert!((three.producer_risk - (conforming.powi(3) - both.powi(3))).abs() < 1e-14);
    assert!((turned_away(&of, 3) - (1.0 / taken.powi(3) - 1.0)).abs() < 1e-12);
    assert!((gauged(&of, 3) - 1.0 / taken.powi(3)).abs() < 1e-12);
}

/// Normal parts of normal lots are normal: variances add.
#[test]
fn lots_and_parts_together_are_the_delivered_parts() {
    let (tolerance, accept) = (Window::within(1.5), Window { low: -1.3, high: 1.4 });
    let alike = one_by_one(normal(1.0), tolerance, accept, 0.2, 0.3);
    let lots = Inspected { delivered: normal(0.8), lot: Some(normal(0.6)), ..alike.clone() };
    let (alike, lots) = (conformity(&alike, 1).unwrap(), conformity(&lots, 1).unwrap());
    for (a, b) in [
        (alike.nonconforming, lots.nonconforming),
        (alike.rejected, lots.rejected),
        (alike.consumer_risk, lots.consumer_risk),
        (alike.producer_risk, lots.producer_risk),
        (alike.escapes, lots.escapes),
    ] {
        assert!((a - b).abs() < 1e-6, "{a} {b}");
    }
}

/// What shifts a lot and what a part may change places; two even deviations are a triangular one (JCGM 101:2008, clause 6.4).
#[test]
fn a_part_and_its_lot_change_places() {
    let (tolerance, accept) = (Window::within(0.9), Window { low: -0.8, high: 0.7 });
    let uniform = |half_width| Distribution::Uniform(Uniform::new(half_width).unwrap());
    let triangular = Distribution::Triangular(Triangular::new(1.2).unwrap());
    let of = |delivered: Distribution, lot| {
        let alone = one_by_one(delivered, tolerance, accept, 0.05, 0.1);
        let of = conformity(&Inspected { lot, ..alone }, 1).unwrap();
        [of.nonconforming, of.rejected, of.consumer_risk, of.producer_risk, of.escapes]
    };
    // Two equal normal distributions are one, but are not taken for it: lots stay lots.
    let part = || Part { offset: 0.0, distribution: normal(0.5) };
    let mixed = || Some(Distribution::Mixture(Mixture::new(0.5, [part(), part()]).unwrap()));
    for (one, other) in [
        (of(uniform(0.6), Some(normal(0.5))), of(uniform(0.6), mixed())),
        (of(triangular.clone(), Some(normal(0.5))), of(triangular.clone(), mixed())),
        (of(triangular, None), of(uniform(0.6), Some(uniform(0.6)))),
    ] {
        assert!(one.iter().zip(&other).all(|(a, b)| (a - b).abs() < 1e-6), "{one:?} {other:?}");
    }
}

/// A reading on the acceptance limit, the guard band r times U = 2 u, hardly anything known of the parts: 1 - Phi(2 r), JCGM 106:2012,
/// 8.3 (from memory).
#[test]
fn a_reading_on_the_limit_has_the_risk_of_its_guard_band() {
    let sd = 0.1;
    for (r, percent, digits) in [(0.0, 50.0, 5e-3), (0.5, 15.87, 5e-3), (1.0, 2.275, 5e-4)] {
        let reading = 1.0 - 2.0 * sd * r;
        for distribution in [normal(1e5), Distribution::Uniform(Uniform::new(1e3).unwrap())] {
            let of = one_by_one(distribution, up_to(1.0), up_to(reading), 0.0, sd);
            let found = 100.0 * specific_risk(&of, up_to(1.0), reading);
            assert!((found - percent).abs() < digits, "{r}: {found}");
        }
    }
    // Known parts: a normal prior of sd 1 about 0 and a reading x give sd 1/sqrt(1 + 1/u^2) about x/(1 + u^2) (JCGM 106:2012, annex C,
    // from memory).
    let of = one_by_one(normal(1.0), up_to(1.0), up_to(1.0), 0.05, 0.5);
    let expected = crate::math::normal::probability((1.0 / 1.25 - 1.0) / 0.2_f64.sqrt());
    assert!((specific_risk(&of, up_to(1.0), 1.05) - expected).abs() < 1e-9);
    let lots = Inspected { delivered: normal(0.8), lot: Some(normal(0.6)), ..of.clone() };
    assert!((specific_risk(&lots, up_to(1.0), 1.05) - expected).abs() < 1e-6);
    // No part reads so much; an exact gauge knows.
    let narrow =
        one_by_one(Distribution::Uniform(Uniform::new(0.1).unwrap()), up_to(0.05), up_to(0.05), 0.0, 0.001);
    assert_eq!(specific_risk(&narrow, up_to(0.05), 9.0), 1.0);
    let exact = one_by_one(normal(1.0), up_to(1.0), up_to(1.0), 0.5, 0.0);
    assert_eq!((specific_risk(&exact, up_to(1.0), 1.4), specific_risk(&exact, up_to(1.0), 1.6)), (0.0, 1.0));
}

/// Lots alike: what is rejected are whole lots, by the operating characteristic at the share that fails.
#[test]
fn a_sample_turns_lots_away() {
    let plan = Sampling { lot: 500, parts: 80, allowed: 2 };
    let mut of = one_by_one(normal(1.0), Window::within(2.5), Window::within(2.5), 0.0, 0.1);
    of.inspection.sampling = Some(plan);
    let taken = plan.accepts(conformity(&of, 1).unwrap().rejected);
    assert!((turned_away(&of, 1) - (1.0 - taken) / taken).abs() < 1e-9);
    assert!((gauged(&of, 1) - 80.0 / 500.0 / taken).abs() < 1e-9);
    of.inspection.accept = None;
    assert_eq!((turned_away(&of, 1), gauged(&of, 1), conformity(&of, 1)), (0.0, 0.0, None));
}

/// Lots that differ: a tighter limit takes fewer of them, and what is left is better, but never as good as without bad parts.
#[test]
fn a_tighter_limit_takes_fewer_lots_and_better_ones() {
    let at = |limit: f64| {
        let mut inspection =
            inspection(Window::within(1.5), Window::within(limit), Gauge { bias: 0.0, sd: 0.1 });
        inspection.sampling = Some(Sampling { lot: 500, parts: 20, allowed: 1 });
        let first = Spread { distribution: normal(0.5), scope: Scope::Channel };
        let second = Spread { distribution: normal(0.7), scope: Scope::Lot };
        inspect(inspection, &first, Some(&second)).unwrap().0
    };
    let of = [0.8, 1.0, 1.3, 2.0].map(at);
    let lots = of.each_ref().map(|of| lots(of, 1).unwrap());
    assert!(lots.windows(2).all(|pair| pair[0].taken < pair[1].taken && pair[0].escapes < pair[1].escapes));
    let delivered = conformity(&of[0], 1).unwrap().nonconforming;
    assert!(lots.iter().all(|lots| 0.0 < lots.escapes && lots.escapes < delivered));
    let sd = of.each_ref().map(|of| accepted_moments(of).1);
    assert!(sd.windows(2).all(|pair| pair[0] < pair[1]) && sd[3] < delivered_moments(&of[3]).1);
    assert!((gauged(&of[1], 1) - 20.0 / 500.0 / lots[1].taken).abs() < 1e-12);
    assert!((turned_away(&of[1], 1) - (1.0 / lots[1].taken - 1.0)).abs() < 1e-12);
}

/// A mixture is inspected as its two distributions are, each by its share.
#[test]
fn a_mixture_is_the_sum_of_its_distributions() {
    let part = |offset, sd| Part { offset, distribution: normal(sd) };
    let inner = Distribution::Mixture(Mixture::new(0.4, [part(0.3, 0.5), part(-0.1, 0.2)]).unwrap());
    let mixed = Distribution::Mixture(
        Mixture::new(0.25, [part(-0.6, 0.4), Part { offset: 0.2, distribution: inner }]).unwrap(),
    );
    let of = |distribution| one_by_one(distribution, Window::within(0.9), Window::within(0.8), 0.05, 0.2);
    // The whole distribution at once, by its own quantiles, which the screened distribution goes through.
    let Distribution::Screened(screened) = of(mixed.clone()).accepted else { panic!("an inspection") };
    let found = conformity(&of(mixed), 1).unwrap();
    assert!((found.rejected - screened.rejected()).abs() < 1e-8);
    // Shares 0.25, 0.3 and 0.45 of windows moved by -0.6, 0.5 and 0.1.
    let shifted = |by: f64, sd| {
        let (tolerance, accept) = (Window::within(0.9).shifted(-by), Window::within(0.8).shifted(-by));
        conformity(&one_by_one(normal(sd), tolerance, accept, 0.05, 0.2), 1).unwrap()
    };
    let of = [(0.25, shifted(-0.6, 0.4)), (0.3, shifted(0.5, 0.5)), (0.45, shifted(0.1, 0.2))];
    let expected: f64 = of.iter().map(|(share, of)| share * of.consumer_risk).sum();
    assert!((found.consumer_risk - expected).abs() < 1e-12);
}
