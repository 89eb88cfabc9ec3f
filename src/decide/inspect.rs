//! An incoming inspection weighed: what it does to the parts, what that makes of the units, and which limit is the right one.
//!
//! A setting is a supplier's parts and a gauge; each is asked the same question on the same units. Where a limit is sought, every value
//! of it is written into the study, as its reader takes it.

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

pub use cheapest::{Cheapest, Tried};
pub use deviations::{Deviations, PERCENTILES};
pub use drawing::looser;
pub use form::Form;
pub use operating::Operating;
pub use parts::{AtLimit, Drawn, GaugeShare, Parts};
pub use settings::Settings;
pub use subject::{Accept, Way};
pub use units::{Made, Units};

use crate::decide::{Answer, Demand, Found, Refusal};
use crate::inspection::Conformity;

/// By what parts are gauged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GaugeAs {
    /// The gauge of the study.
    Stated,
    /// One without bias or spread.
    Exact,
    /// One with twice the bias and twice the spread.
    TwiceAsBad,
}

/// Whose parts they are, and by what they are gauged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setting {
    /// Name of the offer; `None` for the study's own parts.
    pub supplier: Option<String>,
    /// The gauge.
    pub gauge: GaugeAs,
}

/// What is asked of an inspection.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Question {
    /// What it does as it is stated.
    Stated,
    /// Which is the widest acceptance that meets a yield.
    Widest(Demand),
    /// Which acceptance costs least.
    Cheapest,
}

/// How a limit was come by.
#[derive(Clone, Debug)]
pub enum Search {
    /// It is the study's, or was given.
    Stated,
    /// The widest that meets a yield.
    Widest(Widest),
    /// That of the least cost; `None` where a stop came before.
    Cheapest(Option<Cheapest>),
}

/// A search for the widest acceptance that meets a yield.
#[derive(Clone, Debug)]
pub struct Widest {
    /// What was found.
    pub found: Found,
    /// What each acceptance that was tried does to the parts, `[probe]`.
    pub shares: Vec<Shares>,
}

/// What an acceptance does to the parts.
#[derive(Clone, Copy, Debug, Default)]
pub struct Shares {
    /// By the gauge; `None` where nothing is turned away.
    pub conformity: Option<Conformity>,
    /// Share of the delivered parts that is not built in: 0 without inspection.
    pub turned_away: f64,
}

/// What it comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Choice {
    /// The acceptance as stated.
    Stated,
    /// An acceptance of this size, in the unit of the search; of the widest, with three digits on the tight side.
    Size(f64),
    /// No inspection is needed, or none pays.
    NoInspection,
    /// No inspection suffices, or nothing can be told.
    Nothing,
}

impl Search {
    /// Whether the units do not tell a size from the one that was found.
    pub fn is_alike(&self, size: f64) -> bool {
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

    /// Acceptances that would have been tried, but that the study cannot have.
    pub fn refused(&self) -> &[Refusal] {
        match self {
            Search::Widest(Widest { found, .. }) => &found.refused,
            Search::Cheapest(Some(cheapest)) => &cheapest.refused,
            Search::Stated | Search::Cheapest(None) => &[],
        }
    }

    /// The limit that is told about.
    pub fn choice(&self) -> Choice {
        match self {
            Search::Stated => Choice::Stated,
            Search::Widest(Widest { found, .. }) => match found.answer {
                Answer::Limit(limit) => limit.meets.map_or(Choice::Nothing, |meets| {
                    // What is tighter meets it too, but for what lies beyond the tightest that counts.
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

/// What is told of one setting.
#[derive(Clone, Debug)]
pub struct Told {
    /// Whose parts, and which gauge.
    pub setting: Setting,
    /// The limit, and how it was come by.
    pub search: Search,
    /// What is done to the parts there; `None` where there is no limit to tell about.
    pub parts: Option<Parts>,
    /// What that makes of the units; `None` without limits, and where a stop came before.
    pub units: Option<Units>,
}

impl Told {
    /// The units as they would be built: from the parts that are taken, or from all of them where no inspection is needed.
    pub fn made(&self) -> Option<&Made> {
        let units = self.units.as_ref()?;
        match self.search.choice() {
            Choice::Nothing => None,
            Choice::NoInspection => Some(&units.without),
            Choice::Stated | Choice::Size(_) => Some(units.with.as_ref().unwrap_or(&units.without)),
        }
    }
}
