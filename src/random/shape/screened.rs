//! The law of parts that passed an incoming inspection.

use super::{Law, NEAREST_END, Shape, Stated, read::made};
use crate::io::{Check, Table};
use crate::math::normal;
use crate::random::Window;
use std::sync::Arc;

/// Any law after an inspection that takes a part of deviation x when x + bias + sd z lies from l to h, z standard normal: what the
/// gauge reads is the deviation with its own bias and repeatability.
///
/// A part is taken with probability a(x) = Phi((h - x - bias)/sd) - Phi((l - x - bias)/sd); the accepted parts are those
/// of the law, weighted by a. In terms of the law's own probability u, x = Q(u), their distribution function is
/// W(u)/W(1), W the integral of a(Q(u)): so every law can be screened, jumps and all. W is tabled once, each cell by
/// Gauss and Legendre's rule of five points, and a is taken as straight within a cell when W is undone. Cells are no wider
/// than 1/1024 in u and a quarter of the gauge's sd where a falls, so a probability is off by less than 2e-6; with an exact
/// gauge (sd 0) nothing is off. Mean and standard deviation are integrals by the same rule, right to 1e-6 of the sd.
///
/// Source: own derivation from the definition.
#[derive(Clone, Debug, PartialEq)]
pub struct Screened {
    of: Box<Shape>,
    accept: Window,
    gauge: Gauge,
    table: Arc<Passing>,
    mean: f64,
    sd: f64,
}

/// What reads the deviation at the inspection.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Gauge {
    /// Added to every reading.
    pub bias: f64,
    /// Standard deviation of a reading of one part.
    pub sd: f64,
}

/// The integral of the chance to be taken, tabled.
#[derive(Debug, PartialEq)]
struct Passing {
    /// Ends of the cells in u, rising.
    u: Vec<f64>,
    /// The chance to be taken there.
    chance: Vec<f64>,
    /// Its integral up to there.
    taken: Vec<f64>,
}

/// Cells of equal width in u, but for those that are parted further.
const CELLS: u32 = 1024;
/// The ends of u are parted in octaves down to 2^-40, so that the tails of a law are not one cell.
const OCTAVES: i32 = 40;
/// Gauge standard deviations that the fall of the chance is spread over to either side, and cells in one of them.
const REACH: i32 = 8;
const CELLS_A_SD: i32 = 4;

/// An inspection that takes fewer parts is a slip.
const FEWEST_TAKEN: f64 = 1e-6;

impl Screened {
    /// A law after an inspection that takes what reads within `accept`.
    ///
    /// # Errors
    /// If nothing lies within `accept`, the gauge's sd is negative, one is not finite, or hardly a part in a million passes; the
    /// message says which.
    pub fn new(of: Shape, accept: Window, gauge: Gauge) -> Result<Self, String> {
        let is_open = accept.low == f64::NEG_INFINITY && accept.high == f64::INFINITY;
        // NaN is refused too.
        if is_open || !(accept.low < accept.high) {
            return Err("the acceptance needs a limit, and the lower one below the upper one".into());
        }
        if !(gauge.sd >= 0.0 && gauge.sd.is_finite() && gauge.bias.is_finite()) {
            return Err("the gauge's bias and sd must be finite, the sd not negative".into());
        }
        let law = Self::build(of, accept, gauge);
        if law.table.share() < FEWEST_TAKEN {
            return Err("hardly a part in a million passes this inspection".into());
        }
        Ok(law)
    }

    pub(super) fn read(table: &Table, of: &Stated) -> Option<Shape> {
        let law = table
            .required_table("of", "{ normal = { sd = \"...\" } }")
            .and_then(|table| Shape::required(&table, of));
        if !table.has("at") {
            table.quantity("at", of.dimension, Check::Positive);
        }
        let accept = Window::read(table, "at", of.dimension);
        let gauge = table.required_table("gauge", "{ sd = \"...\" }").map(|table| Gauge {
            bias: table.quantity_or("bias", of.dimension, Check::Any, 0.0),
            sd: table.quantity("sd", of.dimension, Check::NonNegative),
        });
        let (law, accept, gauge) = (law?, accept?, gauge?);
        // A stand-in must not be found to take nothing.
        let is_sound = ["of", "at", "gauge"].iter().all(|key| table.is_sound(key));
        is_sound.then(|| made(table, Self::new(law, accept, gauge).map(Shape::Screened)))?
    }

