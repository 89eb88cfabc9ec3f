//! The search against units whose limits are drawn from a known distribution, so that the true limit is known exactly.

use super::interim::InterimAnalysis;
use super::*;
use crate::math::{normal, scalar};
use crate::random::{Key, draw};

/// Standard deviation of the logarithm of the value up to which a unit passes.
const SPREAD: f64 = 0.4;

const SHARE: f64 = 0.95;

/// Units that each pass up to a value of their own, log-normal about 1: at x, the share Phi(-ln x / SPREAD) passes.
struct Lot {
    /// Value up to which each unit passes.
    most: Vec<f64>,
    /// Values tried, for the tests; no verdict uses them.
    tried: Vec<f64>,
}

impl Lot {
    fn new(seed: u64, units: u64) -> Lot {
        let mut most = vec![0.0; units as usize];
        draw::fill::<1>(Key::new(seed, "a lot"), 0, 0, &mut most);
        most.iter_mut().for_each(|u| *u = scalar::exp(SPREAD * normal::quantile(*u)));
        Lot { most, tried: Vec::new() }
    }

    /// Feeds the units, of which unit i passes at x when `passes` says so of its own value.
    fn feed(&mut self, x: f64, units: &mut Units, passes: impl Fn(f64) -> bool) -> Result<()> {
        self.tried.push(x);
        for chunk in self.most.chunks(64) {
            let passing = chunk.iter().filter(|most| passes(**most)).count();
            units.take(chunk.len() as u64, passing as u64);
        }
        Ok(())
    }
}

/// Value at which the share of units that pass is `share`.
fn truth(share: f64) -> f64 {
    scalar::exp(-SPREAD * normal::quantile(share))
}

fn demand(units: u64) -> Demand {
    Demand { share: SHARE, confidence: 0.95, units }
}

fn wide() -> Span {
    Span::of_quantities(1.0 / 32.0, 32.0)
}

fn found(lot: &mut Lot, demand: &Demand, span: &Span) -> LimitResult {
    find_limit(demand, span, Some(1.0), &mut |x, units| lot.feed(x, units, |most| x <= most)).unwrap()
}

fn limit(found: &LimitResult) -> Limit {
    match found.answer {
        Answer::Limit(limit) => limit,
        other => panic!("{other:?}"),
    }
}

#[test]
fn both_ends_are_found_where_the_verdict_turns() {
    let found = found(&mut Lot::new(1, 4000), &demand(4000), &wide());
    let limit = limit(&found);
    let (meets, misses) = (limit.meets.unwrap(), limit.misses.unwrap());
    assert!(limit.larger_is_looser && meets < misses && found.is_finished);
    // No value one resolution (a hundredth, or a tenth of the interval) inside the interval has a verdict.
    let closest = 1.0001 * scalar::pow(misses / meets, 0.1).max(1.01);
    let analyses = InterimAnalyses::new(&demand(4000));
    let mut lot = Lot::new(1, 4000);
    for inside in [closest * meets, misses / closest] {
        let mut units = Units { judge: Judge::new(&analyses), refused: None };
        lot.feed(inside, &mut units, |most| inside <= most).unwrap();
        assert_eq!(units.judge.probe(inside).unwrap().verdict, Verdict::Unclear, "{inside}");
    }
    assert_eq!(found.probe(meets).unwrap().verdict, Verdict::Meets);
    assert_eq!(found.probe(misses).unwrap().verdict, Verdict::Misses);
    // The best estimate is where 3800 of the 4000 pass: the 201st smallest of the units' own values, to the resolution.
    let mut most = Lot::new(1, 4000).most;
    most.sort_by(f64::total_cmp);
    let best = limit.best.unwrap();
    assert!((best / most[200] - 1.0).abs() < 0.01, "{best} {}", most[200]);
    assert!(found.contradictions.is_empty());
}

