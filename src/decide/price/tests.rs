//! Costs by hand, and the coverage of the interval of a saving.

use super::*;
use crate::random::{Key, draw};
use crate::stats::clopper_pearson;
use crate::study::{Price, Success};
use std::collections::BTreeMap;

/// Prices of our own: parts of a unit 1000, a bench minute 2, a set-up of 900 over 300 units.
pub(in crate::decide) fn cost() -> Cost {
    Cost {
        currency: "EUR".into(),
        units_a_year: 300.0,
        channel: Price::of(40.0),
        unit: Price::of(360.0),
        rejected_part: BTreeMap::from([("jumper.length".to_owned(), Price::of(4.0))]),
        gauge_minute: Price::of(0.5),
        bench_minute: Price::of(2.0),
        set_up: BTreeMap::from([(Cost::EVERY.to_owned(), Price::of(900.0))]),
        recovered: Price::of(50.0),
        rework: None,
        bench_day: 8.0 * 3600.0,
        days_a_year: 220.0,
    }
}

fn rework(success: f64) -> Option<Rework> {
    Some(Rework {
        success: Success::Stated(Price::of(success)),
        seconds: 25.0 * 60.0,
        parts: Price::of(40.0),
    })
}

/// Half an hour on the bench.
fn effort() -> Effort {
    Effort {
        channels: 16,
        gauge_seconds: 0.0,
        turned_away: Vec::new(),
        bench_seconds: 1800.0,
        bench_error: 0.0,
        calibration: "quick".into(),
        calibrates: true,
        mended: None,
    }
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9 * b.abs().max(1.0)
}

#[test]
fn a_unit_that_is_scrapped_is_paid_for_by_the_good_ones() {
    // By hand: built for 1000 + 60; (1060 - 0.2 * 50)/0.8 = 1312.50, and 900/300 = 3.
    let bill = Bill::of(&cost(), &effort(), 0.8).unwrap();
    assert!(close(bill.total(), 1315.5) && close(bill.running(), 1312.5), "{bill:?}");
    // Of it scrap: (1060 - 50) * 0.2/0.8 = 252.50. Bench: 30 min/0.8 = 37.5 min.
    assert_eq!((bill.parts, bill.bench, bill.rework, bill.set_up), (1000.0, 60.0, 0.0, 3.0));
    assert!(close(bill.scrap, 252.5) && close(bill.bench_seconds, 2250.0) && bill.good == 0.8);
    assert!(!bill.reworks);
}

#[test]
fn a_unit_that_is_mended_is_scrapped_when_it_fails_again() {
    // By hand: half of the 0.2 that fail are mended for 25 * 2 + 40 = 90 each: G = 0.9,
    // (1060 + 0.2 * 90 - 0.1 * 50)/0.9 = 1073/0.9 = 1192.222; rework 18/0.9 = 20, scrap 1010 * 0.1/0.9 = 112.222.
    let cost = Cost { rework: rework(0.5), ..cost() };
    let bill = Bill::of(&cost, &effort(), 0.8).unwrap();
    assert!(close(bill.total(), 1073.0 / 0.9 + 3.0) && close(bill.good, 0.9) && bill.reworks, "{bill:?}");
    assert!(close(bill.rework, 20.0) && close(bill.scrap, 101.0 / 0.9));
    // 30 min and for a fifth of them 25 min more: 35/0.9 min.
    assert!(close(bill.bench_seconds, 35.0 * 60.0 / 0.9));
}

#[test]
fn parts_that_are_turned_away_and_the_gauge_are_paid_for() {
    // By hand: 2.5 parts at 4, 3 min at 0.5.
    let turned_away = vec![("jumper.length".to_owned(), 2.5), ("feed.length".to_owned(), 7.0)];
    let effort = Effort { gauge_seconds: 180.0, turned_away, ..effort() };
    let bill = Bill::of(&cost(), &effort, 1.0).unwrap();
    assert_eq!((bill.turned_away, bill.gauge, bill.scrap), (10.0, 1.5, 0.0));
    assert!(close(bill.total(), 1000.0 + 60.0 + 10.0 + 1.5 + 3.0));
}