    /// The share of the delivered parts that is turned away.
    pub fn rejected(&self) -> f64 {
        1.0 - self.table.share()
    }

    fn build(of: Shape, accept: Window, gauge: Gauge) -> Self {
        let u = ends(&of, accept, gauge);
        let chance_at = |u: &[f64]| {
            let mut x = u.iter().map(|u| u.clamp(NEAREST_END, 1.0 - NEAREST_END)).collect::<Vec<f64>>();
            of.transform(&mut x);
            let chance = x.iter().map(|x| taken(*x, accept, gauge)).collect::<Vec<f64>>();
            (x, chance)
        };
        // Every node of the rule, a cell after the other.
        let nodes = u.windows(2).flat_map(|cell| NODES.map(|(at, _)| cell[0] + at * (cell[1] - cell[0])));
        let (x, chance) = chance_at(&nodes.collect::<Vec<f64>>());
        let weights = u.windows(2).flat_map(|cell| NODES.map(|(_, weight)| weight * (cell[1] - cell[0])));
        let mass: Vec<f64> = weights.zip(&chance).map(|(weight, chance)| weight * chance).collect();
        let mut sum = 0.0;
        let mut taken = vec![0.0];
        for cell in mass.chunks(NODES.len()) {
            sum += cell.iter().sum::<f64>();
            taken.push(sum);
        }
        let average = |of: &dyn Fn(f64) -> f64| x.iter().zip(&mass).map(|(x, mass)| of(*x) * mass).sum::<f64>() / sum;
        let mean = average(&|x| x);
        let sd = average(&|x| (x - mean) * (x - mean)).sqrt();
        let (_, chance) = chance_at(&u);
        Self { of: Box::new(of), accept, gauge, table: Arc::new(Passing { u, chance, taken }), mean, sd }
    }
}

/// The probability that a part of deviation x is taken.
fn taken(x: f64, accept: Window, gauge: Gauge) -> f64 {
    if gauge.sd == 0.0 {
        // Cells end at the cut.
        return 1.0;
    }
    let (over, under) = ((accept.high - x - gauge.bias) / gauge.sd, (accept.low - x - gauge.bias) / gauge.sd);
    // The difference of the smaller tails keeps its digits.
    if under > 0.0 {
        normal::probability(-under) - normal::probability(-over)
    } else {
        normal::probability(over) - normal::probability(under)
    }
}

/// Where the cells end: evenly, in octaves toward 0 and 1, and finely where the chance falls; of an exact gauge, only between
/// the two cuts.
fn ends(of: &Shape, accept: Window, gauge: Gauge) -> Vec<f64> {
    let even = (0..=CELLS).map(|i| f64::from(i) / f64::from(CELLS));
    let octaves = (1..=OCTAVES).flat_map(|k| {
        let end = 1.0 / (1_u64 << k) as f64;
        [end, 1.0 - end]
    });
    let steps = -REACH * CELLS_A_SD..=REACH * CELLS_A_SD;
    let falls = steps.flat_map(|step| {
        let away = gauge.sd * f64::from(step) / f64::from(CELLS_A_SD) - gauge.bias;
        [of.cdf(accept.low + away), of.cdf(accept.high + away)]
    });
    let (low, high) = if gauge.sd == 0.0 {
        // What lies on the lower limit is taken.
        (of.cdf((accept.low - gauge.bias).next_down()), of.cdf(accept.high - gauge.bias))
    } else {
        (0.0, 1.0)
    };
    let mut ends: Vec<f64> = even.chain(octaves).chain(falls).map(|u| u.clamp(low, high)).collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    ends
}

