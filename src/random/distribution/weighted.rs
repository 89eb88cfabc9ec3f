//! A distribution weighted by a probability that depends on the deviation: what parts or lots are like that were chosen by it.

use super::{Distribution, NEAREST_END};
use crate::math::bivariate::NODES;
use crate::random::{Gauge, Window};

/// A probability a(x) over a distribution: in terms of the distribution's own probability u, x = Q(u), the weighted distribution has the distribution function
/// W(u)/W(1), W the integral of a(Q(u)), so every distribution can be weighted, jumps and all. W is tabled once, each cell by
/// Gauss and Legendre's rule of five points, and a is taken as straight within a cell when W is undone. Mean and standard
/// deviation are integrals by the same rule.
///
/// Source: own derivation from the definition.
#[derive(Debug, PartialEq)]
pub(super) struct Weighted {
    /// Ends of the cells in u, rising.
    u: Vec<f64>,
    /// The probability there.
    probability: Vec<f64>,
    /// Its integral up to there.
    taken: Vec<f64>,
    /// Mean and standard deviation of the weighted distribution; NaN where nothing is taken.
    pub(super) mean: f64,
    pub(super) sd: f64,
}

/// The ends of u are parted in octaves down to 2^-40, so that the tails of a distribution are not one cell.
const OCTAVES: i32 = 40;
/// Gauge standard deviations that the fall of the probability is spread over to either side, and cells in one of them.
const REACH: i32 = 8;
const CELLS_A_SD: i32 = 4;

/// Most that a probability changes over a cell, times the cell's width: a straight line then errs by an eighth of it.
const MOST_BENT: f64 = 1e-5;

/// Ends of cells in u, rising: evenly, and in octaves toward 0 and 1.
pub(crate) fn even_ends(cells: u32) -> Vec<f64> {
    let even = (0..=cells).map(|i| f64::from(i) / f64::from(cells));
    let octaves = (1..=OCTAVES).flat_map(|k| {
        let end = 1.0 / (1_u64 << k) as f64;
        [end, 1.0 - end]
    });
    sorted(even.chain(octaves))
}

/// Ends of cells that are fine where what a gauge reads of a distribution leaves a window; of an exact gauge, only between the two cuts.
/// Only those between two probabilities of the distribution. `even` are the ends of cells elsewhere, rising.
pub(crate) fn gauge_ends(
    of: &Distribution,
    window: Window,
    gauge: Gauge,
    even: &[f64],
    between: (f64, f64),
) -> Vec<f64> {
    cut(&fall_ends(of, window, gauge, even), of, window, gauge, between)
}

/// The same between the ends of the distribution.
fn fall_ends(of: &Distribution, window: Window, gauge: Gauge, even: &[f64]) -> Vec<f64> {
    let steps = -REACH * CELLS_A_SD..=REACH * CELLS_A_SD;
    let away = move |step: i32| gauge.sd * f64::from(step) / f64::from(CELLS_A_SD) - gauge.bias;
    let lows = steps.clone().map(|step| of.cdf(window.low + away(step)));
    let highs = steps.map(|step| of.cdf(window.high + away(step)));
    // Three rows that rise: they are put in order by merging.
    sorted(even.iter().copied().chain(lows).chain(highs))
}

/// Those of some ends, rising, that count between two probabilities of the distribution.
fn cut(ends: &[f64], of: &Distribution, window: Window, gauge: Gauge, between: (f64, f64)) -> Vec<f64> {
    let (low, high) = if gauge.is_exact() {
        let (low, high) = of.probabilities(window.shifted(-gauge.bias));
        (low.max(between.0), high.min(between.1))
    } else {
        between
    };
    if low >= high || low.is_nan() || high.is_nan() {
        return Vec::new();
    }
    let mut ends: Vec<f64> = ends.iter().map(|u| u.clamp(low, high)).collect();
    ends.dedup();
    ends
}

/// Ends in order, each once.
fn sorted(ends: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut ends: Vec<f64> = ends.collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    ends
}