#[test]
fn units_are_mended_only_where_that_is_cheaper() {
    let with = |rework| Cost { rework, ..cost() };
    // What never succeeds is not tried, to the last bit.
    assert_eq!(Bill::of(&with(rework(0.0)), &effort(), 0.7), Bill::of(&cost(), &effort(), 0.7));
    // Nor what costs more than a new unit.
    let dear =
        Some(Rework { success: Success::Stated(Price::of(0.9)), seconds: 0.0, parts: Price::of(5000.0) });
    assert_eq!(Bill::of(&with(dear), &effort(), 0.7), Bill::of(&cost(), &effort(), 0.7));
    // Without a unit that passes, only mending makes good ones.
    assert_eq!(Bill::of(&cost(), &effort(), 0.0), None);
    let mended = Bill::of(&with(rework(0.5)), &effort(), 0.0).unwrap();
    assert!(mended.good == 0.5 && mended.reworks);
}

#[test]
fn the_cost_falls_as_the_yield_rises() {
    for rework in [None, rework(0.1), rework(0.6), rework(1.0)] {
        let cost = Cost { rework: rework.clone(), recovered: Price::of(1000.0), ..cost() };
        let at = |i: usize| Bill::of(&cost, &effort(), i as f64 / 100.0).unwrap().total();
        assert!((1..100).all(|i| at(i + 1) <= at(i)), "{rework:?}");
        let costs = at(100);
        assert!(close(costs, 1063.0), "{costs}");
    }
}

#[test]
fn who_does_nothing_pays_no_set_up_unless_it_is_named() {
    let idle = Effort { calibration: "none".into(), calibrates: false, ..effort() };
    assert_eq!(Bill::of(&cost(), &idle, 1.0).unwrap().set_up, 0.0);
    let named = BTreeMap::from([("none".to_owned(), Price::of(600.0))]);
    let cost = Cost { set_up: named, ..cost() };
    assert_eq!(Bill::of(&cost, &idle, 1.0).unwrap().set_up, 2.0);
    assert_eq!(Bill::of(&cost, &effort(), 1.0).unwrap().set_up, 0.0);
}

#[test]
fn the_ends_of_the_yield_become_those_of_the_cost() {
    let share = clopper_pearson(800, 1000, 0.95);
    let priced = UnitCost::of(&cost(), &effort(), &share);
    let total = priced.total.unwrap();
    let at = |share| Bill::of(&cost(), &effort(), share).unwrap().total();
    assert_eq!((total.low, total.value, total.high), (at(share.high), at(0.8), at(share.low)));
    // A minute of standard error: 1.96 * 2/0.8 = 4.9 to either side, square by square.
    let shaky = UnitCost::of(&cost(), &Effort { bench_error: 60.0, ..effort() }, &share).total.unwrap();
    let by_bench = 1.959_964 * 2.0 / 0.8;
    let expected = ((total.high - total.value).powi(2) + by_bench * by_bench).sqrt();
    assert!((shaky.high - total.value - expected).abs() < 1e-4, "{shaky:?}");
    // All pass: the value is the low end. None passes: nothing is good. One of two: the high end is far, but there.
    let all = UnitCost::of(&cost(), &effort(), &clopper_pearson(50, 50, 0.95)).total.unwrap();
    assert!(all.low == all.value && all.value < all.high);
    let none = UnitCost::of(&cost(), &effort(), &clopper_pearson(0, 50, 0.95));
    assert!(none.bill.is_none() && none.total.is_none());
    let mended = Cost { rework: rework(0.5), ..cost() };
    assert!(UnitCost::of(&mended, &effort(), &clopper_pearson(0, 50, 0.95)).total.unwrap().high.is_finite());
}

