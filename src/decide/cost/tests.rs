//! Steps, fronts, offers, benches and swings of candidates made by hand.

use super::*;
use crate::decide::compare::tests::designs;
use crate::decide::price::tests::cost;
use crate::study::{Price, Rework, Success};
use std::ops::Range;

/// Candidates that pass these units of a thousand after these minutes, as many for each of the prices.
fn costed(costs: &[Cost], plans: &[(Range<usize>, f64)]) -> CostResult {
    let plans: Vec<_> = plans.iter().map(|(units, minutes)| (units.clone(), 60.0 * minutes)).collect();
    let compared = designs(costs.len(), &plans);
    let effort = |(_, seconds): &(Range<usize>, f64)| Effort {
        channels: 16,
        gauge_seconds: 0.0,
        turned_away: Vec::new(),
        bench_seconds: *seconds,
        bench_error: 0.0,
        calibration: "plan".into(),
        calibrates: *seconds > 0.0,
        mended: None,
    };
    CostResult::new(compared, costs.to_vec(), plans.iter().map(effort).collect()).unwrap()
}

/// As built, a quick plan, a slower one without a significant gain, and a thorough one.
fn four() -> CostResult {
    costed(&[cost()], &[(0..300, 0.0), (0..900, 20.0), (0..902, 40.0), (0..980, 50.0)])
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9 * b.abs().max(1.0)
}

/// Parts of 1000 a unit, a minute at 2, 50 for a scrapped unit, 3 a unit of what is paid once, by hand:
/// (1000 - 35)/0.3 = 3216.67, (1040 - 5)/0.9 + 3 = 1153, (1080 - 4.9)/0.902 + 3 = 1194.91, (1100 - 1)/0.98 + 3 = 1124.43.
#[test]
fn the_cheapest_is_found_and_each_step_begins_at_the_last_that_saved() {
    let of = four();
    let totals: Vec<f64> = of.all().map(|candidate| of.total(candidate)).collect();
    for (found, expected) in
        totals.iter().zip([965.0 / 0.3, 1153.0, 1075.1 / 0.902 + 3.0, 1099.0 / 0.98 + 3.0])
    {
        assert!(close(*found, expected), "{totals:?}");
    }
    assert_eq!(of.cheapest(), Some(3));
    let steps = of.steps(0);
    let ends: Vec<_> = steps.iter().map(|step| (step.from, step.to, step.saving.pays_off())).collect();
    assert_eq!(ends, [(0, 1, true), (1, 2, false), (1, 3, true)]);
    assert!(close(steps[2].seconds, 1800.0) && close(steps[2].saving.amount.value, totals[1] - totals[3]));
    // As built nothing is paid once: 900 more, 3 a unit of it; saved a unit without it: 2063.67 + 3.
    let first = &steps[0].saving;
    assert!((first.extra, first.once) == (900.0, 3.0) && close(first.running().value, 965.0 / 0.3 - 1150.0));
    assert_eq!(first.pays().0, Pays::From(1));
    // Both plans take the same once.
    assert_eq!(steps[2].saving.pays(), (Pays::AtOnce, [Pays::AtOnce; 2]));
    // A bench that takes no time has no steps, and a plan without a good unit is passed over.
    assert!(costed(&[cost()], &[(0..900, 0.0), (0..100, 0.0)]).steps(0).is_empty());
    let of = costed(&[cost()], &[(0..0, 0.0), (0..100, 5.0), (0..500, 10.0)]);
    assert_eq!(of.steps(0).iter().map(|step| (step.from, step.to)).collect::<Vec<_>>(), [(1, 2)]);
    assert!(of.saves(1, 0).is_none() && of.total(0) == f64::INFINITY);
}

