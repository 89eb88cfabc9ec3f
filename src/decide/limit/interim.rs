//! Interim analyses of a probe (a group-sequential test): they compare a yield with a demand at growing numbers of units, so that a
//! value far from the limit costs few of them.

use crate::engine::CHUNK;
use crate::math::normal;
use crate::stats::{Estimate, Lots, clopper_pearson};

/// The least error that an interim analysis may spend: below it, 1 - confidence has no digits left.
const LEAST_SPENT: f64 = 1e-13;

/// A demanded yield.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Demand {
    /// The share of units that have to pass, between 0 and 1.
    pub share: f64,
    /// Confidence of the limit's interval.
    pub confidence: f64,
    /// Maximum number of units for one value.
    pub units: u64,
}

/// The conclusion on one value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Verdict {
    /// The yield is above the demand.
    Meets,
    /// All units are built, and the yield can be above or below.
    Unclear,
    /// The yield is below the demand.
    Misses,
}

/// One interim analysis of a probe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct InterimAnalysis {
    /// Units built by then.
    pub units: u64,
    /// Confidence of the yield's interval at this analysis.
    pub confidence: f64,
    /// Passes from which on the value meets.
    pub meets_from: u64,
    /// Passes below which the value misses.
    pub misses_below: u64,
    /// The demanded share.
    pub share: f64,
}

/// All interim analyses of a probe.
///
/// The n-th analysis spends the error that the alpha-spending function a t^3 of the share t of units built allows, less what is spent:
/// nearly nothing early, seven eighths at the last where each analysis doubles the units. The parts add up to 1 - confidence, so that the
/// analyses of one value together err no more often than that (Bonferroni), each side half of it. Source: the power family of Kim &
/// DeMets, Biometrika 74 (1987), 149-154 (from memory).
///
/// One value's error is that of the whole search. Units that pass at a value pass at any tighter one, so if a value beyond the true
/// limit were declared to meet, the same units would declare the limit itself to meet at the same analysis: the search cannot err
/// unless a probe of the limit itself would.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct InterimAnalyses {
    pub at: Vec<InterimAnalysis>,
}

impl InterimAnalyses {
    /// The analyses that a demand allows.
    pub(super) fn new(demand: &Demand) -> InterimAnalyses {
        let at = schedule(demand).into_iter();
        InterimAnalyses {
            at: at.map(|(units, confidence)| InterimAnalysis::new(units, demand.share, confidence)).collect(),
        }
    }

    /// The last analysis, with all units built.
    pub(super) fn last(&self) -> InterimAnalysis {
        // There is at least one analysis.
        self.at[self.at.len() - 1]
    }
}

/// Units and confidence of each analysis.
fn schedule(demand: &Demand) -> Vec<(u64, f64)> {
    let last = demand.units.max(1);
    let on_a_chunk = |units: u64| units.max(1).next_multiple_of(CHUNK as u64).min(last);
    let mut units: Vec<u64> = (0..u64::BITS).rev().map(|halvings| on_a_chunk(last >> halvings)).collect();
    units.dedup();
    let spent = |units: u64| {
        let part = units as f64 / last as f64;
        (1.0 - demand.confidence) * part * part * part
    };
    // An analysis just before the last would spend error and save nothing.
    let is_worth_it = |units: u64| spent(units) > LEAST_SPENT && 3 * units <= 2 * last;
    units.retain(|units| *units == last || is_worth_it(*units));
    let mut before = 0.0;
    let analysis = |units: u64| {
        let confidence = 1.0 - (spent(units) - before);
        before = spent(units);
        (units, confidence)
    };
    units.into_iter().map(analysis).collect()
}

impl InterimAnalysis {
    pub(super) fn new(units: u64, share: f64, confidence: f64) -> InterimAnalysis {
        let at = |passes: u64| clopper_pearson(passes, units, confidence);
        // Both ends of the interval rise with the passes.
        let meets_from = first(units + 1, |passes| at(passes).low > share);
        let misses_below = first(units + 1, |passes| at(passes).high >= share);
        InterimAnalysis { units, confidence, meets_from, misses_below, share }
    }

    /// The same analysis on the effective number of independent units: units over design effect.
    pub(super) fn of_independent(self, design_effect: f64) -> InterimAnalysis {
        if design_effect <= 1.0 {
            return self;
        }
        let units = (self.units as f64 / design_effect).ceil() as u64;
        InterimAnalysis::new(units, self.share, self.confidence)
    }

    /// Verdict of an interval; `None` where more units may decide.
    fn verdict_of(&self, of: &Estimate) -> Option<Verdict> {
        match () {
            _ if of.low > self.share => Some(Verdict::Meets),
            _ if of.high < self.share => Some(Verdict::Misses),
            _ => None,
        }
    }

    /// Verdict of a number of passes; `None` where more units may decide.
    fn verdict(&self, passes: u64) -> Option<Verdict> {
        if passes >= self.meets_from {
            Some(Verdict::Meets)
        } else if passes < self.misses_below {
            Some(Verdict::Misses)
        } else {
            None
        }
    }
}

