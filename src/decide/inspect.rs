//! Incoming inspection: its effect on the parts and on the units, and the choice of its limit.
//!
//! A setting is a supplier's parts and a gauge; each gets the same question on the same units. A search writes every limit that it
//! tries into the study, as its reader takes it.

mod cheapest;
mod deviations;
mod drawing;
mod form;
mod operating;
mod parts;
mod reach;
mod search;
mod settings;
mod subject;
mod units;

pub(crate) use cheapest::{Cheapest, TriedAcceptance};
pub(crate) use deviations::{Deviations, PERCENTILES};
pub(crate) use drawing::looser;
pub(crate) use form::Form;
pub(crate) use operating::Operating;
pub(crate) use parts::{DrawnParts, Parts};
pub(crate) use settings::Settings;
pub(crate) use subject::Acceptance;
pub(crate) use units::{BuiltUnits, Units};

use crate::decide::{Answer, Demand, LimitResult, Refusal};
use crate::inspection::Conformity;

/// The gauge of a setting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum GaugeAs {
    /// The gauge of the study.
    Stated,
    /// One without bias or spread.
    Exact,
    /// One with twice the bias and twice the spread.
    TwiceAsBad,
}

/// A supplier's parts and a gauge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Setting {
    /// Name of the offer; `None` for the study's own parts.
    pub supplier: Option<String>,
    /// The gauge.
    pub gauge: GaugeAs,
}

/// The question about an inspection.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Question {
    /// Its effect, as the study states it.
    Stated,
    /// The widest acceptance that meets a yield.
    Widest(Demand),
    /// The acceptance of the least cost.
    Cheapest,
}

/// The origin of a limit.
#[derive(Clone, Debug)]
pub(crate) enum Search {
    /// The study or the command line states it.
    Stated,
    /// The widest acceptance that meets a yield.
    Widest(Widest),
    /// The acceptance of the least cost; `None` after an interrupt.
    Cheapest(Option<Cheapest>),
}

/// A search for the widest acceptance that meets a yield.
#[derive(Clone, Debug)]
pub(crate) struct Widest {
    /// The result of the search.
    pub found: LimitResult,
    /// Effect on the parts of each acceptance tried, `[probe]`.
    pub shares: Vec<Shares>,
}

/// The effect of an acceptance on the parts.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Shares {
    /// Conformity as gauged; `None` where no part is turned away.
    pub conformity: Option<Conformity>,
    /// Share of the delivered parts that no unit takes: 0 without inspection.
    pub turned_away: f64,
}

/// The acceptance that a search chooses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Choice {
    /// The acceptance as stated.
    Stated,
    /// An acceptance of this size, in the unit of the search; the widest one rounded to three digits on the tight side.
    Size(f64),
    /// No inspection is needed, or none pays.
    NoInspection,
    /// No inspection suffices, or the units cannot decide.
    Nothing,
}

impl Search {
    /// Whether the units cannot distinguish a size from the chosen one.
    pub(crate) fn is_alike(&self, size: f64) -> bool {
        let ends = match self {
            Search::Stated => None,
            Search::Widest(widest) => match widest.found.answer {
                Answer::Limit(limit) => limit.meets.zip(limit.misses),
                _ => None,
            },
            Search::Cheapest(cheapest) => cheapest.as_ref().and_then(Cheapest::alike),
        };
        ends.is_some_and(|(one, other)| one.min(other) <= size && size <= one.max(other))
    }

    /// Acceptances that the search skipped, because the study cannot have them.
    pub(crate) fn refused(&self) -> &[Refusal] {
        match self {
            Search::Widest(Widest { found, .. }) => &found.refused,
            Search::Cheapest(Some(cheapest)) => &cheapest.refused,
            Search::Stated | Search::Cheapest(None) => &[],
        }
    }

    /// The chosen limit.
    pub(crate) fn choice(&self) -> Choice {
        match self {
            Search::Stated => Choice::Stated,
            Search::Widest(Widest { found, .. }) => match found.answer {
                Answer::Limit(limit) => limit.meets.map_or(Choice::Nothing, |meets| {
                    // A tighter limit meets the yield too, except beyond the tightest that counts.
                    let size = drawing::tighter(meets, limit.larger_is_looser);
                    let is_between = (size <= limit.tightest) == (meets < limit.tightest);
                    Choice::Size(if is_between { size } else { meets })
                }),
                Answer::AllMeet => Choice::NoInspection,
                Answer::NoneMeets | Answer::Turns | Answer::Unclear => Choice::Nothing,
            },
            Search::Cheapest(None) => Choice::Nothing,
            Search::Cheapest(Some(cheapest)) => {
                cheapest.least().size.map_or(Choice::NoInspection, Choice::Size)
            }
        }
    }
}

/// The answer for one setting.
#[derive(Clone, Debug)]
pub(crate) struct SettingResult {
    /// The parts and the gauge.
    pub setting: Setting,
    /// The limit and its origin.
    pub search: Search,
    /// The effect on the parts at that limit; `None` without a limit.
    pub parts: Option<Parts>,
    /// The effect on the units; `None` without limits of a figure, and after an interrupt.
    pub units: Option<Units>,
}

impl SettingResult {
    /// The units as they would be built: from the parts that are taken, or from all of them where no inspection is needed.
    pub(crate) fn made(&self) -> Option<&BuiltUnits> {
        let units = self.units.as_ref()?;
        match self.search.choice() {
            Choice::Nothing => None,
            Choice::NoInspection => Some(&units.without),
            Choice::Stated | Choice::Size(_) => Some(units.with.as_ref().unwrap_or(&units.without)),
        }
    }
}
