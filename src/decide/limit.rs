//! The loosest value of a study that still meets a demanded yield: the loosest tolerance, the fewest bits, the coarsest step.
//!
//! Every value is tried on the same units, so that the number that pass hardly ever rises as the value is loosened. So there is a loosest
//! value at which the yield is surely met, and a tightest one at which it is surely missed; the true limit lies between the two with the
//! stated confidence, as a probe of the limit itself would have to err for it not to (see `looks`). Between them nothing can be told on so many
//! units. The search closes in on both ends: by a straight line through the yields as normal deviates, kept off the ends of
//! its bracket by more and more, so that it never does much worse than halving.

mod looks;
mod probing;
mod sought;
mod span;
#[cfg(test)]
mod tests;

pub use looks::{Demand, Probe, Verdict, fewest_units, units_to_tell};
pub use probing::try_on_units;
pub use sought::Sought;
pub use span::{Spacing, Span, significant};

use crate::error::Result;
use crate::math::normal;
use looks::{Judge, Looks};

/// The part of a resolution that is left between a probe and the end of its bracket: a little less than one, so that rounding to
/// what can stand on a drawing keeps within it.
const STEP: f64 = 0.95;

/// Standard errors beyond which more passes at a looser value are no chance.
const BEYOND_NOISE: f64 = 3.0;

/// What a search came to.
#[derive(Clone, Debug)]
pub struct Found {
    /// What was demanded.
    pub demand: Demand,
    /// Where it was sought.
    pub span: Span,
    /// Every value that was tried, in the order of trying.
    pub probes: Vec<Probe>,
    /// What the probes say.
    pub answer: Answer,
    /// False when it was stopped from outside; the interval holds then too, but is wider than it could be.
    pub is_finished: bool,
    /// Numbers of probes that contradict each other: the first is tighter, and fewer units pass it, by more than chance explains.
    pub contradictions: Vec<(usize, usize)>,
    /// Units that halving would have built for the same answer, all of them at every value.
    pub units_by_halving: u64,
}

/// What the probes of a search say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Answer {
    /// The yield falls from one end of the range to the other.
    Limit(Limit),
    /// All values tried meet the demand.
    AllMeet,
    /// All values tried miss it.
    NoneMeets,
    /// Both ends do alike, and a value between them does not: the yield has its best, or its worst, inside the range.
    Turns,
    /// The ends cannot be told apart, or from the demand.
    Unclear,
}

/// A limit and its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Whether larger values are looser.
    pub larger_is_looser: bool,
    /// The tightest value that counts: an end of the range, or the value to begin with, where that meets the demand and the tight end
    /// of the range is not shown to.
    pub tightest: f64,
    /// The loosest value that meets the demand; `None` when the range ends before.
    pub meets: Option<f64>,
    /// The tightest value that misses it; `None` when the range ends before.
    pub misses: Option<f64>,
    /// Where the yield of all units is as demanded: of whole numbers, the last where it is not less. `None` without both.
    pub best: Option<f64>,
}

impl Found {
    /// Units built.
    pub fn units(&self) -> u64 {
        self.probes.iter().map(|probe| probe.units).sum()
    }

    /// The probe of a value.
    pub fn probe(&self, value: f64) -> Option<&Probe> {
        self.probes.iter().find(|probe| probe.value == value)
    }

    /// Whether some value is shown to meet the demand.
    pub fn meets_somewhere(&self) -> bool {
        self.probes.iter().any(|probe| probe.verdict == Verdict::Meets)
    }

    /// Probes from the tightest value on; from the smallest where it is not known which is tight.
    pub fn in_order(&self) -> Vec<&Probe> {
        let mut probes: Vec<&Probe> = self.probes.iter().collect();
        probes.sort_by(|a, b| a.value.total_cmp(&b.value));
        if let Answer::Limit(Limit { larger_is_looser: false, .. }) = self.answer {
            probes.reverse();
        }
        probes
    }
}

/// Whatever builds units at a value and counts those that pass: it feeds the judge until that is done, the same units in the same
/// order at every value. It may leave early, when it is stopped from outside.
pub type Oracle<'o> = &'o mut dyn FnMut(f64, &mut Units) -> Result<()>;