#[test]
fn a_candidate_that_takes_more_for_no_more_yield_is_dominated() {
    let of = four();
    // Two units more than quick are not significant; thorough is.
    assert_eq!(of.dominated(Pareto::Minutes), [None, None, Some(1), None]);
    // Thorough is the cheapest and has the highest yield.
    assert_eq!(of.dominated(Pareto::Cost), [Some(3), Some(3), Some(3), None]);
    // At 20 a minute quick is the cheapest: (1400 - 5)/0.9 = 1550; thorough (2000 - 1)/0.98 = 2040.
    let dear = Cost { bench_minute: Price::of(20.0), ..cost() };
    let of = costed(&[dear], &[(0..300, 0.0), (0..900, 20.0), (0..902, 40.0), (0..980, 50.0)]);
    assert_eq!(of.dominated(Pareto::Cost), [Some(1), None, Some(1), None]);
    // Of two that are alike the first stays, of two with as many minutes the one with the higher yield.
    let of = costed(&[cost()], &[(0..900, 5.0), (0..900, 5.0), (0..902, 5.0)]);
    assert_eq!(of.dominated(Pareto::Minutes), [Some(2), Some(2), None]);
    let of = costed(&[cost()], &[(0..900, 5.0), (0..900, 5.0)]);
    assert_eq!(of.dominated(Pareto::Minutes), [None, Some(0)]);
    assert_eq!(of.dominated(Pareto::Cost), [None, Some(0)]);
    // Nobody makes a good unit.
    let of = costed(&[cost()], &[(0..0, 0.0), (0..0, 5.0)]);
    assert_eq!((of.cheapest(), of.dominated(Pareto::Cost)), (None, vec![None, Some(0)]));
}

#[test]
fn plans_of_other_designs_do_not_share_the_front_of_minutes() {
    let of = costed(&[cost(), cost()], &[(0..300, 0.0), (0..900, 20.0), (0..600, 0.0), (0..950, 20.0)]);
    assert_eq!(of.dominated(Pareto::Minutes), [None; 4]);
    assert_eq!(of.dominated(Pareto::Cost), [Some(3), Some(3), Some(3), None]);
}

#[test]
fn an_offer_pays_up_to_the_price_that_makes_the_costs_equal() {
    // Parts of a channel for 48 in place of 40.
    let offer = Cost { channel: Price::of(48.0), ..cost() };
    let plans = [(0..300, 0.0), (0..800, 20.0), (0..700, 0.0), (0..950, 20.0)];
    let of = costed(&[cost(), offer.clone()], &plans);
    let case = &of.offers()[0];
    assert_eq!((case.design, case.own, case.candidate), (1, 1, 3));
    // By hand: the study (1040 - 10)/0.8 + 3 = 1290.5. As built, (16 p + 360 - 15)/0.7 = 1290.5 for p = 34.90; quick,
    // (16 p + 400 - 2.5)/0.95 + 3 = 1290.5 for p = (1223.125 - 397.5)/16 = 51.60.
    assert!((case.most.value - 51.601_562_5).abs() < 1e-9, "{case:?}");
    assert!(
        close(of.total(1), 1290.5) && case.most.low < case.most.value && case.most.value < case.most.high
    );
    // At that price both cost the same, and the interval of the price is that of the saving.
    let even = Cost { channel: Price::of(case.most.value), ..cost() };
    let even = costed(&[cost(), even], &plans);
    assert!(close(even.total(3), 1290.5));
    // Where units are mended, the line that counts may be the other one: at a high price of parts mending pays.
    let mending = |cost: Cost| Cost {
        rework: Some(Rework {
            success: Success::Stated(Price::of(0.5)),
            seconds: 0.0,
            parts: Price::of(700.0),
        }),
        recovered: Price::of(0.0),
        ..cost
    };
    let of = costed(&[mending(cost()), mending(offer)], &plans);
    let most = of.offers()[0].most.value;
    let even = Cost { channel: Price::of(most), ..mending(cost()) };
    let even = costed(&[mending(cost()), even], &plans);
    assert!(
        close(even.cheapest_of(even.of_design(1)).map(|of| even.total(of)).unwrap(), of.total(1)),
        "{most}"
    );
    // Nothing is weighed against a study that makes no good unit, nor an offer that makes none.
    assert!(costed(&[cost(), cost()], &[(0..0, 0.0), (0..10, 0.0)]).offers().is_empty());
    assert!(costed(&[cost(), cost()], &[(0..10, 0.0), (0..0, 0.0)]).offers().is_empty());
}

#[test]
fn benches_are_counted_by_the_time_of_all_units() {
    // By hand: 20/0.9 = 22.2 min for each good unit, 480/22.2 = 21.6 a day, 4752 a year of 220 days: three benches for 10000.
    let many = Cost { units_a_year: 10_000.0, ..cost() };
    let of = costed(&[many], &[(0..300, 0.0), (0..900, 20.0)]);
    let found = of.throughput(1).unwrap();
    assert!(close(found.a_day.value, 21.6) && found.benches == 3, "{found:?}");
    assert!(found.a_day.low < 21.6 && 21.6 < found.a_day.high && found.within == [Some(3); 2]);
    assert!(of.throughput(0).is_none());
    // Exactly two are two: 9504 a year.
    let even = Cost { units_a_year: 9504.0, ..cost() };
    assert_eq!(costed(&[even], &[(0..900, 20.0)]).throughput(0).unwrap().benches, 2);
    assert!(costed(&[cost()], &[(0..0, 20.0)]).throughput(0).is_none());
}