/// Nodes and weights of Gauss and Legendre's rule of five points on 0..1. Source: Abramowitz & Stegun, table 25.4 (from
/// memory).
const NODES: [(f64, f64); 5] = [
    (0.046_910_077_030_668_004, 0.118_463_442_528_094_54),
    (0.230_765_344_947_158_45, 0.239_314_335_249_683_23),
    (0.5, 0.284_444_444_444_444_44),
    (0.769_234_655_052_841_5, 0.239_314_335_249_683_23),
    (0.953_089_922_969_332, 0.118_463_442_528_094_54),
];

impl Passing {
    /// The share of the delivered parts that is taken.
    fn share(&self) -> f64 {
        self.taken[self.taken.len() - 1]
    }

    /// The law's own probability at which a share `p` of the accepted parts lies below.
    fn undo(&self, p: f64) -> f64 {
        let due = p * self.share();
        let cell = self.cell(&self.taken, due);
        let (from, to) = (self.taken[cell], self.taken[cell + 1]);
        let part = if to > from { (due - from) / (to - from) } else { 0.5 };
        let (a, b) = (self.chance[cell], self.chance[cell + 1]);
        // The root of a t + (b - a) t^2/2 = part (a + b)/2 that loses no digits.
        let area = part * 0.5 * (a + b);
        let below = a + (a * a + 2.0 * (b - a) * area).max(0.0).sqrt();
        let t = if below > 0.0 { (2.0 * area / below).min(1.0) } else { part };
        self.u[cell] + t * (self.u[cell + 1] - self.u[cell])
    }

    /// The share of the accepted parts below the law's own probability `u`: the other way round.
    fn share_below(&self, u: f64) -> f64 {
        let cell = self.cell(&self.u, u);
        let (from, to) = (self.u[cell], self.u[cell + 1]);
        let t = ((u - from) / (to - from)).clamp(0.0, 1.0);
        let (a, b) = (self.chance[cell], self.chance[cell + 1]);
        let part = if a + b > 0.0 { t * (2.0 * a + (b - a) * t) / (a + b) } else { t };
        (self.taken[cell] + part * (self.taken[cell + 1] - self.taken[cell])) / self.share()
    }

    /// The cell of a rising table that holds a value.
    fn cell(&self, table: &[f64], value: f64) -> usize {
        table.partition_point(|end| *end <= value).clamp(1, table.len() - 1) - 1
    }
}

impl Law for Screened {
    const NAME: &'static str = "screened";

    fn transform(&self, u: &mut [f64]) {
        for u in &mut *u {
            *u = self.table.undo(*u).clamp(NEAREST_END, 1.0 - NEAREST_END);
        }
        self.of.transform(u);
    }

    fn cdf(&self, x: f64) -> f64 {
        self.table.share_below(self.of.cdf(x))
    }

    fn mean(&self) -> f64 {
        self.mean
    }

    fn sd(&self) -> f64 {
        self.sd
    }

    fn range(&self) -> Option<(f64, f64)> {
        if self.gauge.sd > 0.0 || self.of.is_exact() {
            return self.of.range();
        }
        let (lowest, highest) = (self.accept.low - self.gauge.bias, self.accept.high - self.gauge.bias);
        let (low, high) = self.of.range().unwrap_or((f64::NEG_INFINITY, f64::INFINITY));
        Some((low.max(lowest), high.min(highest))).filter(|(low, high)| low.is_finite() && high.is_finite())
    }

    fn scaled(&self, factor: f64) -> Self {
        let of = self.of.scaled(factor);
        if factor == 0.0 {
            return Self { of: Box::new(of), mean: 0.0, sd: 0.0, ..self.clone() };
        }
        let gauge = Gauge { bias: factor * self.gauge.bias, sd: factor.abs() * self.gauge.sd };
        Self::build(of, self.accept.scaled(factor), gauge)
    }
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