/// The first of 0.. that holds, where all after it hold too; `end` if none before it does.
fn first(end: u64, holds: impl Fn(u64) -> bool) -> u64 {
    let (mut low, mut high) = (0, end);
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) { high = middle } else { low = middle + 1 }
    }
    low
}

/// Fewest units that can show a yield at all: if all pass, the whole interval is above the demand.
pub(crate) fn fewest_units(demand: &Demand) -> u64 {
    /// Far more than any valid share and confidence need.
    const MOST: u64 = 1 << 40;
    let is_enough = |units: u64| {
        let last = schedule(&Demand { units, ..*demand }).pop();
        last.is_some_and(|(units, confidence)| {
            let at = |passes| clopper_pearson(passes, units, confidence);
            at(units).low > demand.share && at(0).high < demand.share
        })
    };
    // One more analysis leaves less error to the last, so that it may need a few more units.
    let mut least = first(MOST, is_enough);
    while !is_enough(least) && least < MOST {
        least += 1;
    }
    least
}

/// Units that separate a yield like `value` from a demand Y, by the normal form of the interval: z^2 Y (1 - Y) / (value - Y)^2
/// (any textbook). `None` where the two are equal.
pub(super) fn units_to_tell(value: f64, share: f64, confidence: f64) -> Option<u64> {
    let z = normal::quantile(0.5 + 0.5 * confidence);
    let away = value - share;
    let units = z * z * share * (1.0 - share) / (away * away);
    units.is_finite().then(|| units.ceil() as u64)
}

/// A probe under way: it adds passes chunk by chunk and concludes as early as its interim analyses allow.
#[derive(Clone, Debug)]
pub(super) struct Judge<'l> {
    analyses: &'l InterimAnalyses,
    units: u64,
    passes: u64,
    /// Passes at each analysis so far.
    seen: Vec<u64>,
    verdict: Option<Verdict>,
    /// Passes lot by lot, where units share lots.
    lots: Option<Lots>,
}

impl<'l> Judge<'l> {
    pub(super) fn new(analyses: &'l InterimAnalyses) -> Judge<'l> {
        Judge { analyses, units: 0, passes: 0, seen: Vec::new(), verdict: None, lots: None }
    }

    /// Sets the lot size, before the first unit.
    pub(super) fn in_lots(&mut self, size: u64) {
        self.lots = Some(Lots::new(size));
    }

    /// As [`Judge::take`], with a bit for each unit, the first one lowest, set where it passes.
    pub(super) fn take_word(&mut self, units: u64, passing: u64) {
        if let Some(lots) = self.lots.as_mut().filter(|_| self.verdict.is_none()) {
            lots.push_word(units as usize, passing);
        }
        self.take(units, u64::from(passing.count_ones()));
    }

    /// Adds the next units, at most a chunk; units after the verdict do not count. Analyses fall on ends of chunks.
    pub(super) fn take(&mut self, units: u64, passes: u64) {
        let Some(analysis) = self.analyses.at.get(self.seen.len()).filter(|_| self.verdict.is_none()) else {
            return;
        };
        self.units += units;
        self.passes += passes;
        if self.units < analysis.units {
            return;
        }
        self.seen.push(self.passes);
        let is_last = self.seen.len() == self.analyses.at.len();
        let verdict = match &self.lots {
            None => analysis.verdict(self.passes),
            Some(lots) => analysis.verdict_of(&lots.by_lots().share(analysis.confidence)),
        };
        self.verdict = verdict.or(is_last.then_some(Verdict::Unclear));
    }

    /// Whether the verdict is known.
    pub(super) fn is_done(&self) -> bool {
        self.verdict.is_some()
    }

    /// The probe of `value`; `None` after an interrupt.
    pub(super) fn probe(self, value: f64) -> Option<Probe> {
        let verdict = self.verdict?;
        let analysis = self.analyses.at[self.seen.len() - 1];
        let by_lots = self.lots.map(|lots| lots.by_lots());
        let of_units = || clopper_pearson(self.passes, self.units, analysis.confidence);
        let yield_ = by_lots.map_or_else(of_units, |of| of.share(analysis.confidence));
        let design_effect = by_lots.map_or(1.0, |of| of.design_effect(analysis.confidence));
        let Judge { units, passes, seen, .. } = self;
        Some(Probe { value, units, passes, yield_, design_effect, verdict, seen })
    }
}

/// A value tried.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Probe {
    /// The value as the study writes it, without its unit; or a factor.
    pub value: f64,
    /// Units built.
    pub units: u64,
    /// Units that pass.
    pub passes: u64,
    /// The share that passes, with the interval of the verdict.
    pub yield_: Estimate,
    /// Units with as much information as one independent unit (Kish's design effect): more than 1 where units share lots.
    pub design_effect: f64,
    /// The verdict.
    pub verdict: Verdict,
    /// Passes at each analysis.
    pub(super) seen: Vec<u64>,
}