#[test]
fn what_cannot_be_bounded_is_not() {
    let share = Estimate { low: 0.0, ..clopper_pearson(5, 50, 0.95) };
    let open = UnitCost::of(&cost(), &effort(), &share);
    assert_eq!(open.total.as_ref().unwrap().high, f64::INFINITY);
    let sure = UnitCost::of(&cost(), &effort(), &clopper_pearson(25, 50, 0.95));
    let pairs = Pairs { both: 5, only_first: 0, only_second: 20, neither: 25, lots: None };
    let saved = open.saves(&sure, &pairs).unwrap();
    assert!(saved.low == f64::NEG_INFINITY && saved.high.is_finite() && saved.value < 0.0, "{saved:?}");
    let turned = Pairs { only_first: 20, only_second: 0, ..pairs };
    let saved = sure.saves(&open, &turned).unwrap();
    assert!(saved.high == f64::INFINITY && saved.low.is_finite() && saved.value > 0.0, "{saved:?}");
}

/// Prices of 0..=n passing units after two ways, the second with more bench time.
fn tables(n: u64) -> [Vec<UnitCost>; 2] {
    let slow = Effort { bench_seconds: 6000.0, ..effort() };
    [effort(), slow].map(|effort| {
        let priced = |passed| UnitCost::of(&cost(), &effort, &clopper_pearson(passed, n, 0.95));
        (0..=n).map(priced).collect()
    })
}

const REPETITIONS: usize = 4_000;

/// Share of repetitions in which an interval holds the true saving, for units that pass both, the first alone and the second
/// alone with these probabilities.
fn coverage(n: usize, shares: [f64; 3], interval: impl Fn(&UnitCost, &UnitCost, &Pairs) -> Estimate) -> f64 {
    let mut draws = vec![0.0; REPETITIONS * n];
    draw::fill::<1>(Key::new(23, "what is saved"), 0, 0, &mut draws);
    let [first, second] = tables(n as u64);
    let [both, one, other] = shares;
    // By the formula of a scrapped unit, its own arithmetic: (B - (1 - Y) 50)/Y + 3.
    let truth = |built: f64, share: f64| (built - (1.0 - share) * 50.0) / share + 3.0;
    let truth = truth(1200.0, both + other) - truth(1060.0, both + one);
    let holds = |draws: &&[f64]| {
        let mut of = Pairs::default();
        for u in *draws {
            match () {
                _ if *u < both => of.both += 1,
                _ if *u < both + one => of.only_first += 1,
                _ if *u < both + one + other => of.only_second += 1,
                _ => of.neither += 1,
            }
        }
        let priced =
            (&first[(of.both + of.only_first) as usize], &second[(of.both + of.only_second) as usize]);
        let found = interval(priced.0, priced.1, &of);
        found.low <= truth && truth <= found.high
    };
    draws.chunks_exact(n).filter(holds).count() as f64 / REPETITIONS as f64
}

#[test]
fn the_interval_of_a_saving_holds_the_truth_as_often_as_it_says() {
    let paired = |mine: &UnitCost, other: &UnitCost, pairs: &Pairs| mine.saves(other, pairs).unwrap();
    // Verdicts that share everything, or nothing, whatever the units say.
    let all_shared = |mine: &UnitCost, other: &UnitCost, _: &Pairs| {
        mine.saves(other, &Pairs { both: 1, neither: 1, ..Pairs::default() }).unwrap()
    };
    let none_shared =
        |mine: &UnitCost, other: &UnitCost, _: &Pairs| mine.saves(other, &Pairs::default()).unwrap();
    // Four standard errors of a share of 0.95. The exact intervals that go in hold more than they say, so the share may be
    // above, by no more than 0.02 here.
    let margin = 4.0 * (0.95 * 0.05 / REPETITIONS as f64).sqrt();
    for (n, shares) in [
        (200, [0.70, 0.15, 0.05]),
        (400, [0.45, 0.25, 0.20]),
        (400, [0.80, 0.02, 0.08]),
        (200, [0.35, 0.30, 0.30]),
    ] {
        let found = coverage(n, shares, paired);
        assert!(0.95 - margin < found && found < 0.97 + margin, "{n} units, {shares:?}: {found}");
    }
    let narrow = coverage(200, [0.70, 0.15, 0.05], all_shared);
    assert!(narrow < 0.95 - margin, "{narrow}");
    let wide = coverage(400, [0.80, 0.02, 0.08], none_shared);
    assert!(wide > 0.97 + margin, "{wide}");
    let against = coverage(200, [0.35, 0.30, 0.30], none_shared);
    assert!(against < 0.95 - margin, "{against}");
}