/// The study can have only some whole numbers: the others neither meet nor miss.
#[test]
fn a_refused_value_inside_a_range_neither_meets_nor_misses() {
    let span = Span { from: 2.0, to: 64.0, spacing: Spacing::Whole };
    let demand = Demand { share: 0.9, confidence: 0.95, units: 2000 };
    // All pass from 20 on, none below; the study can have powers of two alone.
    let mut ask = |value: f64, units: &mut Units| {
        if (value as u64).is_power_of_two() {
            while !units.are_enough() {
                units.take(64, if value >= 20.0 { 64 } else { 0 });
            }
        } else {
            units.refuse(format!("{value} is no power of two"));
        }
        Ok(())
    };
    let found = find_limit(&demand, &span, None, &mut ask).unwrap();
    let Limit { meets, misses, larger_is_looser, .. } = limit(&found);
    assert_eq!((meets, misses, larger_is_looser, found.is_finished), (Some(32.0), Some(16.0), false, true));
    assert!(found.probes.iter().all(|probe| (probe.value as u64).is_power_of_two()));
    assert!(!found.refused.is_empty() && found.refused.iter().all(|of| !(of.value as u64).is_power_of_two()));
    // No value is tried twice.
    let mut refused: Vec<f64> = found.refused.iter().map(|of| of.value).collect();
    refused.sort_by(f64::total_cmp);
    assert!(refused.windows(2).all(|two| two[0] < two[1]), "{refused:?}");
    // Of sizes, a gap: the limit of 3 mm is inside, and its ends are as close as the study has values.
    let span = Span::of_quantities(0.1, 10.0);
    let mut gap = |value: f64, units: &mut Units| {
        if (2.0..4.0).contains(&value) {
            units.refuse("a gap".to_owned());
        }
        while !units.are_enough() {
            units.take(64, if value <= 3.0 { 64 } else { 0 });
        }
        Ok(())
    };
    let found = find_limit(&demand, &span, None, &mut gap).unwrap();
    let Limit { meets, misses, .. } = limit(&found);
    assert!(meets.unwrap() < 2.0 && misses.unwrap() >= 4.0, "{found:?}");
    // A range of one value is that value.
    let one = Span { from: 32.0, to: 32.0, spacing: Spacing::Whole };
    let found = find_limit(&demand, &one, Some(32.0), &mut ask).unwrap();
    assert_eq!((found.answer, found.probes.len()), (Answer::AllMeet, 1));
}

/// Coverage of a schedule of interim analyses, with the mean width and the units over those of bisection.
fn coverage(analyses: &InterimAnalyses, repetitions: u64) -> (f64, f64, f64) {
    let units = analyses.last().units;
    let (mut held, mut width, mut built) = (0.0, 0.0, 0.0);
    for seed in 0..repetitions {
        let mut lot = Lot::new(1000 + seed, units);
        let found = find_by(analyses, &demand(units), &wide(), Some(1.0), &mut |x, units| {
            lot.feed(x, units, |most| x <= most)
        });
        let found = found.unwrap();
        let Limit { meets, misses, .. } = limit(&found);
        let (meets, misses) = (meets.unwrap(), misses.unwrap());
        held += f64::from(u8::from(meets <= truth(SHARE) && truth(SHARE) <= misses));
        width += scalar::ln(misses / meets);
        built += found.units() as f64 / found.units_by_halving as f64;
    }
    let repetitions = repetitions as f64;
    (held / repetitions, width / repetitions, built / repetitions)
}

const REPETITIONS: u64 = 200;

/// Three standard errors below the confidence.
fn lowest_coverage() -> f64 {
    0.95 - 3.0 * (0.95 * 0.05 / REPETITIONS as f64).sqrt()
}

#[test]
fn the_interval_holds_the_true_limit_as_often_as_it_says() {
    for units in [500, 4000] {
        let analyses = InterimAnalyses::new(&demand(units));
        let (held, width, built) = coverage(&analyses, REPETITIONS);
        assert!(held >= lowest_coverage(), "{units}: {held}");
        // A share's standard error over the slope of the yield, both ways (own derivation): the distribution's density at the limit
        // is phi(z) / SPREAD over the logarithm.
        let slope = normal::density(normal::quantile(SHARE)) / SPREAD;
        let ideal = 2.0 * normal::quantile(0.975) * (SHARE * (1.0 - SHARE) / units as f64).sqrt() / slope;
        assert!(width < 2.0 * ideal && width > 0.8 * ideal, "{units}: {width} {ideal}");
        // Few units leave little to save.
        assert!(built < if units == 500 { 0.7 } else { 0.5 }, "{units}: {built}");
    }
}

