//! The loosest value of a study that still meets a demanded yield: the loosest tolerance, the fewest bits, the coarsest step.
//!
//! Every value is tried on the same units, so that the number that pass hardly ever rises as the value is loosened. There is a loosest
//! value that is shown to meet the yield, and a tightest one that is shown to miss it. The true limit is between the two with the stated
//! confidence: otherwise a probe of the limit itself would have to err (see `interim`). Between them these units cannot decide.

mod answer;
mod available;
mod interim;
mod probing;
mod question;
mod search;
mod search_variable;
mod span;
#[cfg(test)]
mod tests;

pub(in crate::decide) use available::available;
pub(crate) use interim::{Demand, Probe, Verdict, fewest_units};
pub(in crate::decide) use probing::find_limit_of;
#[cfg(test)]
pub(crate) use probing::try_on_units;
pub(crate) use question::{Find, Question, Range};
pub(crate) use search_variable::SearchVariable;
pub(crate) use span::{Spacing, Span, significant};

use crate::design::Result;
use interim::{InterimAnalyses, Judge};
use search::Search;
use serde::Serialize;

/// The result of a search.
#[derive(Clone, Debug)]
pub(crate) struct LimitResult {
    /// The demand.
    pub demand: Demand,
    /// The range of the search.
    pub span: Span,
    /// Every value tried, in order.
    pub probes: Vec<Probe>,
    /// Every value that the study cannot have: it neither meets the demand nor misses it.
    pub refused: Vec<Refusal>,
    /// The conclusion.
    pub answer: Answer,
    /// False after an interrupt; the interval still holds, but is wider than it could be.
    pub is_finished: bool,
    /// Numbers of probes that contradict each other: the first is tighter and fewer units pass it, by more than random variation explains.
    pub contradictions: Vec<(usize, usize)>,
    /// Units that bisection would have built for the same answer, all units at every value.
    pub units_by_halving: u64,
}

/// A value that cannot be tried.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Refusal {
    /// The value.
    pub value: f64,
    /// Message of the study's reader.
    pub reason: String,
}

/// The conclusion of a search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Answer {
    /// The yield falls from one end of the range to the other.
    Limit(Limit),
    /// All values tried meet the demand.
    AllMeet,
    /// All values tried miss it.
    NoneMeets,
    /// Both ends have the same verdict, and a value between them another: the yield has a maximum or a minimum inside the range.
    Turns,
    /// The units cannot tell the ends apart, or from the demand.
    Unclear,
}

/// A limit and its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Limit {
    /// Whether larger values are looser.
    pub larger_is_looser: bool,
    /// The tightest value that counts: an end of the range, or the value to begin with, where that meets the demand and the tight end
    /// of the range is not shown to.
    pub tightest: f64,
    /// The loosest value that meets the demand; `None` when the range ends before.
    pub meets: Option<f64>,
    /// The tightest value that misses it; `None` when the range ends before.
    pub misses: Option<f64>,
    /// The value at which the yield equals the demand; of whole numbers, the last with at least that yield. `None` without both.
    pub best: Option<f64>,
}

impl LimitResult {
    /// Units built.
    pub(crate) fn units(&self) -> u64 {
        self.probes.iter().map(|probe| probe.units).sum()
    }

    /// The best estimate of the limit; `None` where there is none.
    pub(crate) fn limit(&self) -> Option<f64> {
        match self.answer {
            Answer::Limit(limit) => limit.best.or(limit.meets),
            _ => None,
        }
    }

    /// The probe of a value.
    pub(crate) fn probe(&self, value: f64) -> Option<&Probe> {
        self.probes.iter().find(|probe| probe.value == value)
    }

    /// Whether some value is shown to meet the demand.
    pub(crate) fn meets_somewhere(&self) -> bool {
        self.probes.iter().any(|probe| probe.verdict == Verdict::Meets)
    }

    /// Probes from the tightest value on; from the smallest where it is not known which is tight.
    pub(crate) fn in_order(&self) -> Vec<&Probe> {
        let mut probes: Vec<&Probe> = self.probes.iter().collect();
        probes.sort_by(|a, b| a.value.total_cmp(&b.value));
        if let Answer::Limit(Limit { larger_is_looser: false, .. }) = self.answer {
            probes.reverse();
        }
        probes
    }
}

/// Builds units at a value and counts those that pass: it feeds the judge until that is done, with the same units in the same order at
/// every value. It may refuse the value instead, and return early after an interrupt.
pub(super) type Oracle<'o> = &'o mut dyn FnMut(f64, &mut Units) -> Result<()>;

/// Takes the units of a probe.
#[derive(Debug)]
pub(crate) struct Units<'j> {
    judge: Judge<'j>,
    refused: Option<String>,
}

impl Units<'_> {
    /// Adds the next units, 64 at a time while there are as many, and how many of them pass. Units after the end do not count.
    #[cfg(test)]
    pub(crate) fn take(&mut self, units: u64, passes: u64) {
        self.judge.take(units, passes);
    }

    /// Refuses the value, because the study cannot have it.
    pub(super) fn refuse(&mut self, reason: String) {
        self.refused = Some(reason);
    }

    /// Sets the lot size, before the first unit.
    pub(crate) fn in_lots(&mut self, size: u64) {
        self.judge.in_lots(size);
    }

    /// As [`Units::take`], with a bit for each unit, the first one lowest, set where it passes; lots need this form.
    pub(crate) fn take_word(&mut self, units: u64, passing: u64) {
        self.judge.take_word(units, passing);
    }

    /// Whether the judge needs no more units.
    pub(crate) fn are_enough(&self) -> bool {
        self.judge.is_done()
    }
}

/// Seeks the loosest value of a range at which a demand is met. `own` is a value to begin with, if it is in the range. The ends of
/// the range are values that can be tried; a range of one value is that value.
///
/// # Errors
/// As the oracle.
pub(crate) fn find_limit(
    demand: &Demand,
    span: &Span,
    own: Option<f64>,
    oracle: Oracle,
) -> Result<LimitResult> {
    find_by(&InterimAnalyses::new(demand), demand, span, own, oracle)
}

fn find_by(
    analyses: &InterimAnalyses,
    demand: &Demand,
    span: &Span,
    own: Option<f64>,
    oracle: Oracle,
) -> Result<LimitResult> {
    let mut search = Search::new(analyses, span, oracle);
    let is_finished = search.seek(own)?;
    Ok(LimitResult {
        demand: *demand,
        span: *span,
        answer: search.answer(demand.share),
        is_finished,
        contradictions: search.contradictions(),
        units_by_halving: demand.units * search.values_by_halving(),
        refused: search.refused,
        probes: search.probes,
    })
}