/// The distribution's deviations at probabilities; none is quite at an end.
fn deviations(of: &Distribution, u: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut x: Vec<f64> = u.map(|u| u.clamp(NEAREST_END, 1.0 - NEAREST_END)).collect();
    of.transform(&mut x);
    x
}

/// Deviation and weight of every node of the rule, a cell after the other.
fn nodes(of: &Distribution, ends: &[f64]) -> (Vec<f64>, impl Iterator<Item = f64>) {
    let at = ends.windows(2).flat_map(|cell| NODES.map(|(at, _)| cell[0] + at * (cell[1] - cell[0])));
    let weights = ends.windows(2).flat_map(|cell| NODES.map(|(_, weight)| weight * (cell[1] - cell[0])));
    (deviations(of, at), weights)
}

/// The integrals of functions of the deviation over the cells of a distribution.
pub(crate) fn integrals<const N: usize>(
    of: &Distribution,
    ends: &[f64],
    values: impl Fn(f64) -> [f64; N],
) -> [f64; N] {
    let (x, weights) = nodes(of, ends);
    let mut sums = [0.0; N];
    for (weight, x) in weights.zip(x) {
        for (sum, value) in sums.iter_mut().zip(values(x)) {
            *sum += weight * value;
        }
    }
    sums
}

/// The share of a distribution that a gauge reads within a window; in closed form where there is one.
pub(crate) fn share_within(distribution: &Distribution, window: Window, gauge: Gauge, even: &[f64]) -> f64 {
    let of = |distribution: &Distribution, window| match distribution.normal_sd() {
        Some(sd) => gauge.widened(sd).probability_within(0.0, window),
        None => joint_share(distribution, f64::INFINITY, window, gauge).unwrap_or_else(|| {
            let [share] = shares_between(distribution, window, gauge, even, [(0.0, 1.0)]);
            share
        }),
    };
    distribution
        .components()
        .into_iter()
        .map(|(share, offset, distribution)| share * of(distribution, window.shifted(-offset)))
        .sum()
}

/// The share of a distribution that is below `x` and that a gauge reads within a window, in closed form; `None` where there is none.
pub(crate) fn joint_share(distribution: &Distribution, x: f64, window: Window, gauge: Gauge) -> Option<f64> {
    if gauge.is_exact() {
        let (low, high) = distribution.probabilities(window.shifted(-gauge.bias));
        return Some((high.min(distribution.cdf(x)) - low).max(0.0));
    }
    let below = |reading: f64| distribution.joint_cdf(x, reading - gauge.bias, gauge.sd);
    Some(below(window.high)? - below(window.low)?)
}

/// The same, by a gauge that is not exact, of what is between two of the distribution's probabilities, for several of these.
pub(crate) fn shares_between<const N: usize>(
    distribution: &Distribution,
    window: Window,
    gauge: Gauge,
    even: &[f64],
    between: [(f64, f64); N],
) -> [f64; N] {
    let ends = fall_ends(distribution, window, gauge, even);
    between.map(|between| {
        let ends = cut(&ends, distribution, window, gauge, between);
        let [share] = integrals(distribution, &ends, |x| [gauge.probability_within(x, window)]);
        share.min(1.0)
    })
}

/// Cells parted until a probability hardly bends within one: its change times the cell's width is small.
pub(super) fn refined(of: &Distribution, ends: Vec<f64>, probability: impl Fn(f64) -> f64) -> Vec<f64> {
    let at = |u: f64| (u, probability(of.quantile(u.clamp(NEAREST_END, 1.0 - NEAREST_END))));
    let mut refined = Vec::new();
    // The end of the cell in hand is the last one.
    let mut ahead: Vec<(f64, f64)> = ends.into_iter().rev().map(at).collect();
    let Some(mut from) = ahead.pop() else { return refined };
    refined.push(from.0);
    while let Some(to) = ahead.last().copied() {
        if (to.0 - from.0) * (to.1 - from.1).abs() > MOST_BENT {
            ahead.push(at(0.5 * (from.0 + to.0)));
        } else {
            refined.push(to.0);
            from = to;
            ahead.pop();
        }
    }
    refined
}