#[test]
fn the_widest_swing_comes_first_and_names_the_cheapest_at_its_ends() {
    let ranged = |value, from, to| Price { value, range: Some((from, to)) };
    let wide = Cost { bench_minute: ranged(2.0, 1.0, 20.0), unit: ranged(360.0, 355.0, 365.0), ..cost() };
    let of = costed(&[wide], &[(0..300, 0.0), (0..900, 20.0), (0..902, 40.0), (0..980, 50.0)]);
    let swings = of.tornado(3);
    let inputs: Vec<_> = swings.iter().map(|swing| swing.input.clone()).collect();
    let price = |key: &str| Input::Price(key.to_owned(), None);
    assert_eq!(inputs, [price("bench_minute"), Input::Yield, price("unit")]);
    // By hand: (1050 - 1)/0.98 + 3 and (2000 - 1)/0.98 + 3; at 20 quick costs 1553.
    let bench = &swings[0];
    assert!(close(bench.costs[0], 1049.0 / 0.98 + 3.0) && close(bench.costs[1], 1999.0 / 0.98 + 3.0));
    assert_eq!((bench.ends, bench.instead), ([1.0, 20.0], [None, Some(1)]));
    assert!(close(swings[2].width(), 10.0 / 0.98));
    // What moves nothing is left out.
    let idle = Cost { gauge_minute: ranged(1.0, 0.5, 2.0), ..cost() };
    assert_eq!(costed(&[idle], &[(0..900, 20.0)]).tornado(0).len(), 1);
}

#[test]
fn a_price_of_the_study_moves_in_its_offers_too_unless_they_have_their_own() {
    let ranged = |value, from, to| Price { value, range: Some((from, to)) };
    let own = Cost { channel: ranged(40.0, 30.0, 50.0), bench_minute: ranged(2.0, 1.0, 3.0), ..cost() };
    let offer = Cost { channel: ranged(41.0, 40.0, 44.0), ..own.clone() };
    let of = costed(&[own, offer], &[(0..800, 20.0), (0..900, 20.0)]);
    let swings = of.tornado(1);
    let inputs: Vec<_> = swings.iter().map(|swing| swing.input.clone()).collect();
    let price = |key: &str, design| Input::Price(key.to_owned(), design);
    // The study's own channel moves nothing of the offer, but makes the study the cheapest.
    assert_eq!(inputs.len(), 4);
    assert!(inputs.contains(&price("channel", None)) && inputs.contains(&price("channel", Some(1))));
    let by_study = swings.iter().find(|swing| swing.input == price("channel", None)).unwrap();
    assert_eq!((by_study.width(), by_study.instead), (0.0, [Some(0), None]));
    let minute = swings.iter().find(|swing| swing.input == price("bench_minute", None)).unwrap();
    assert!(close(minute.width(), 40.0 / 0.9));
}

#[test]
fn averaging_pays_up_to_the_last_step_that_is_shown_to_save() {
    assert_eq!(Ladder::averages(4), [1, 2, 4, 8, 16]);
    assert_eq!(Ladder::averages(6), [1, 2, 4, 6, 8, 16]);
    let ladder = |plans: &[(Range<usize>, f64)]| Ladder {
        averages: vec![1, 2, 4],
        own: 0,
        costed: costed(&[cost()], plans),
    };
    let pays = |plans: &[(Range<usize>, f64)]| ladder(plans).pays_up_to();
    assert_eq!(pays(&[(0..700, 10.0), (0..850, 12.0), (0..852, 30.0)]), Some(1));
    assert_eq!(pays(&[(0..850, 10.0), (0..851, 12.0), (0..852, 30.0)]), Some(0));
    assert_eq!(pays(&[(0..0, 10.0), (0..300, 12.0), (0..852, 30.0)]), Some(2));
    assert_eq!(pays(&[(0..0, 10.0), (0..0, 12.0), (0..0, 30.0)]), None);
}
