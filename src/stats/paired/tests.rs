use super::*;
use crate::random::{Key, draw};

const Z: f64 = 1.959_963_984_540_054;

fn pairs(both: u64, only_first: u64, only_second: u64, neither: u64) -> Pairs {
    Pairs { both, only_first, only_second, neither, lots: None }
}

/// Verdicts of every sort: many and few of them apart, none, all, one.
fn all_sorts() -> Vec<Pairs> {
    vec![
        pairs(70, 20, 5, 5),
        pairs(5, 20, 5, 70),
        pairs(950, 30, 12, 8),
        pairs(0, 9, 0, 1),
        pairs(3, 0, 4, 3),
        pairs(9_990, 1, 0, 9),
        pairs(40, 30, 30, 0),
        pairs(0, 12, 0, 0),
        pairs(1, 0, 0, 0),
    ]
}

/// The score of a difference whose other parameter, the share that passes the second alone, is looked for by brute force: the one
/// of a grid, made finer about its best thrice, at which the verdicts are most likely.
fn score_by_grid(of: &Pairs, difference: f64) -> f64 {
    let (n, b, c) = (of.count() as f64, of.only_first as f64, of.only_second as f64);
    let term = |count: f64, share: f64| if count > 0.0 { count * share.max(1e-300).ln() } else { 0.0 };
    let likelihood =
        |q: f64| term(b, q + difference) + term(c, q) + term(n - b - c, 1.0 - 2.0 * q - difference);
    let (mut low, mut high) = ((-difference).max(0.0), 0.5 * (1.0 - difference));
    let (first, last) = (low, high);
    let mut best = low;
    for _ in 0..4 {
        const POINTS: usize = 1_000;
        let step = (high - low) / POINTS as f64;
        for i in 0..=POINTS {
            let q = low + step * i as f64;
            if likelihood(q) > likelihood(best) {
                best = q;
            }
        }
        (low, high) = ((best - 2.0 * step).max(first), (best + 2.0 * step).min(last));
    }
    let variance = n * (2.0 * best + difference - difference * difference);
    (b - c - n * difference) / variance.sqrt()
}

#[test]
fn the_ends_are_where_the_score_test_by_brute_force_stops_rejecting() {
    for of in all_sorts() {
        let found = of.difference(0.95);
        for (end, inward) in [(found.low, 1.0), (found.high, -1.0)] {
            // An end of the whole range cannot be crossed.
            if end.abs() == 1.0 {
                continue;
            }
            let at = |distance: f64| score_by_grid(&of, end + inward * distance).abs();
            assert!((at(0.0) - Z).abs() < 1e-3, "{of:?}: {end} has score {}", at(0.0));
            let little = 0.05 * (found.high - found.low).min(1.0 - end.abs());
            assert!(at(little) < Z && at(-little) > Z, "{of:?}: {} and {}", at(little), at(-little));
        }
        assert!(found.low <= found.value && found.value <= found.high);
    }
}

#[test]
fn exchanged_verdicts_change_the_sign() {
    for of in all_sorts() {
        let other = Pairs { only_first: of.only_second, only_second: of.only_first, ..of };
        let both = [Pairs::difference as fn(&Pairs, f64) -> Estimate, Pairs::difference_unpaired];
        for difference in both {
            let (found, turned) = (difference(&of, 0.9), difference(&other, 0.9));
            assert!((found.value + turned.value).abs() < 1e-15);
            assert!((found.low + turned.high).abs() < 1e-12 && (found.high + turned.low).abs() < 1e-12);
        }
        assert_eq!(of.units_to_tell(0.9), other.units_to_tell(0.9));
    }
}

/// Without a unit apart the most likely share of such is none, the variance of the score is n d (1 - d), and
/// n d/sqrt(n d (1 - d)) = z gives d = z^2/(n + z^2). Own derivation.
#[test]
fn units_that_all_agree_leave_the_closed_form() {
    for n in [1, 10, 1_000, 1_000_000] {
        let found = pairs(n - n / 3, 0, 0, n / 3).difference(0.95);
        let expected = Z * Z / (n as f64 + Z * Z);
        assert_eq!(found.value, 0.0);
        assert!((found.high / expected - 1.0).abs() < 1e-9, "{n}: {}", found.high);
        assert!((found.low + found.high).abs() < 1e-12);
    }
}

#[test]
fn without_units_nothing_is_known() {
    for found in [Pairs::default().difference(0.95), Pairs::default().difference_unpaired(0.95)] {
        assert!(found.value.is_nan());
        assert_eq!((found.low, found.high, found.count), (-1.0, 1.0, 0));
    }
    assert_eq!(Pairs::default().units_to_tell(0.95), None);
}

