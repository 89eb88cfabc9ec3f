//! Quantiles of a sample, and the order statistics that bound the quantile behind it.

use crate::math::binomial::{Probability, ln_at_least};
use crate::math::{normal, scalar};

/// The quantile `p` of an ascending sample, in a straight line between the order statistics around
/// position (n - 1) p counted from 0 (definition 7 of Hyndman & Fan, The American Statistician 50,
/// 1996, 361-365). NaN for an empty sample; `p` outside 0..1 gives the nearer end.
#[cfg(test)]
pub(crate) fn of_sorted(sorted: &[f64], p: f64) -> f64 {
    match sorted.len() {
        0 => f64::NAN,
        count => interpolate(count as u64, p, |i| sorted[i as usize]),
    }
}

/// The same for `count` > 0 values of which `order(i)` is the one at place `i` from 0.
pub(super) fn interpolate(count: u64, p: f64, order: impl Fn(u64) -> f64) -> f64 {
    let last = count - 1;
    let position = last as f64 * p.clamp(0.0, 1.0);
    let below = (position.floor() as u64).min(last);
    let (low, high) = (order(below), order((below + 1).min(last)));
    low + (high - low) * (position - below as f64)
}

/// The quantiles `p` of values in any order, which are moved: far sooner than by sorting all. NaN for an empty sample.
pub(crate) fn of_unsorted<const N: usize>(values: &mut [f64], p: [f64; N]) -> [f64; N] {
    let Some(last) = values.len().checked_sub(1) else { return [f64::NAN; N] };
    let mut places: Vec<usize> = p
        .iter()
        .map(|p| (last as f64 * p.clamp(0.0, 1.0)) as usize)
        .flat_map(|below| [below, (below + 1).min(last)])
        .collect();
    places.sort_unstable();
    places.dedup();
    put_in_place(values, &places, 0);
    p.map(|p| interpolate(values.len() as u64, p, |i| values[i as usize]))
}

/// Moves the values so that each of the `places` (ascending, counted from that of the first value, `start`) holds what it
/// would hold were all sorted.
pub(super) fn put_in_place(values: &mut [f64], places: &[usize], start: usize) {
    let places = &places[..places.partition_point(|place| *place < start + values.len())];
    let (before, rest) = places.split_at(places.len() / 2);
    if let [middle, after @ ..] = rest {
        let (low, _, high) = values.select_nth_unstable_by(middle - start, f64::total_cmp);
        put_in_place(low, before, start);
        put_in_place(high, after, middle + 1);
    }
}