/// The counter-example: a rule that decides at the first analysis by its point estimate does not keep the confidence.
#[test]
fn a_rule_that_takes_the_first_estimate_for_the_truth_fails_the_same_check() {
    let mut analyses = InterimAnalyses::new(&demand(4000));
    for InterimAnalysis { units, meets_from, misses_below, .. } in &mut analyses.at {
        *meets_from = (SHARE * *units as f64).ceil() as u64;
        *misses_below = *meets_from;
    }
    let (held, ..) = coverage(&analyses, REPETITIONS);
    assert!(held < lowest_coverage(), "{held}");
}

#[test]
fn fewer_can_be_looser_and_whole_numbers_stay_whole() {
    // As many "bits" as a unit needs: at b, units with 6 / most <= b pass; the share is Phi(ln(b / 6) / SPREAD).
    let span = Span { from: 1.0, to: 20.0, spacing: Spacing::Whole };
    let mut lot = Lot::new(5, 4000);
    let found = find_limit(&demand(4000), &span, Some(6.0), &mut |bits, units| {
        lot.feed(bits, units, |most| 6.0 / most <= bits)
    });
    let found = found.unwrap();
    assert!(lot.tried.iter().all(|bits| bits.fract() == 0.0), "{:?}", lot.tried);
    // Phi(ln(11 / 6) / 0.4) = 0.935 and Phi(ln(12 / 6) / 0.4) = 0.958: nine and five standard errors of 4000 units off.
    let expected = Limit {
        larger_is_looser: false,
        tightest: 20.0,
        meets: Some(12.0),
        misses: Some(11.0),
        best: Some(12.0),
    };
    assert_eq!(limit(&found), expected);
    assert!(found.probes.len() < 10);
}

#[test]
fn a_range_that_ends_too_soon_leaves_an_end_open() {
    let mut lot = Lot::new(2, 4000);
    let near = truth(SHARE);
    let limit_in = |lot: &mut Lot, from: f64, to: f64| {
        limit(&found(lot, &demand(4000), &Span::of_quantities(significant(from), significant(to))))
    };
    let open = limit_in(&mut lot, 0.1, near);
    assert!(open.meets.is_some() && open.misses.is_none() && open.best.is_none() && open.larger_is_looser);
    let open = limit_in(&mut lot, near, 2.0);
    assert!(open.meets.is_none() && open.misses.is_some() && open.best.is_none() && open.larger_is_looser);
}

#[test]
fn a_range_without_a_limit_says_so() {
    let mut lot = Lot::new(3, 2000);
    let mut answer = |from, to| found(&mut lot, &demand(2000), &Span::of_quantities(from, to)).answer;
    assert_eq!(answer(0.01, 0.1), Answer::AllMeet);
    assert_eq!(answer(0.9, 5.0), Answer::NoneMeets);
    assert_eq!(answer(significant(0.999 * truth(SHARE)), significant(1.001 * truth(SHARE))), Answer::Unclear);
    assert_eq!(answer(0.0, 0.1), Answer::AllMeet);
    // Too small and too large are both bad: no loosest value.
    let mut lot = Lot::new(4, 2000);
    let turns = find_limit(&demand(2000), &wide(), Some(1.0), &mut |x: f64, units| {
        lot.feed(x, units, |most| 0.1 <= x * most && x <= 10.0 * most)
    });
    assert_eq!(turns.unwrap().answer, Answer::Turns);
}