impl Weighted {
    /// A distribution weighted over cells.
    pub(super) fn new(of: &Distribution, ends: Vec<f64>, probability: impl Fn(f64) -> f64) -> Weighted {
        let (x, weights) = nodes(of, &ends);
        let mass: Vec<f64> = weights.zip(&x).map(|(weight, x)| weight * probability(*x)).collect();
        let mut sum = 0.0;
        let mut taken = vec![0.0];
        for cell in mass.chunks(NODES.len()) {
            sum += cell.iter().sum::<f64>();
            taken.push(sum);
        }
        let average =
            |of: &dyn Fn(f64) -> f64| x.iter().zip(&mass).map(|(x, mass)| of(*x) * mass).sum::<f64>() / sum;
        let mean = average(&|x| x);
        let sd = average(&|x| (x - mean) * (x - mean)).sqrt();
        let probability = deviations(of, ends.iter().copied()).into_iter().map(probability).collect();
        Weighted { u: ends, probability, taken, mean, sd }
    }

    /// The share that is taken.
    pub(super) fn share(&self) -> f64 {
        self.taken[self.taken.len() - 1]
    }

    /// The distribution's own probability at which a share `p` of what is taken is below.
    pub(super) fn undo(&self, p: f64) -> f64 {
        let target = p * self.share();
        let cell = cell(&self.taken, target);
        let (from, to) = (self.taken[cell], self.taken[cell + 1]);
        let part = if to > from { (target - from) / (to - from) } else { 0.5 };
        let (a, b) = (self.probability[cell], self.probability[cell + 1]);
        // The root of a t + (b - a) t^2/2 = part (a + b)/2 that loses no digits.
        let area = part * 0.5 * (a + b);
        let below = a + (a * a + 2.0 * (b - a) * area).max(0.0).sqrt();
        let t = if below > 0.0 { (2.0 * area / below).min(1.0) } else { part };
        self.u[cell] + t * (self.u[cell + 1] - self.u[cell])
    }

    /// The share of what is taken below the distribution's own probability `u`: the other way round.
    pub(super) fn share_below(&self, u: f64) -> f64 {
        let cell = cell(&self.u, u);
        let (from, to) = (self.u[cell], self.u[cell + 1]);
        let t = ((u - from) / (to - from)).clamp(0.0, 1.0);
        let (a, b) = (self.probability[cell], self.probability[cell + 1]);
        let part = if a + b > 0.0 { t * (2.0 * a + (b - a) * t) / (a + b) } else { t };
        (self.taken[cell] + part * (self.taken[cell + 1] - self.taken[cell])) / self.share()
    }

    /// Turns uniforms in (0, 1) into deviations of the weighted distribution, in place.
    pub(super) fn transform(&self, of: &Distribution, u: &mut [f64]) {
        for u in &mut *u {
            *u = self.undo(*u).clamp(NEAREST_END, 1.0 - NEAREST_END);
        }
        of.transform(u);
    }
}

/// The cell of a rising table that holds a value.
fn cell(table: &[f64], value: f64) -> usize {
    table.partition_point(|end| *end <= value).clamp(1, table.len() - 1) - 1
}

#[cfg(test)]
mod tests {
    use super::NODES;

    /// The rule is exact for powers up to the ninth, and not for the tenth.
    #[test]
    fn nodes_and_weights_are_those_of_the_rule() {
        let error = |power: i32| {
            let sum: f64 = NODES.iter().map(|(at, weight)| weight * at.powi(power)).sum();
            (sum - 1.0 / f64::from(power + 1)).abs()
        };
        assert!((0..=9).all(|power| error(power) < 1e-15));
        assert!(error(10) > 1e-7);
    }
}
