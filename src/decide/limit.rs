//! The loosest value of a study that still meets a demanded yield: the loosest tolerance, the fewest bits, the coarsest step.
//!
//! Every value is tried on the same units, so that the number that pass hardly ever rises as the value is loosened. So there is a loosest
//! value at which the yield is surely met, and a tightest one at which it is surely missed; the true limit lies between the two with the
//! stated confidence, as a probe of the limit itself would have to err for it not to (see `looks`). Between them nothing can be told on so many
//! units.

mod answer;
mod available;
mod interim;
mod probing;
mod question;
mod search;
mod sought;
mod span;
#[cfg(test)]
mod tests;

pub(in crate::decide) use available::available;
pub use interim::{Demand, Probe, Verdict, fewest_units, units_to_tell};
pub(in crate::decide) use probing::find_limit_of;
pub use probing::try_on_units;
pub use question::{Find, Question, Range};
pub use sought::Sought;
pub use span::{Spacing, Span, significant};

use crate::design::Result;
use interim::{InterimAnalyses, Judge};
use search::Search;
use serde::Serialize;

/// What a search came to.
#[derive(Clone, Debug)]
pub struct Found {
    /// What was demanded.
    pub demand: Demand,
    /// Where it was sought.
    pub span: Span,
    /// Every value that was tried, in the order of trying.
    pub probes: Vec<Probe>,
    /// Every value that would have been tried, but that the study cannot have: it neither meets the demand nor misses it.
    pub refused: Vec<Refusal>,
    /// What the probes say.
    pub answer: Answer,
    /// False when it was stopped from outside; the interval holds then too, but is wider than it could be.
    pub is_finished: bool,
    /// Numbers of probes that contradict each other: the first is tighter, and fewer units pass it, by more than chance explains.
    pub contradictions: Vec<(usize, usize)>,
    /// Units that halving would have built for the same answer, all of them at every value.
    pub units_by_halving: u64,
}

/// A value that cannot be tried.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Refusal {
    /// The value.
    pub value: f64,
    /// What the reader of the study says.
    pub reason: String,
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

    /// The limit, as well as it is known; `None` where there is none.
    pub fn limit(&self) -> Option<f64> {
        match self.answer {
            Answer::Limit(limit) => limit.best.or(limit.meets),
            _ => None,
        }
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
/// order at every value. It may refuse the value instead, and leave early, when it is stopped from outside.
pub type Oracle<'o> = &'o mut dyn FnMut(f64, &mut Units) -> Result<()>;

/// Takes the units of a probe.
#[derive(Debug)]
pub struct Units<'j> {
    judge: Judge<'j>,
    refused: Option<String>,
}

impl Units<'_> {
    /// Takes the next units, 64 at a time as far as there are so many, and how many of them pass. What comes after the end does
    /// not count.
    pub fn take(&mut self, units: u64, passes: u64) {
        self.judge.take(units, passes);
    }

    /// Takes none, as the study cannot have the value.
    pub fn refuse(&mut self, reason: String) {
        self.refused = Some(reason);
    }

    /// Says that units share lots of this size, before the first of them is taken.
    pub fn in_lots(&mut self, size: u64) {
        self.judge.in_lots(size);
    }

    /// As [`Units::take`], with a bit for each unit, the first one lowest, set where it passes: as lots need it.
    pub fn take_word(&mut self, units: u64, passing: u64) {
        self.judge.take_word(units, passing);
    }

    /// Whether no more units are wanted.
    pub fn are_enough(&self) -> bool {
        self.judge.is_done()
    }

    /// Most units that a probe takes.
    pub fn at_most(&self) -> u64 {
        self.judge.units_at_most()
    }
}

/// Seeks the loosest value of a range at which a demand is met. `own` is a value to begin with, if it lies in the range. The ends of
/// the range are values that can be tried; a range of one value is that value.
///
/// # Errors
/// As the oracle.
pub fn find_limit(demand: &Demand, span: &Span, own: Option<f64>, oracle: Oracle) -> Result<Found> {
    find_by(&InterimAnalyses::new(demand), demand, span, own, oracle)
}

fn find_by(
    analyses: &InterimAnalyses,
    demand: &Demand,
    span: &Span,
    own: Option<f64>,
    oracle: Oracle,
) -> Result<Found> {
    let mut search = Search::new(analyses, span, oracle);
    let is_finished = search.seek(own)?;
    Ok(Found {
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