#[test]
fn zero_and_negative_numbers_have_their_place() {
    let mut lot = Lot::new(6, 4000);
    let reference = limit(&found(&mut lot, &demand(4000), &wide()));
    let from_zero = limit(&found(&mut lot, &demand(4000), &Span::of_quantities(0.0, 32.0)));
    for (a, b) in [(reference.meets, from_zero.meets), (reference.misses, from_zero.misses)] {
        assert!((a.unwrap() / b.unwrap() - 1.0).abs() < 0.03, "{reference:?} {from_zero:?}");
    }
    // Levels in dB, tight at -20 and loose at 0: the value is the logarithm of the one above.
    let span = Span::of_quantities(-20.0, 0.0);
    let in_db = find_limit(&demand(4000), &span, None, &mut |db, units| {
        lot.feed(db, units, |most| scalar::exp10(db / 20.0) <= most)
    });
    let in_db = limit(&in_db.unwrap());
    let db = |value: f64| 20.0 * scalar::log10(value);
    assert!((in_db.meets.unwrap() - db(reference.meets.unwrap())).abs() < 0.13, "{in_db:?} {reference:?}");
}

#[test]
fn contradicting_probes_are_reported() {
    let span = Span { from: 1.0, to: 6.0, spacing: Spacing::Whole };
    let searched = |yields: [f64; 6]| {
        let mut lot = Lot::new(7, 4000);
        let found = find_limit(&demand(4000), &span, Some(2.0), &mut |x, units| {
            let needed = truth(yields[x as usize - 1]);
            lot.feed(x, units, |most| needed <= most)
        });
        found.unwrap()
    };
    assert!(searched([0.999, 0.95, 0.94, 0.8, 0.5, 0.2]).contradictions.is_empty());
    let found = searched([0.999, 0.95, 0.99, 0.8, 0.5, 0.2]);
    let [(tight, loose)] = found.contradictions[..] else { panic!("{found:?}") };
    assert_eq!((found.probes[tight].value, found.probes[loose].value), (2.0, 3.0));
    // The wider interval counts: what meets again behind a value that does not is no answer.
    assert_eq!(limit(&found).meets, Some(1.0));
}

#[test]
fn a_stopped_search_keeps_what_it_knows() {
    let mut lot = Lot::new(8, 4000);
    let whole = found(&mut lot, &demand(4000), &wide());
    let held = |found: &LimitResult, left: usize| {
        let Limit { meets, misses, .. } = limit(found);
        meets.unwrap() <= truth(SHARE) && truth(SHARE) <= misses.unwrap() || left < 2
    };
    for left in 0..whole.probes.len() {
        let mut tries = 0;
        let part = find_limit(&demand(4000), &wide(), Some(1.0), &mut |x, units| {
            tries += 1;
            if tries > left { Ok(()) } else { lot.feed(x, units, |most| x <= most) }
        });
        let part = part.unwrap();
        assert!(!part.is_finished && part.probes[..] == whole.probes[..left], "{left}");
        assert!(left < 2 && part.answer == Answer::Unclear || held(&part, left), "{left} {part:?}");
    }
}

#[test]
fn the_best_value_may_lie_inside_the_range() {
    // Every bit more takes away a part of the error and adds one of its own: the share that passes is best at 6.
    let yields = [0.1, 0.3, 0.6, 0.9, 0.97, 0.999, 0.98, 0.97, 0.96, 0.948];
    let span = Span { from: 1.0, to: 10.0, spacing: Spacing::Whole };
    let search = |own| {
        let mut lot = Lot::new(9, 4000);
        let oracle: Oracle = &mut |x, units| {
            let needed = truth(yields[x as usize - 1]);
            lot.feed(x, units, |most| needed <= most)
        };
        find_limit(&demand(4000), &span, Some(own), oracle).unwrap()
    };
    let found = search(6.0);
    let expected = Limit {
        larger_is_looser: false,
        tightest: 6.0,
        meets: Some(5.0),
        misses: Some(4.0),
        best: Some(5.0),
    };
    assert_eq!(limit(&found), expected);
    assert!(found.probes.iter().all(|probe| probe.value <= 6.0 || probe.value == 10.0));
}

#[test]
fn a_failing_oracle_ends_the_search() {
    let failed = find_limit(&demand(100), &wide(), None, &mut |_, _| {
        Err(crate::error::Error::Threads("none".into()).into())
    });
    assert!(failed.is_err());
}
