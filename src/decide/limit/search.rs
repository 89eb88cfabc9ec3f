//! The search itself: which values to try.
//!
//! It brackets both ends of the interval and interpolates linearly in the yields as normal deviates. Each further
//! probe in a row on one side keeps farther from the ends of its bracket, so that the search never does much worse than bisection.

use super::interim::{InterimAnalyses, Judge, Probe, Verdict};
use super::span::{Spacing, Span};
use super::{Oracle, Refusal, Units};
use crate::design::Result;
use crate::math::normal;

/// The part of a resolution between a probe and the end of its bracket: a little less than one, so that rounding to the digits of a
/// drawing stays within the resolution.
const STEP: f64 = 0.95;

/// Resolution of the interval's ends, as a part of its width: a finer one would cost units and narrow the interval by less than random
/// variation.
const PART: f64 = 0.1;

/// Distance of a first guess from the ends of a long bracket, as a part of its length, so that one bad guess cannot cost much.
const KEPT_OFF: f64 = 0.05;

/// An end of a limit's interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// Between the last value that meets and the next.
    Meets,
    /// Between the first value that misses and the one before.
    Misses,
}

/// A search under way.
pub(super) struct Search<'s> {
    pub analyses: &'s InterimAnalyses,
    pub span: &'s Span,
    /// 1 where larger values are looser, -1 where smaller ones are.
    pub sign: f64,
    /// Number of the probe of the tightest value that counts.
    pub tightest: usize,
    /// Whether there is a limit to seek: the yield falls from the tightest value to the other end.
    pub falls: bool,
    /// In the order of the search.
    pub probes: Vec<Probe>,
    /// Refused values.
    pub refused: Vec<Refusal>,
    oracle: Oracle<'s>,
}

/// The outcome of a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Outcome {
    Judged,
    Refused,
    Stopped,
}

/// Progress toward one end.
struct Course {
    end: End,
    /// Whether the last probe was on the tight side of the end.
    side: Option<bool>,
    /// Probes in a row on that side: each doubles the distance that the next one keeps from there.
    in_a_row: u32,
    /// Whether no value is left to try.
    is_closed: bool,
}