#[test]
fn strangers_add_what_their_own_intervals_miss_by() {
    // By hand: Wilson's interval of 10 of 10 begins at 1/(1 + z^2/10) = 0.72247, that of 0 of 10 ends at 0.27753, and
    // 1 - 0.27753 sqrt(2) = 0.60752. Newcombe's own table has 0.6075 to 1.0000 (from memory).
    let found = pairs(0, 10, 0, 0).difference_unpaired(0.95);
    assert!((found.low - 0.6075).abs() < 5e-5 && (found.high - 1.0).abs() < 1e-12, "{found:?}");
}

/// The interval leaves 0 out from that many units of the same sort on, and not before.
#[test]
fn as_many_units_as_are_said_tell_a_difference() {
    for of in [pairs(70, 8, 5, 17), pairs(9_990, 3, 1, 6), pairs(0, 5, 1, 4), pairs(70, 25, 5, 0)] {
        let n = of.count();
        let units = of.units_to_tell(0.95).unwrap();
        let times = |k: u64| {
            pairs(k * of.both, k * of.only_first, k * of.only_second, k * of.neither).difference(0.95)
        };
        let tells = |found: &Estimate| found.low > 0.0 || found.high < 0.0;
        // A hundred times as many units have a hundred times the square of the score.
        let fine = pairs(100 * of.both, 100 * of.only_first, 100 * of.only_second, 100 * of.neither);
        assert!(units.abs_diff(fine.units_to_tell(0.95).unwrap()) <= 1, "{of:?}");
        assert!(tells(&times(units.div_ceil(n))), "{of:?}: {units}");
        let fewer = (units - 1) / n;
        assert!(fewer == 0 || !tells(&times(fewer)), "{of:?}: {units}");
    }
    for nothing_to_tell in [pairs(5, 3, 3, 5), pairs(5, 0, 0, 5)] {
        assert_eq!(nothing_to_tell.units_to_tell(0.95), None);
    }
    // z^2 (b + c)/(b - c)^2 n for the difference 0: 3.8415 * 13/9 * 100 = 554.9, by hand.
    assert_eq!(pairs(70, 8, 5, 17).units_to_tell(0.95), Some(555));
    // Nothing is needed to tell a difference from what it is not.
    assert!(pairs(70, 8, 5, 17).units_to_tell_from(0.5, 0.95) < Some(10));
}

#[test]
fn pairing_narrows_what_goes_together_and_widens_what_does_not() {
    // Variances of 0.9 * 0.1 twice, and of the difference 0.04: a factor of sqrt(0.18/0.04) = 2.12.
    let together = pairs(8_800, 200, 200, 800).width_ratio(0.95);
    assert!((together - 2.12).abs() < 0.02, "{together}");
    // 0.5 * 0.5 twice, and of the difference 0.8 - 0: sqrt(0.5/0.8) = 0.79.
    let against = pairs(1_000, 4_000, 4_000, 1_000).width_ratio(0.95);
    assert!((against - 0.79).abs() < 0.02, "{against}");
    // Verdicts that know nothing of each other: 1.
    let apart = pairs(4_900, 2_100, 2_100, 900).width_ratio(0.95);
    assert!((apart - 1.0).abs() < 0.02, "{apart}");
}

#[test]
fn verdicts_go_together_from_all_to_against() {
    // By hand: (40 * 30 - 10 * 20)/sqrt(50 * 50 * 60 * 40) = 1000/2449.49.
    assert!((pairs(40, 10, 20, 30).correlation() - 0.408_248).abs() < 1e-6);
    assert_eq!(pairs(40, 0, 0, 30).correlation(), 1.0);
    assert_eq!(pairs(0, 10, 20, 0).correlation(), -1.0);
    // One of them always the same, or no unit.
    for of in [pairs(40, 10, 0, 0), pairs(0, 0, 20, 30), pairs(40, 0, 0, 0), Pairs::default()] {
        assert_eq!(of.correlation(), 0.0);
    }
}

const REPETITIONS: usize = 4_000;

/// Share of repetitions in which an interval holds the true difference, for units that pass both, the first alone and the
/// second alone with these probabilities.
fn coverage(units: usize, shares: [f64; 3], interval: impl Fn(&Pairs) -> Estimate) -> f64 {
    let mut draws = vec![0.0; REPETITIONS * units];
    draw::fill::<1>(Key::new(11, "pairs"), 0, 0, &mut draws);
    let [both, first, second] = shares;
    let holds = |draws: &&[f64]| {
        let mut of = Pairs::default();
        for u in *draws {
            match () {
                _ if *u < both => of.both += 1,
                _ if *u < both + first => of.only_first += 1,
                _ if *u < both + first + second => of.only_second += 1,
                _ => of.neither += 1,
            }
        }
        let found = interval(&of);
        found.low <= first - second && first - second <= found.high
    };
    draws.chunks_exact(units).filter(holds).count() as f64 / REPETITIONS as f64
}