/// Takes the units of a probe.
#[derive(Debug)]
pub struct Units<'j>(Judge<'j>);

impl Units<'_> {
    /// Takes the next units, 64 at a time as far as there are so many, and how many of them pass. What comes after the end does
    /// not count.
    pub fn take(&mut self, units: u64, passes: u64) {
        self.0.take(units, passes);
    }

    /// Whether no more units are wanted.
    pub fn are_enough(&self) -> bool {
        self.0.is_done()
    }

    /// Most units that a probe takes.
    pub fn at_most(&self) -> u64 {
        self.0.units_at_most()
    }
}

/// Seeks the loosest value of a range at which a demand is met. `own` is a value to begin with, if it lies in the range.
///
/// # Errors
/// As the oracle.
pub fn find_limit(demand: &Demand, span: &Span, own: Option<f64>, oracle: Oracle) -> Result<Found> {
    find_by(&Looks::new(demand), demand, span, own, oracle)
}

fn find_by(looks: &Looks, demand: &Demand, span: &Span, own: Option<f64>, oracle: Oracle) -> Result<Found> {
    let mut search = Search { looks, span, sign: 1.0, tightest: 0, falls: false, probes: Vec::new(), oracle };
    let is_finished = search.seek(own)?;
    Ok(search.found(demand, is_finished))
}

/// An end of a limit's interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum End {
    /// Between the last value that meets and the next.
    Meets,
    /// Between the first value that misses and the one before.
    Misses,
}

/// A search under way.
struct Search<'s> {
    looks: &'s Looks,
    span: &'s Span,
    /// 1 where larger values are looser, -1 where smaller ones are.
    sign: f64,
    /// Number of the probe of the tightest value that counts.
    tightest: usize,
    /// Whether a limit can be sought: the yield falls from the tightest value to the other end.
    falls: bool,
    /// In the order of trying.
    probes: Vec<Probe>,
    oracle: Oracle<'s>,
}