impl Probe {
    /// The yield as a normal deviate, in which it is about straight over the logarithm of a tolerance; a yield of 0 or 1
    /// is moved by half a unit.
    pub(super) fn deviate(&self) -> f64 {
        let half = 0.5 / self.units as f64;
        normal::quantile(self.yield_.value.clamp(half, 1.0 - half))
    }

    /// Units that separate a yield like this one from a demand.
    pub(crate) fn units_to_tell(&self, demand: &Demand) -> Option<u64> {
        let units = units_to_tell(self.yield_.value, demand.share, demand.confidence)?;
        Some((units as f64 * self.design_effect).ceil() as u64)
    }

    /// Whether every unit passes, but the lots are too few to show that the value meets. A looser value that meets shows it, as units that
    /// pass there pass here.
    pub(super) fn passes_unshown(&self) -> bool {
        self.verdict == Verdict::Unclear && self.passes == self.units && self.design_effect > 1.0
    }

    /// Whether some units pass and some fail, so that the deviate is known from both sides.
    pub(super) fn is_mixed(&self) -> bool {
        self.passes > 0 && self.passes < self.units
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMAND: Demand = Demand { share: 0.95, confidence: 0.95, units: 4000 };

    #[test]
    fn interim_analyses_double_the_units_and_spend_the_error_once() {
        let analyses = InterimAnalyses::new(&DEMAND);
        let units: Vec<u64> = analyses.at.iter().map(|analysis| analysis.units).collect();
        assert_eq!(units, [64, 128, 256, 512, 1024, 2048, 4000]);
        let spent: f64 = analyses.at.iter().map(|analysis| 1.0 - analysis.confidence).sum();
        assert!((spent - 0.05).abs() < 1e-12, "{spent}");
        // 1 - (2048/4000)^3 of it is left to the last.
        assert!((analyses.last().confidence - (1.0 - 0.05 * (1.0 - 0.512f64.powi(3)))).abs() < 1e-12);
    }

    #[test]
    fn bounds_are_those_of_the_interval() {
        for units in [1, 20, 64, 100, 1000, 4000, 1_000_000] {
            for analysis in InterimAnalyses::new(&Demand { units, ..DEMAND }).at {
                let at = |passes: u64| clopper_pearson(passes, analysis.units, analysis.confidence);
                assert!(analysis.meets_from > analysis.units || at(analysis.meets_from).low > 0.95);
                assert!(analysis.meets_from == 0 || at(analysis.meets_from - 1).low <= 0.95);
                assert!(at(analysis.misses_below).high >= 0.95);
                assert!(analysis.misses_below == 0 || at(analysis.misses_below - 1).high < 0.95);
            }
        }
    }

    #[test]
    fn a_judge_stops_at_the_first_analysis_that_decides() {
        let analyses = InterimAnalyses::new(&DEMAND);
        let judged = |passes: u64| {
            let mut judge = Judge::new(&analyses);
            while !judge.is_done() {
                let left = (4000 - judge.units).min(64);
                judge.take(left, passes.min(left));
            }
            judge.probe(1.0).unwrap()
        };
        // Half pass: P(X <= 32 of 64) at 0.95 is 1e-24, far below the 1e-7 that the first analysis may spend.
        let half = judged(32);
        assert_eq!((half.verdict, half.units, half.seen.len()), (Verdict::Misses, 64, 1));
        // All pass: 0.95^256 = 2e-6, below 0.025 * 7/8 * 0.064^3 = 5.7e-6; 0.95^128 = 1.4e-3 is not.
        let all = judged(64);
        assert_eq!((all.verdict, all.units, all.seen.len()), (Verdict::Meets, 256, 3));
        let near = judged(61);
        assert_eq!((near.verdict, near.units), (Verdict::Unclear, 4000));
        assert!(near.yield_.low < 0.95 && near.yield_.high > 0.95);
    }

    #[test]
    fn a_yield_nearer_to_the_demand_takes_more_units() {
        // 1.96^2 * 0.95 * 0.05 / 0.01^2 = 1825 by hand.
        assert_eq!(units_to_tell(0.96, 0.95, 0.95), Some(1825));
        assert_eq!(units_to_tell(0.955, 0.95, 0.95), Some(7299));
        assert_eq!(units_to_tell(0.95, 0.95, 0.95), None);
    }

    #[test]
    fn a_yield_takes_a_least_number_of_units_to_show() {
        // One analysis at n units: 0.95^n < 0.025 from n = 72 on (0.95^72 = 0.0249).
        let demand = |share, confidence| Demand { share, confidence, units: 0 };
        assert_eq!(fewest_units(&demand(0.5, 0.9)), 5);
        let least = fewest_units(&demand(0.95, 0.95));
        assert!((72..76).contains(&least), "{least}");
        // A low demand has to be able to fail: 0.98^n < 0.0005.
        assert!((376..400).contains(&fewest_units(&demand(0.02, 0.999))));
    }
}
