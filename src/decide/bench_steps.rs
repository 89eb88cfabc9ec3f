//! What each further step of bench time buys, from the same units.

use crate::decide::Passes;
use crate::stats::{Estimate, Pairs};

/// How the yield of a candidate differs from that of another.
#[derive(Clone, Debug)]
pub(crate) struct YieldDifference {
    /// The units by both verdicts, the candidate's first.
    pub pairs: Pairs,
    /// Yield of the candidate minus that of the other.
    pub difference: Estimate,
    /// Interval width of two unpaired runs of as many units, over the width of this interval.
    pub width_ratio: f64,
}

impl YieldDifference {
    /// The difference of two calibration plans, from the units that pass after each; the candidate first.
    pub(crate) fn of(candidate: &Passes, other: &Passes, confidence: f64) -> YieldDifference {
        let pairs = candidate.beside(other);
        YieldDifference {
            pairs,
            difference: pairs.difference(confidence),
            width_ratio: pairs.width_ratio(confidence),
        }
    }

    /// Whether the interval of the difference excludes 0.
    pub(crate) fn is_significant(&self) -> bool {
        self.difference.low > 0.0 || self.difference.high < 0.0
    }
}

/// A step from one candidate to another of the same design that takes more bench time.
#[derive(Clone, Debug)]
pub(crate) struct BenchStep {
    /// Number of the candidate where the step begins.
    pub from: usize,
    /// Number of the candidate where it ends.
    pub to: usize,
    /// Additional bench time, s.
    pub seconds: f64,
    /// The change of yield.
    pub over: YieldDifference,
}

impl BenchStep {
    /// Whether the units show that the yield rises.
    pub(crate) fn buys(&self) -> bool {
        self.over.difference.low > 0.0
    }
}

/// What each further step of bench time buys, each from the last plan that raised the yield. A plan is its number, its bench time (s)
/// and the units that pass. Empty where no plan takes bench time.
pub(crate) fn bench_steps<'a>(
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
        let over = YieldDifference::of(to.2, from.2, confidence);
        let step = BenchStep { from: from.0, to: to.0, seconds: to.1 - from.1, over };
        if step.buys() {
            from = *to;
        }
        bench_steps.push(step);
    }
    bench_steps
}

/// Numbers of the plans on the Pareto front of bench time and yield: the first, and the end of each step that raises the yield.
pub(crate) fn pareto_front(bench_steps: &[BenchStep]) -> Vec<usize> {
    let first = bench_steps.first().map(|first| first.from);
    first.into_iter().chain(bench_steps.iter().filter(|step| step.buys()).map(|step| step.to)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_front_holds_the_plans_whose_bench_time_buys_yield() {
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
        assert_eq!(pareto_front(&found), [1, 0, 2]);
        // There is no front where no plan takes time, nor of one plan alone.
        assert!(bench_steps(plans().map(|of| (of.0, 0.0, of.2)), 0.95).is_empty());
        assert!(pareto_front(&bench_steps(plans().take(1), 0.95)).is_empty());
    }
}
