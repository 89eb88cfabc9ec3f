//! What each further step of bench time buys, told on the same units.

use crate::decide::Passes;
use crate::stats::{Estimate, Pairs};

/// How the yield of a candidate differs from that of another.
#[derive(Clone, Debug)]
pub struct YieldOver {
    /// How the verdicts go together, the candidate's first.
    pub pairs: Pairs,
    /// Yield of the candidate minus that of the other.
    pub difference: Estimate,
    /// How many times wider the interval would be from two runs of as many units.
    pub width_ratio: f64,
}

impl YieldOver {
    /// Of two plans by the units that pass them, the candidate's first.
    pub fn of(candidate: &Passes, other: &Passes, confidence: f64) -> YieldOver {
        let pairs = candidate.beside(other);
        YieldOver {
            pairs,
            difference: pairs.difference(confidence),
            width_ratio: pairs.width_ratio(confidence),
        }
    }

    /// Whether the units tell the two apart.
    pub fn tells(&self) -> bool {
        self.difference.low > 0.0 || self.difference.high < 0.0
    }
}

/// From one candidate to another of the same design that takes more bench time.
#[derive(Clone, Debug)]
pub struct BenchStep {
    /// Number of the candidate that is left.
    pub from: usize,
    /// Number of the one that is gone to.
    pub to: usize,
    /// Bench time that it takes more, s.
    pub seconds: f64,
    /// What that buys.
    pub over: YieldOver,
}

impl BenchStep {
    /// Whether the units tell that the yield rises.
    pub fn buys(&self) -> bool {
        self.over.difference.low > 0.0
    }
}

/// What each further step of bench time buys, each from the last plan that bought something, of plans by number, bench time (s) and
/// the units that pass. None where the bench takes no time.
pub fn bench_steps<'a>(
    plans: impl Iterator<Item = (usize, f64, &'a Passes)>,
    confidence: f64,
) -> Vec<BenchStep> {
    let mut plans: Vec<(usize, f64, &Passes)> = plans.collect();
    plans.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut bench_steps = Vec::new();
    let Some(mut from) = plans.first().copied().filter(|_| plans.iter().any(|of| of.1 != 0.0)) else {
        return bench_steps;
    };
    for to in plans.iter().skip(1) {
        let over = YieldOver::of(to.2, from.2, confidence);
        let rung = BenchStep { from: from.0, to: to.0, seconds: to.1 - from.1, over };
        if rung.buys() {
            from = *to;
        }
        bench_steps.push(rung);
    }
    bench_steps
}

/// Numbers of the plans on the front of bench time and yield: the first, and what each step leads to that buys some yield.
pub fn pareto(bench_steps: &[BenchStep]) -> Vec<usize> {
    let first = bench_steps.first().map(|first| first.from);
    first.into_iter().chain(bench_steps.iter().filter(|rung| rung.buys()).map(|rung| rung.to)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn on_the_front_is_what_more_bench_time_buys() {
        let passes = |from: usize, to: usize| {
            Passes::of(&(0..1000).map(|unit| (from..to).contains(&unit)).collect::<Vec<bool>>())
        };
        // Sorted by time: 400 pass at no time, 800 at 5 s, 790 of the same at 10 s, 950 at 20 s.
        let all = [passes(0, 800), passes(0, 400), passes(0, 950), passes(10, 800)];
        let seconds = [5.0, 0.0, 20.0, 10.0];
        let plans = || {
            all.iter().zip(seconds).enumerate().map(|(number, (passes, seconds))| (number, seconds, passes))
        };
        let found = bench_steps(plans(), 0.95);
        let steps: Vec<(usize, usize, f64)> = found.iter().map(|of| (of.from, of.to, of.seconds)).collect();
        assert_eq!(steps, [(1, 0, 5.0), (0, 3, 5.0), (0, 2, 15.0)]);
        assert_eq!(pareto(&found), [1, 0, 2]);
        // Where no plan takes time there is no front, nor of one plan alone.
        assert!(bench_steps(plans().map(|of| (of.0, 0.0, of.2)), 0.95).is_empty());
        assert!(pareto(&bench_steps(plans().take(1), 0.95)).is_empty());
    }
}
