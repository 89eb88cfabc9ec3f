//! The conclusion from the values tried.

use super::interim::{Probe, Verdict};
use super::search::{End, Search};
use super::span::Spacing;
use super::{Answer, Limit};
use crate::math::normal;

/// Standard errors beyond which more passes at a looser value are no random variation.
const BEYOND_NOISE: f64 = 3.0;

impl Search<'_> {
    /// The conclusion for a demanded share.
    pub(super) fn answer(&self, share: f64) -> Answer {
        let (first, second, rest) = match self.probes.as_slice() {
            [_, _, rest @ ..] => (0, 1, rest),
            // A range of one value.
            [_] if self.span.from == self.span.to => (0, 0, [].as_slice()),
            _ => return Answer::Unclear,
        };
        let (from, to) = (self.verdict(first), self.verdict(second));
        let own = if rest.is_empty() { from } else { self.verdict(2) };
        match (from, to) {
            _ if self.falls => match self.limit(share) {
                // All values that seemed to meet had too few lots.
                Limit { meets: None, misses: None, .. } => Answer::Unclear,
                limit => Answer::Limit(limit),
            },
            (from, to) if from != to => Answer::Turns,
            (Verdict::Meets, _) if own == Verdict::Misses => Answer::Turns,
            (Verdict::Misses, _) if own == Verdict::Meets => Answer::Turns,
            (Verdict::Meets, _) => Answer::AllMeet,
            (Verdict::Misses, _) => Answer::NoneMeets,
            (Verdict::Unclear, _) => Answer::Unclear,
        }
    }

    fn limit(&self, share: f64) -> Limit {
        let is_shown = |meets: &Probe| {
            let from = self.place(meets);
            self.probes.iter().any(|probe| probe.verdict == Verdict::Meets && self.place(probe) >= from)
        };
        let meets = self.bracket(End::Meets).filter(|[meets, _]| is_shown(meets));
        let meets = meets.map(|[meets, _]| meets.value);
        let misses = self.bracket(End::Misses).map(|[_, misses]| misses.value);
        let best = meets.and(misses).and_then(|_| self.best(share));
        let tightest = self.probes[self.tightest].value;
        Limit { larger_is_looser: self.sign > 0.0, tightest, meets, misses, best }
    }

    /// The value at which the yield crosses the demand, by a straight line between neighbours.
    fn best(&self, share: f64) -> Option<f64> {
        let probes = self.in_order();
        let loose = probes.iter().position(|probe| probe.yield_.value < share)?;
        let (tight, loose) = (probes[loose.checked_sub(1)?], probes[loose]);
        if self.span.spacing == Spacing::Whole {
            return Some(tight.value);
        }
        let (from, to) = (self.place(tight), self.place(loose));
        let part = part_of_way(tight, loose, share);
        Some(self.span.value(self.sign * (from + (to - from) * part)))
    }

    /// Neighbours of which the looser one passes more of the same units, by more than independent samples would vary.
    pub(super) fn contradictions(&self) -> Vec<(usize, usize)> {
        let mut order: Vec<usize> = (0..self.probes.len()).collect();
        order.sort_by(|a, b| self.place(&self.probes[*a]).total_cmp(&self.place(&self.probes[*b])));
        let contradict = |pair: &&[usize]| {
            let [tight, loose] = [&self.probes[pair[0]], &self.probes[pair[1]]];
            let analyses = tight.seen.len().min(loose.seen.len());
            let units = self.analyses.at[analyses - 1].units as f64;
            let [fewer, more] = [tight, loose].map(|probe| probe.seen[analyses - 1] as f64);
            let share = (fewer + more) / (2.0 * units);
            let effect = tight.design_effect.max(loose.design_effect);
            more - fewer > BEYOND_NOISE * (2.0 * units * share * (1.0 - share) * effect).sqrt()
        };
        if !self.falls {
            return Vec::new();
        }
        order.windows(2).filter(contradict).map(|pair| (pair[0], pair[1])).collect()
    }

    /// How many values bisection would have tried for the same ends, each value once: both ends of the range, and the middles of the
    /// brackets.
    pub(super) fn values_by_halving(&self) -> u64 {
        let (from, to) = (self.span.position(self.span.from), self.span.position(self.span.to));
        let to = self.sign * if self.sign > 0.0 { to } else { from };
        let from = self.probes.get(self.tightest).map_or(self.sign * from, |probe| self.place(probe));
        let mut middles: Vec<f64> = Vec::new();
        for end in [End::Meets, End::Misses] {
            let Some([tight, loose]) = self.bracket(end).filter(|_| self.falls) else { continue };
            let target = 0.5 * (self.place(tight) + self.place(loose));
            // No closer than the search itself.
            let closest = self.span.resolution().max(self.place(loose) - self.place(tight));
            let (mut low, mut high) = (from, to);
            while high - low > closest * (1.0 + 1e-9) {
                let middle = match self.span.spacing {
                    Spacing::Whole => (0.5 * (low + high)).floor(),
                    _ => 0.5 * (low + high),
                };
                middles.push(middle);
                if middle < target { low = middle } else { high = middle }
            }
        }
        middles.sort_by(f64::total_cmp);
        middles.dedup();
        2 + middles.len() as u64
    }
}

/// The part of the way from a tight to a loose value at which the yield is expected to be `share`: a straight line through the
/// yields as normal deviates, which are about straight over the logarithm of a tolerance. Half the way where they do not fall.
fn part_of_way(tight: &Probe, loose: &Probe, share: f64) -> f64 {
    let (high, low) = (tight.deviate(), loose.deviate());
    if high <= low {
        return 0.5;
    }
    ((high - normal::quantile(share)) / (high - low)).clamp(0.0, 1.0)
}