impl<'s> Search<'s> {
    pub(super) fn new(analyses: &'s InterimAnalyses, span: &'s Span, oracle: Oracle<'s>) -> Search<'s> {
        let (probes, refused) = (Vec::new(), Vec::new());
        Search { analyses, span, sign: 1.0, tightest: 0, falls: false, probes, refused, oracle }
    }

    /// Tries values until both ends are known; false after an interrupt.
    pub(super) fn seek(&mut self, own: Option<f64>) -> Result<bool> {
        let Span { from, to, .. } = *self.span;
        let own = own.filter(|own| from < *own && *own < to);
        let mut is_whole = true;
        let second = (to != from).then_some(to);
        for value in std::iter::once(from).chain(second).chain(own) {
            is_whole = is_whole && self.probe(value)? != Outcome::Stopped;
        }
        if self.probes.len() > 1 {
            self.choose_direction();
        }
        Ok(is_whole && (!self.falls || self.close_in()?))
    }

    /// Finds which end of the range is loose, from the ends and the value to begin with.
    fn choose_direction(&mut self) {
        let verdicts: Vec<Verdict> = (0..self.probes.len()).map(|probe| self.verdict(probe)).collect();
        let (tight, loose) = if verdicts[0] < verdicts[1] { (0, 1) } else { (1, 0) };
        let own = verdicts.get(2).copied().unwrap_or(verdicts[tight]);
        self.sign = if tight == 0 { 1.0 } else { -1.0 };
        let is_between = (verdicts[tight]..=verdicts[loose]).contains(&own);
        // Where the yield is best inside the range, values beyond the best do not count.
        let is_best = own < verdicts[tight] && verdicts[loose] == Verdict::Misses;
        self.tightest = if is_between { tight } else { 2 };
        self.falls = verdicts[0] != verdicts[1] && (is_between || is_best);
    }

    /// Verdict of a probe beside the others: where every unit passes, the lots may be too few to show that it meets, but it meets if any
    /// value does.
    pub(super) fn verdict(&self, probe: usize) -> Verdict {
        let of = &self.probes[probe];
        let is_first = of.passes_unshown() && self.probes.iter().any(|other| other.passes < other.units);
        if is_first { Verdict::Meets } else { of.verdict }
    }

    /// Tries a value.
    fn probe(&mut self, value: f64) -> Result<Outcome> {
        let mut units = Units { judge: Judge::new(self.analyses), refused: None };
        (self.oracle)(value, &mut units)?;
        if let Some(reason) = units.refused {
            self.refused.push(Refusal { value, reason });
            return Ok(Outcome::Refused);
        }
        let probe = units.judge.probe(value);
        let outcome = if probe.is_some() { Outcome::Judged } else { Outcome::Stopped };
        self.probes.extend(probe);
        Ok(outcome)
    }

    /// Tries the value at a place, or the nearest one between two others that the study can have; `None` where it has none.
    fn probe_near(&mut self, place: f64, between: [f64; 2]) -> Result<Option<(f64, Outcome)>> {
        let is_inside =
            |value: &f64| between[0].min(between[1]) < *value && *value < between[0].max(between[1]);
        let first = Some(self.span.value(self.sign * place)).filter(is_inside);
        let Some(first) = first else { return Ok(None) };
        let mut others = None;
        let mut value = first;
        loop {
            if !self.refused.iter().any(|of| of.value == value) {
                let outcome = self.probe(value)?;
                if outcome != Outcome::Refused {
                    return Ok(Some((value, outcome)));
                }
            }
            let others = others.get_or_insert_with(|| self.span.near(first, between).into_iter());
            match others.next() {
                Some(next) => value = next,
                None => return Ok(None),
            }
        }
    }

    /// A value's place on the scale of the search, larger for looser.
    pub(super) fn place(&self, probe: &Probe) -> f64 {
        self.sign * self.span.position(probe.value)
    }

    /// Probes that count, from the tightest value on.
    pub(super) fn in_order(&self) -> Vec<&Probe> {
        let tightest = self.probes.get(self.tightest).map_or(f64::NEG_INFINITY, |probe| self.place(probe));
        let mut probes: Vec<&Probe> =
            self.probes.iter().filter(|probe| self.place(probe) >= tightest).collect();
        probes.sort_by(|a, b| self.place(a).total_cmp(&self.place(b)));
        probes
    }

    /// The two neighbours around an end; `None` when the end is not in the range. Where probes contradict each other, the one that gives
    /// the wider interval counts.
    pub(super) fn bracket(&self, end: End) -> Option<[&Probe; 2]> {
        let probes = self.in_order();
        let second = match end {
            End::Meets => {
                probes.iter().position(|probe| probe.verdict != Verdict::Meets && !probe.passes_unshown())?
            }
            End::Misses => 1 + probes.iter().rposition(|probe| probe.verdict != Verdict::Misses)?,
        };
        let first = second.checked_sub(1)?;
        Some([*probes.get(first)?, *probes.get(second)?])
    }

    /// Narrows both brackets, always the longer one; false after an interrupt.
    fn close_in(&mut self) -> Result<bool> {
        let mut courses =
            [End::Meets, End::Misses].map(|end| Course { end, side: None, in_a_row: 0, is_closed: false });
        loop {
            let [meets, misses] =
                [&courses[0], &courses[1]].map(|of| if of.is_closed { 0.0 } else { self.length(of.end) });
            if meets.max(misses) <= 1.0 + 1e-9 {
                return Ok(true);
            }
            if !self.step(&mut courses[usize::from(misses > meets)])? {
                return Ok(false);
            }
        }
    }

    /// Length of the bracket of an end, in resolutions; 0 for an end that is not in the range.
    fn length(&self, end: End) -> f64 {
        self.bracket(end)
            .map_or(0.0, |[tight, loose]| (self.place(loose) - self.place(tight)) / self.resolution())
    }

    /// The resolution of the search: the span's own, or a part of the interval.
    fn resolution(&self) -> f64 {
        let own = self.span.resolution();
        match (self.bracket(End::Meets), self.bracket(End::Misses)) {
            (Some([_, first]), Some([last, _])) if self.span.spacing != Spacing::Whole => {
                own.max(PART * (self.place(last) - self.place(first)))
            }
            _ => own,
        }
    }

    /// Tries a value between the neighbours of an end; false after an interrupt.
    fn step(&mut self, course: &mut Course) -> Result<bool> {
        let Some([tight, loose]) = self.bracket(course.end) else { return Ok(true) };
        let (from, to) = (self.place(tight), self.place(loose));
        let least = (STEP * self.resolution()).max(KEPT_OFF * (to - from));
        let distance = least * f64::from(1u32 << course.in_a_row.min(30));
        let margin = distance.min(0.5 * (to - from));
        let place = self.guess(course.end, tight, loose).max(from + margin).min(to - margin);
        let between = [tight.value, loose.value];
        let Some((value, outcome)) = self.probe_near(place, between)? else {
            course.is_closed = true;
            return Ok(true);
        };
        if outcome == Outcome::Stopped {
            return Ok(false);
        }
        let is_tight_side = self.bracket(course.end).is_some_and(|[tight, _]| tight.value == value);
        course.in_a_row = if course.side == Some(is_tight_side) { course.in_a_row + 1 } else { 0 };
        course.side = Some(is_tight_side);
        Ok(true)
    }

    /// The expected place of an end: on a straight line through the better known of its neighbours, with the slope of all probes; the middle
    /// where the slope is not known.
    fn guess(&self, end: End, tight: &Probe, loose: &Probe) -> f64 {
        let anchor = if tight.units >= loose.units { tight } else { loose };
        let last = self.analyses.last().of_independent(anchor.design_effect);
        let passes = match end {
            End::Meets => last.meets_from,
            End::Misses => last.misses_below,
        };
        let target = normal::quantile(((passes as f64 - 0.5) / last.units as f64).clamp(1e-9, 1.0 - 1e-9));
        let slope = self.slope(anchor);
        let (from, to) = (self.place(tight), self.place(loose));
        if !anchor.is_mixed() || slope.is_nan() || slope >= 0.0 {
            return 0.5 * (from + to);
        }
        self.place(anchor) + (target - anchor.deviate()) / slope
    }

    /// How steep the yield is near a probe, as a normal deviate over the place: the line through it that fits the others best.
    ///
    /// Each has the weight of its information on the slope (own derivation): the units that differ between two values of the same N units are
    /// a count of their own, of variance D/(N phi(d)) for the difference D that the line gives their deviates d; a probe of n units
    /// adds p(1 - p)/phi(d)^2 (1/n - 1/N); and the true line bends, by `BEND` D^2. The fit alternates between the line and the weights.
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
}