/// Ranks (l, u), from 1, of the order statistics of `n` values that hold the quantile `p` of a
/// continuous distribution between them, and the confidence they really have: P(l <= X <= u - 1) for X
/// binomial of `n` and `p`, each tail at most (1 - `confidence`) / 2.
///
/// None if `n` values are too few for a rank on both sides.
///
/// David & Nagaraja, Order Statistics (2003), section 7.1.
pub(crate) fn ranks(n: u64, p: f64, confidence: f64) -> Option<(u64, u64, f64)> {
    if !(p > 0.0 && p < 1.0 && confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    let tail = 0.5 * (1.0 - confidence);
    let share = Probability::new(p);
    let (upper, above) = first_rare(n, share, tail);
    // X <= l - 1 of one kind are at least n - l + 1 of the other.
    let (rest, below) = first_rare(n, share.swapped(), tail);
    let found = upper <= n && rest <= n;
    found.then(|| (n + 1 - rest, upper, 1.0 - above - below))
}

/// The smallest k with P(X >= k) <= `tail`, at most n + 1, and that probability.
///
/// The normal approximation is a step or two off; the exact probabilities decide.
fn first_rare(n: u64, share: Probability, tail: f64) -> (u64, f64) {
    let trials = n as f64;
    let mean = trials * share.success;
    let guess = mean - normal::quantile(tail) * (mean * share.failure).sqrt() + 0.5;
    let mut k = (guess.clamp(0.0, trials) as u64).min(n);
    let probability = |k| scalar::exp(ln_at_least(k, n, share));
    let mut here = probability(k);
    while here > tail {
        k += 1;
        here = probability(k);
    }
    while k > 0 {
        let before = probability(k - 1);
        if before > tail {
            break;
        }
        (k, here) = (k - 1, before);
    }
    (k, here)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Key, draw};

    #[test]
    fn the_order_of_the_sample_does_not_matter() {
        for count in [1, 2, 3, 20, 304, 1000] {
            let values: Vec<f64> = (0..count).map(|i| (f64::from(i) * 0.618).fract()).collect();
            let mut sorted = values.clone();
            sorted.sort_by(f64::total_cmp);
            for p in [[0.0, 0.05, 0.5, 0.95, 1.0], [0.5, 2.0, 0.51, 0.5, -1.0]] {
                assert_eq!(of_unsorted(&mut values.clone(), p), p.map(|p| of_sorted(&sorted, p)), "{count}");
            }
        }
        assert!(of_unsorted(&mut [], [0.5])[0].is_nan());
    }

    #[test]
    fn of_sorted_is_definition_seven() {
        let sorted = [1.0, 2.0, 4.0, 8.0];
        // numpy.quantile([1, 2, 4, 8], [0, .25, .5, .9, 1]), its default method.
        for (p, expected) in [(0.0, 1.0), (0.25, 1.75), (0.5, 3.0), (0.9, 6.8), (1.0, 8.0)] {
            assert!((of_sorted(&sorted, p) - expected).abs() < 1e-14);
        }
        assert_eq!(of_sorted(&[3.0], 0.7), 3.0);
        assert!(of_sorted(&[], 0.5).is_nan());
    }

    #[test]
    fn ranks_agree_with_the_known_table() {
        // P(l <= X <= u - 1) by scipy 1.17.1, binom.cdf; David & Nagaraja give the method.
        for (n, p, l, u, confidence) in
            [(100, 0.5, 40, 61, 0.964800), (1000, 0.95, 936, 964, 0.958095), (1000, 0.05, 37, 65, 0.958095)]
        {
            let found = ranks(n, p, 0.95).unwrap();
            assert_eq!((found.0, found.1), (l, u));
            assert!((found.2 - confidence).abs() < 5e-7, "{n}, {p}: {}", found.2);
        }
    }

    #[test]
    fn ranks_of_ten_million_values() {
        // scipy 1.17.1: the largest l with binom.cdf(l - 1, n, p) <= 0.025, the smallest u with
        // binom.sf(u - 1, n, p) <= 0.025.
        for (p, l, u) in
            [(0.5, 4996901, 5003100), (0.95, 9498649, 9501351), (0.01, 99384, 100618), (1e-06, 4, 18)]
        {
            let found = ranks(10_000_000, p, 0.95).unwrap();
            assert_eq!((found.0, found.1), (l, u), "{p}");
        }
    }

    #[test]
    fn ranks_agree_with_a_search_through_all() {
        for n in 1..=40_u64 {
            for p in [0.03, 0.2, 0.5, 0.9] {
                let sum = |range: std::ops::Range<u64>| -> f64 { range.map(|k| mass(k, n, p)).sum() };
                let l = (1..=n).rev().find(|l| sum(0..*l) <= 0.05);
                let u = (1..=n).find(|u| sum(*u..n + 1) <= 0.05);
                let expected = l.zip(u);
                let found = ranks(n, p, 0.9);
                assert_eq!(found.map(|(l, u, _)| (l, u)), expected, "{n}, {p}");
                if let Some((l, u, confidence)) = found {
                    assert!((sum(l..u) - confidence).abs() < 1e-12);
                }
            }
        }
    }

    /// P(X = k) from factorials, which are exact enough up to 40.
    fn mass(k: u64, n: u64, p: f64) -> f64 {
        let choose = (0..k).fold(1.0, |c, i| c * (n - i) as f64 / (i + 1) as f64);
        choose * p.powi(k as i32) * (1.0 - p).powi((n - k) as i32)
    }

    #[test]
    fn nothing_is_claimed_from_too_few_values_or_a_quantile_out_of_range() {
        assert_eq!(ranks(0, 0.5, 0.95), None);
        assert_eq!(ranks(5, 0.5, 0.95), None);
        assert!(ranks(6, 0.5, 0.95).is_some());
        assert_eq!(ranks(100, 0.0, 0.95), None);
        assert_eq!(ranks(100, f64::NAN, 0.95), None);
        assert_eq!(ranks(100, 0.5, 1.0), None);
    }

    #[test]
    fn coverage_over_repetitions() {
        const REPETITIONS: usize = 4_000;
        const COUNT: usize = 100;
        let mut values = vec![0.0; REPETITIONS * COUNT];
        draw::fill::<1>(Key::new(6, "coverage"), 0, 0, &mut values);
        values.chunks_exact_mut(COUNT).for_each(|sample| sample.sort_by(f64::total_cmp));
        let share_holding = |l: u64, u: u64| {
            let holds = |sample: &&[f64]| sample[l as usize - 1] <= 0.5 && 0.5 <= sample[u as usize - 1];
            values.chunks_exact(COUNT).filter(holds).count() as f64 / REPETITIONS as f64
        };
        let (l, u, confidence) = ranks(COUNT as u64, 0.5, 0.95).unwrap();
        // Four standard errors of the share.
        let bound = 4.0 * (confidence * (1.0 - confidence) / REPETITIONS as f64).sqrt();
        assert!((share_holding(l, u) - confidence).abs() < bound);
        // Two ranks fewer on each side have a confidence of 0.911.
        assert!((share_holding(l + 2, u - 2) - confidence).abs() > bound);
    }
}