impl Search<'_> {
    /// Tries values until all is known; false when it was stopped.
    fn seek(&mut self, own: Option<f64>) -> Result<bool> {
        let Span { from, to, .. } = *self.span;
        let own = own.filter(|own| from < *own && *own < to);
        let mut is_whole = true;
        for value in [from, to].into_iter().chain(own) {
            is_whole = is_whole && self.probe(value)?;
        }
        if self.probes.len() > 1 {
            self.choose_direction();
        }
        Ok(is_whole && (!self.falls || self.close(End::Meets)? && self.close(End::Misses)?))
    }

    /// Finds which end of the range is loose, from the ends and the value to begin with.
    fn choose_direction(&mut self) {
        let verdicts: Vec<Verdict> = self.probes.iter().map(|probe| probe.verdict).collect();
        let (tight, loose) = if verdicts[0] < verdicts[1] { (0, 1) } else { (1, 0) };
        let own = verdicts.get(2).copied().unwrap_or(verdicts[tight]);
        self.sign = if tight == 0 { 1.0 } else { -1.0 };
        let is_between = (verdicts[tight]..=verdicts[loose]).contains(&own);
        // The yield is best inside the range: what is beyond the best value does not count, if it is no limit as well.
        let is_best = own < verdicts[tight] && verdicts[loose] == Verdict::Misses;
        self.tightest = if is_between { tight } else { 2 };
        self.falls = verdicts[0] != verdicts[1] && (is_between || is_best);
    }

    /// Tries a value; false when it was stopped.
    fn probe(&mut self, value: f64) -> Result<bool> {
        let mut units = Units(Judge::new(self.looks));
        (self.oracle)(value, &mut units)?;
        let probe = units.0.probe(value);
        let is_whole = probe.is_some();
        self.probes.extend(probe);
        Ok(is_whole)
    }

    /// A value's place, larger for looser.
    fn place(&self, probe: &Probe) -> f64 {
        self.sign * self.span.position(probe.value)
    }

    /// Probes that count, from the tightest value on.
    fn in_order(&self) -> Vec<&Probe> {
        let tightest = self.probes.get(self.tightest).map_or(f64::NEG_INFINITY, |probe| self.place(probe));
        let mut probes: Vec<&Probe> =
            self.probes.iter().filter(|probe| self.place(probe) >= tightest).collect();
        probes.sort_by(|a, b| self.place(a).total_cmp(&self.place(b)));
        probes
    }

    /// The two neighbours between which an end lies; `None` when it is not in the range. Where probes contradict each other, the one that
    /// leaves the interval wider counts.
    fn bracket(&self, end: End) -> Option<[&Probe; 2]> {
        let probes = self.in_order();
        let second = match end {
            End::Meets => probes.iter().position(|probe| probe.verdict != Verdict::Meets)?,
            End::Misses => 1 + probes.iter().rposition(|probe| probe.verdict != Verdict::Misses)?,
        };
        let first = second.checked_sub(1)?;
        Some([*probes.get(first)?, *probes.get(second)?])
    }

    /// Closes in on an end, down to the resolution; false when it was stopped.
    fn close(&mut self, end: End) -> Result<bool> {
        // Probes in a row that fell on the same side: each doubles the distance that the next one keeps from there.
        let mut in_a_row = 0;
        let mut side = None;
        while let Some([tight, loose]) = self.bracket(end) {
            let (from, to) = (self.place(tight), self.place(loose));
            let resolution = self.span.resolution();
            if to - from <= resolution * (1.0 + 1e-9) {
                break;
            }
            let distance = STEP * resolution * f64::from(1u32 << in_a_row.min(30));
            let margin = distance.min(0.5 * (to - from));
            let place = self.guess(end, tight, loose).max(from + margin).min(to - margin);
            let value = self.span.value(self.sign * place);
            if value == tight.value || value == loose.value {
                break;
            }
            if !self.probe(value)? {
                return Ok(false);
            }
            let is_tight_side = self.bracket(end).is_some_and(|[tight, _]| tight.value == value);
            in_a_row = if side == Some(is_tight_side) { in_a_row + 1 } else { 0 };
            side = Some(is_tight_side);
        }
        Ok(true)
    }

    /// Where an end can be expected: a straight line through the better known of its neighbours, as steep as all probes together have it;
    /// the middle where that is not known.
    fn guess(&self, end: End, tight: &Probe, loose: &Probe) -> f64 {
        let last = self.looks.last();
        let passes = match end {
            End::Meets => last.meets_from,
            End::Misses => last.misses_below,
        };
        let due = normal::quantile(((passes as f64 - 0.5) / last.units as f64).clamp(1e-9, 1.0 - 1e-9));
        let anchor = if tight.units >= loose.units { tight } else { loose };
        let slope = self.slope(anchor);
        if anchor.is_mixed() && slope < 0.0 {
            self.place(anchor) + (due - anchor.deviate()) / slope
        } else {
            0.5 * (self.place(tight) + self.place(loose))
        }
    }

    /// How steep the yield is near a probe, as a normal deviate over the place: the line through it that fits the others best.
    ///
    /// Each counts by how well it tells the slope (own derivation): what differs between two values of the same N units is
    /// a count of its own, of variance D/(N phi(d)) for the difference D that the line gives their deviates d; a probe of n units
    /// adds p(1 - p)/phi(d)^2 (1/n - 1/N); and the true line bends, by `BEND` D^2. The line and the weights take turns.
    fn slope(&self, anchor: &Probe) -> f64 {
        const BEND: f64 = 0.1;
        const TURNS: usize = 4;
        let mut slope = f64::NAN;
        for _ in 0..TURNS {
            let (mut across, mut along) = (0.0, 0.0);
            for probe in self.probes.iter().filter(|probe| probe.is_mixed() && probe.value != anchor.value) {
                let (rise, run) =
                    (probe.deviate() - anchor.deviate(), self.place(probe) - self.place(anchor));
                let expected = if slope < 0.0 { (slope * run).abs() } else { rise.abs() };
                let (share, density) = (probe.yield_.value, normal::density(probe.deviate()));
                let alone = (1.0 / probe.units as f64 - 1.0 / anchor.units as f64).max(0.0);
                let bend = BEND * expected * expected;
                let variance = expected / (anchor.units as f64 * density)
                    + share * (1.0 - share) / (density * density) * alone
                    + bend * bend;
                across += run * rise / variance.max(f64::MIN_POSITIVE);
                along += run * run / variance.max(f64::MIN_POSITIVE);
            }
            slope = across / along;
        }
        slope
    }

    fn found(self, demand: &Demand, is_finished: bool) -> Found {
        let answer = self.answer(demand.share);
        let units_by_halving = demand.units * self.values_by_halving();
        let contradictions = self.contradictions();
        let (span, probes) = (*self.span, self.probes);
        Found { demand: *demand, span, probes, answer, is_finished, contradictions, units_by_halving }
    }

    fn answer(&self, share: f64) -> Answer {
        let [first, second, rest @ ..] = self.probes.as_slice() else { return Answer::Unclear };
        let own = rest.first().map_or(first.verdict, |own| own.verdict);
        match (first.verdict, second.verdict) {
            _ if self.falls => Answer::Limit(self.limit(share)),
            (from, to) if from != to => Answer::Turns,
            (Verdict::Meets, _) if own == Verdict::Misses => Answer::Turns,
            (Verdict::Misses, _) if own == Verdict::Meets => Answer::Turns,
            (Verdict::Meets, _) => Answer::AllMeet,
            (Verdict::Misses, _) => Answer::NoneMeets,
            (Verdict::Unclear, _) => Answer::Unclear,
        }
    }

    fn limit(&self, share: f64) -> Limit {
        let meets = self.bracket(End::Meets).map(|[meets, _]| meets.value);
        let misses = self.bracket(End::Misses).map(|[_, misses]| misses.value);
        let best = meets.and(misses).and_then(|_| self.best(share));
        let tightest = self.probes[self.tightest].value;
        Limit { larger_is_looser: self.sign > 0.0, tightest, meets, misses, best }
    }

    /// Where the yield passes through the demand, by a straight line between neighbours.
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

    /// Neighbours of which the looser one passes more of the same units, beyond what chance does to units of their own.
    fn contradictions(&self) -> Vec<(usize, usize)> {
        let mut order: Vec<usize> = (0..self.probes.len()).collect();
        order.sort_by(|a, b| self.place(&self.probes[*a]).total_cmp(&self.place(&self.probes[*b])));
        let contradict = |pair: &&[usize]| {
            let [tight, loose] = [&self.probes[pair[0]], &self.probes[pair[1]]];
            let looks = tight.seen.len().min(loose.seen.len());
            let units = self.looks.at[looks - 1].units as f64;
            let [fewer, more] = [tight, loose].map(|probe| probe.seen[looks - 1] as f64);
            let share = (fewer + more) / (2.0 * units);
            more - fewer > BEYOND_NOISE * (2.0 * units * share * (1.0 - share)).sqrt()
        };
        if !self.falls {
            return Vec::new();
        }
        order.windows(2).filter(contradict).map(|pair| (pair[0], pair[1])).collect()
    }

    /// How many values halving would have tried to close in on the same ends, each value once: both ends of the range, and the
    /// middles of the brackets.
    fn values_by_halving(&self) -> u64 {
        let (from, to) = (self.span.position(self.span.from), self.span.position(self.span.to));
        let to = self.sign * if self.sign > 0.0 { to } else { from };
        let from = self.probes.get(self.tightest).map_or(self.sign * from, |probe| self.place(probe));
        let mut middles: Vec<f64> = Vec::new();
        for end in [End::Meets, End::Misses] {
            let Some([tight, loose]) = self.bracket(end).filter(|_| self.falls) else { continue };
            let sought = 0.5 * (self.place(tight) + self.place(loose));
            let (mut low, mut high) = (from, to);
            while high - low > self.span.resolution() * (1.0 + 1e-9) {
                let middle = match self.span.spacing {
                    Spacing::Whole => (0.5 * (low + high)).floor(),
                    _ => 0.5 * (low + high),
                };
                middles.push(middle);
                if middle < sought { low = middle } else { high = middle }
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