#[test]
fn the_interval_holds_the_truth_as_often_as_it_says() {
    let paired = |of: &Pairs| of.difference(0.95);
    let unpaired = |of: &Pairs| of.difference_unpaired(0.95);
    // Four standard errors of a share of 0.95, 0.0138, and for few units apart what the steps of whole units cost: 0.9397 at the
    // third setting, 0.9883 at the fourth (own enumeration of all outcomes, which gives 0.949 to 0.951 for the others).
    let margin = 4.0 * (0.95 * 0.05 / REPETITIONS as f64).sqrt();
    for (units, shares, low, high) in [
        (200, [0.70, 0.15, 0.05], 0.949, 0.951),
        (300, [0.20, 0.30, 0.30], 0.949, 0.951),
        (200, [0.90, 0.03, 0.01], 0.9397, 0.951),
        (100, [0.90, 0.02, 0.005], 0.949, 0.9883),
    ] {
        let found = coverage(units, shares, paired);
        assert!(low - margin < found && found < high + margin, "{units} units, {shares:?}: {found}");
    }
    // The same bounds see what forgets the pairing: verdicts that go together make it too wide, ones that do not too narrow.
    let together = coverage(200, [0.70, 0.15, 0.05], unpaired);
    assert!(together > 0.951 + margin, "{together}");
    let against = coverage(300, [0.20, 0.30, 0.30], unpaired);
    assert!(against < 0.949 - margin, "{against}");
    // And a covariance of the wrong sign: p1 q1 + p2 q2 + 2 cov in the place of - 2 cov.
    let wrong_sign = |of: &Pairs| {
        let n = of.count() as f64;
        let [both, first, second] = [of.both, of.only_first, of.only_second].map(|count| count as f64 / n);
        let (p1, p2) = (both + first, both + second);
        let variance = p1 * (1.0 - p1) + p2 * (1.0 - p2) + 2.0 * (both - p1 * p2);
        let half = Z * (variance / n).sqrt();
        Estimate { low: p1 - p2 - half, high: p1 - p2 + half, ..of.difference(0.95) }
    };
    assert!(coverage(200, [0.70, 0.15, 0.05], wrong_sign) > 0.951 + margin);
    assert!(coverage(300, [0.20, 0.30, 0.30], wrong_sign) < 0.949 - margin);
}

/// Verdicts of twelve lots of five: those that pass the first alone, and the second alone.
fn in_lots() -> Pairs {
    use crate::stats::{Lots, PairsByLots};
    let [mut first, mut second, mut difference] = [Lots::new(5); 3];
    let alone =
        [(3, 0), (0, 0), (1, 1), (0, 0), (2, 0), (0, 0), (0, 1), (4, 0), (0, 0), (0, 0), (1, 0), (0, 0)];
    let mut pairs = Pairs::default();
    for (one, other) in alone {
        let (ones, others) = ((1 << one) - 1, ((1 << other) - 1) << one);
        first.push_word(5, 0b11111 & !others);
        second.push_word(5, 0b11111 & !ones);
        difference.push_difference(5, ones, others);
        pairs.only_first += one;
        pairs.only_second += other;
        pairs.both += 5 - one - other;
    }
    let [first, second, difference] = [first, second, difference].map(|of| of.by_lots());
    pairs.lots = Some(PairsByLots { first, second, difference });
    pairs
}

#[test]
fn differences_by_lots_agree_with_numbers_made_apart() {
    // NumPy and scipy 1.17.1, from the formulas: deff 2.27, six lots that differ, 16.95 independent units, Tango's score by brentq.
    let pairs = in_lots();
    let found = pairs.difference(0.95);
    assert!((found.value - 9.0 / 60.0).abs() < 1e-12);
    assert!((found.low + 0.09800959756700478).abs() < 1e-9, "{found:?}");
    assert!((found.high - 0.3966732214075504).abs() < 1e-9, "{found:?}");
    // As if units were independent.
    let independent = Pairs { lots: None, ..pairs };
    assert!(independent.difference(0.95).low > 0.0);
    // As many more units as make the score reach the interval's end.
    assert!(pairs.units_to_tell(0.95) > independent.units_to_tell(0.95));
    assert!(pairs.units_to_tell(0.95).is_some_and(|units| units > 60));
    assert!(pairs.width_ratio(0.95) > 0.0 && pairs.correlation().abs() <= 1.0);
}
